import type { PoleMarks } from "../ground/types.ts";
import type { Layout, PoleGait } from "../spacing/types.ts";
import type { ClipRecord, CopyProgress, Dog, Keeper, Session } from "../store/types.ts";

interface Adding {
  file: File;
  /** Goes to this session; without one a session is made. */
  sessionId?: string | undefined;
  /** The dog of a new session. */
  dogId?: string | undefined;
  marks?: PoleMarks | undefined;
  gait?: PoleGait | undefined;
  /** Name for a session without a dog of the kennel. */
  dogName?: string | undefined;
  example?: boolean | undefined;
}

/** A clip that was added. `filmProblem` says why its film could not be kept, null when it was. */
export interface Added {
  clip: ClipRecord;
  filmProblem: string | null;
}

/**
 * Keeps a clip, and a session for it unless it goes to one that is there. When only the film can't be kept (no room)
 * the clip is added all the same: it can be worked on until the page closes.
 */
export async function addClip(
  keeper: Keeper,
  adding: Adding,
  onProgress?: (progress: CopyProgress) => void,
  signal?: AbortSignal,
): Promise<Added> {
  const { file, marks } = adding;
  const session = adding.sessionId
    ? await keeper.session(adding.sessionId)
    : await newSession(keeper, adding);
  if (!session)
    throw new Error("The session of this clip has been deleted. Start again from the first screen.");
  const clip = await keeper.putClip({
    sessionId: session.id,
    fileName: file.name || "Recorded clip",
    sizeBytes: file.size,
    mimeType: file.type.slice(0, 200),
    filmKept: false,
    marks: marks ?? null,
    range: null,
    analysis: null,
    editedPasses: null,
    passChoices: {},
    ...(adding.example ? { example: true } : {}),
  });
  let filmProblem: string | null = null;
  try {
    await keeper.putClipBlob(clip.id, file, onProgress, signal);
  } catch (error) {
    if (signal?.aborted) throw error;
    filmProblem = error instanceof Error ? error.message : String(error);
  }
  return { clip: (await keeper.clip(clip.id)) ?? clip, filmProblem };
}

async function newSession(keeper: Keeper, adding: Adding): Promise<Session> {
  const dog: Dog | undefined = adding.dogId ? await keeper.dog(adding.dogId) : undefined;
  return keeper.putSession({
    dogId: dog?.id ?? null,
    dogName: dog?.name ?? adding.dogName ?? "",
    date: Date.now(),
    layout: adding.marks ? layoutOf(adding.marks, null) : (dog?.plan?.layout ?? null),
    gait: adding.gait ?? dog?.plan?.gait ?? dog?.gait ?? "trot",
    aim: dog?.plan?.aim ?? dog?.aim ?? "first-poles",
    surface: null,
    handlerSide: null,
    notes: "",
    howDogFelt: null,
    knocksSeen: null,
    judgement: null,
    ...(adding.example ? { example: true } : {}),
  });
}

/** The row that the marks describe. Heights and targets of an earlier row stay where there is a pole for them. */
export function layoutOf(marks: PoleMarks, before: Layout | null): Layout | null {
  const gaps = marks.gapsM;
  if (gaps.length === 0 || gaps.some((gap) => !(gap > 0))) return null;
  return {
    gapsM: gaps,
    heightsM: [0, ...gaps].map((_, pole) => marks.poleHeightM ?? before?.heightsM[pole] ?? 0),
    targetFractions: gaps.map((_, gap) => before?.targetFractions[gap] ?? 0.5),
  };
}
