import type { Truth } from "../../../fixtures/studio/truth.ts";
import { openKeeper } from "../../../src/store/open.ts";
import { openClip } from "../../../src/video/open.ts";
import { trueAnalysis, trueLayout } from "./truth-passes.ts";

/** Keeps a dog, a session and a fixture clip with its film on this device, as if measured before. */
async function seed(clipUrl: string, truth: Truth, clips = 1): Promise<string[]> {
  const film = await (await fetch(clipUrl)).blob();
  const reader = await openClip(film, { fileName: truth.file });
  const keeper = await openKeeper();
  await keeper.putSettings({ practitioner: "A. Lindqvist", practice: "Millbrook Dog Gym" });
  const dog = await keeper.putDog({
    name: "Juniper",
    letters: "J",
    photo: null,
    measures: {
      shoulderM: 0.44,
      withersM: 0.48,
      bodyLengthM: 0.7,
      elbowM: null,
      carpusM: null,
      hockM: null,
    },
    gait: truth.gait,
    aim: "first-poles",
    shortLegged: false,
    cautions: ["growing"],
    clearance: null,
    notes: "",
    plan: null,
  });
  const session = await keeper.putSession({
    dogId: dog.id,
    dogName: dog.name,
    date: Date.UTC(2026, 2, 14, 10),
    layout: trueLayout(truth),
    gait: truth.gait,
    aim: "first-poles",
    surface: "grass",
    handlerSide: "left",
    notes: "Cool morning.",
    howDogFelt: "fresh",
    knocksSeen: null,
    judgement: null,
  });
  const ids: string[] = [];
  for (let i = 0; i < clips; i++) {
    const clip = await keeper.putClip({
      sessionId: session.id,
      fileName: truth.file,
      sizeBytes: film.size,
      mimeType: "video/mp4",
      filmKept: false,
      marks: truth.marks,
      range: null,
      analysis: trueAnalysis(truth, reader.facts),
      editedPasses: null,
      passChoices: {},
    });
    await keeper.putClipBlob(clip.id, film);
    ids.push(clip.id);
  }
  reader.close();
  keeper.close();
  return ids;
}

async function forgetFilm(clipId: string): Promise<void> {
  const keeper = await openKeeper();
  await keeper.deleteClipBlob(clipId);
  keeper.close();
}

const seeds = { seed, forgetFilm };
export type Seeds = typeof seeds;

Object.assign(globalThis, { seeds });
