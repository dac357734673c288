import truth from "../../../fixtures/clips/demo-fits.json?url";
import film from "../../../fixtures/clips/demo-fits.mp4?url";
import type { PoleMarks } from "../../ground/types.ts";
import type { PoleGait } from "../../spacing/types.ts";

export interface Demo {
  file: File;
  marks: PoleMarks;
  gait: PoleGait;
  dogName: string;
}

/** The demo clip with its poles already marked, from the server that the page came from. */
export async function fetchDemo(signal: AbortSignal): Promise<Demo> {
  const [clip, marked] = await Promise.all([fetch(film, { signal }), fetch(truth, { signal })]).catch(() => {
    throw new Error("The demo clip could not be fetched: check the connection, or pick a clip of your own.");
  });
  if (!clip.ok || !marked.ok) {
    throw new Error("The demo clip is not on this server. Pick a clip of your own.");
  }
  const { marks, gait, dog } = (await marked.json()) as { marks: PoleMarks; gait: PoleGait; dog: string };
  return {
    file: new File([await clip.blob()], "demo-fits.mp4", { type: "video/mp4" }),
    marks,
    gait,
    dogName: dog,
  };
}
