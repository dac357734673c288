import { strToU8, zipSync } from "fflate";

/** The report as a text file; with a picture, both in a zip. */
export async function problemFile(text: string, picture: HTMLCanvasElement | null): Promise<File> {
  if (!picture) return new File([text], "pawgap-problem.txt", { type: "text/plain" });
  const blob = await new Promise<Blob | null>((done) => picture.toBlob(done, "image/jpeg", 0.85));
  const zip = zipSync({
    "problem.txt": strToU8(text),
    ...(blob ? { "picture.jpg": new Uint8Array(await blob.arrayBuffer()) } : {}),
  });
  return new File([zip.slice()], "pawgap-problem.zip", { type: "application/zip" });
}
