import type { Pass } from "../gait/types.ts";
import type { PoleMarks } from "../ground/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import type { AimId, Judgement, Layout, PassDecision, PoleGait } from "../spacing/types.ts";

/** How lengths are shown and typed; everything kept is in metres. */
export type Units = "cm" | "in";

/** What every kept record carries. */
export interface Kept {
  /** Unique on every device: a random UUID. */
  id: string;
  /** When it was last changed, milliseconds since 1970. The newer of two records with one id wins a merge. */
  changedAt: number;
  /** When it was first kept, milliseconds since 1970. */
  addedAt: number;
  /** Belongs to the invented example kennel. */
  example?: boolean | undefined;
}

/** Where the tape went on a squarely standing dog, metres; null = not measured. */
export interface DogMeasures {
  /** Floor to point of shoulder. */
  shoulderM: number | null;
  /** Floor to withers. */
  withersM: number | null;
  /** Nose to tail base. */
  bodyLengthM: number | null;
  /** Floor to elbow. */
  elbowM: number | null;
  /** Floor to carpus. */
  carpusM: number | null;
  /** Floor to point of hock. */
  hockM: number | null;
}

export type CautionId = "surgery" | "neurologic" | "growing" | "heart" | "heat";

/** A veterinarian has cleared the dog for pole work. */
export interface Clearance {
  /** The veterinarian's name, as typed. */
  who: string;
  /** Day of the clearance, "2026-03-14". */
  day: string;
}

/** The row that the dog is to meet next. */
export interface Plan {
  layout: Layout;
  gait: PoleGait;
  aim: AimId;
  /** Why this row, one sentence each. */
  reasons: string[];
  /** Milliseconds since 1970. */
  decidedAt: number;
  /** The session whose verdict led here; null for a start from body measures or a row set by hand. */
  fromSessionId: string | null;
}

export interface Dog extends Kept {
  name: string;
  /** One to three letters for the cord; upper case. */
  letters: string;
  /** A small picture as a data URL (JPEG, PNG or WebP); null without one. */
  photo: string | null;
  measures: DogMeasures;
  /** The gait it takes through poles. */
  gait: PoleGait;
  aim: AimId;
  /** Short legs, long body. */
  shortLegged: boolean;
  cautions: CautionId[];
  clearance: Clearance | null;
  notes: string;
  plan: Plan | null;
}

export type Surface = "grass" | "rubber" | "carpet" | "sand" | "hard-floor" | "other";

/** The side of the dog on which the handler walks. */
export type HandlerSide = "left" | "right" | "both" | "none";

export type HowDogFelt = "fresh" | "as-usual" | "tired" | "unwilling" | "sore";

/** One dog on one day over one row, or over bare ground. */
export interface Session extends Kept {
  /** null: not (yet) said which dog; the work is kept all the same. */
  dogId: string | null;
  /** The dog's name when the session was made, so that it can still be read when the dog has been removed. */
  dogName: string;
  /** Start of the session, milliseconds since 1970. */
  date: number;
  /** The row that was on the ground; null = bare ground between two marks, no poles. */
  layout: Layout | null;
  /** The clips show bare ground between marks, whatever `layout` says of the marks: no verdict, but a natural step. */
  bareGround?: boolean | undefined;
  gait: PoleGait;
  aim: AimId;
  surface: Surface | null;
  handlerSide: HandlerSide | null;
  notes: string;
  howDogFelt: HowDogFelt | null;
  /** Knocks counted by eye over the whole session; null = not counted. */
  knocksSeen: number | null;
  /** The last judgement over all clips of the session, as it was shown; null before the first. */
  judgement: Judgement | null;
}

/** One film of a session. The film itself lies beside it: see Keeper.clipBlob. */
export interface ClipRecord extends Kept {
  sessionId: string;
  fileName: string;
  sizeBytes: number;
  /** MIME type as the device gave it; may be empty. */
  mimeType: string;
  /** True where the film itself is kept on this device. */
  filmKept: boolean;
  marks: PoleMarks | null;
  /** The stretch to look at, seconds; null = all of it. */
  range: [number, number] | null;
  analysis: ClipAnalysis | null;
  /** The passes after hand edits; null while nothing was edited. Replaces analysis.passes wherever passes are read. */
  editedPasses: Pass[] | null;
  /** What the practitioner decided, by pass id. A pass that is not named here counts as the program decides. */
  passChoices: Record<string, PassDecision>;
}

/** Settings are one record. */
export interface Settings {
  units: Units;
  practitioner: string;
  practice: string;
  /** A small picture as a data URL; null without one. */
  logo: string | null;
  /** Keep films on the device after their analysis. */
  keepFilms: boolean;
  /** When the last backup was made, milliseconds since 1970; null = never. */
  lastBackupAt: number | null;
  changedAt: number;
}

/** What stays of a record that was deleted, so that a merge does not bring it back: nothing of what it held. */
export interface Gone {
  id: string;
  kind: "dog" | "session" | "clip";
  /** When it was deleted, milliseconds since 1970. */
  at: number;
}

/** What is on the device. */
export interface StorageReport {
  /** Bytes used by this site, and bytes it may use, as the browser estimates them; null where it will not say. */
  usedBytes: number | null;
  quotaBytes: number | null;
  /** Bytes of kept films. */
  filmBytes: number;
  films: number;
  /** The browser has promised not to clear this site's data by itself. */
  persistent: boolean;
}

export interface CopyProgress {
  bytesDone: number;
  bytesTotal: number;
}

export interface RestoreReport {
  dogsAdded: number;
  dogsUpdated: number;
  sessionsAdded: number;
  sessionsUpdated: number;
  clipsAdded: number;
  clipsUpdated: number;
  filmsRestored: number;
  /** What was kept apart, left alone or is worth knowing, a sentence each. */
  notes: string[];
}

/**
 * "merge": what is here stays; what the backup has besides is added, but for what was deleted here since; of two
 * versions of one record the newer wins.
 * "replace": the backup takes the place of everything here, in one step: all of it or nothing.
 */
export type RestoreMode = "merge" | "replace";

export type KeeperProblem =
  | "no-storage"
  | "full"
  | "blocked"
  | "newer-database"
  | "not-a-backup"
  | "damaged-backup"
  | "newer-backup"
  | "too-large"
  | "cancelled"
  | "film-gone"
  | "failed";

/** A sentence for the person, saying what went wrong and what to do. Nothing kept before is lost by it. */
export class KeeperError extends Error {
  override name = "KeeperError";
  constructor(
    readonly kind: KeeperProblem,
    message: string,
    options?: ErrorOptions,
  ) {
    super(message, options);
  }
}

/** A record before it is kept: the keeper gives the id (unless there is one) and the times. */
export type Draft<T extends Kept> = Omit<T, keyof Stamps> & Partial<Stamps>;

type Stamps = Pick<Kept, "id" | "changedAt" | "addedAt">;

export interface KennelRecords {
  dogs: Dog[];
  sessions: Session[];
  clips: ClipRecord[];
}

/** Fields to change in a record. */
export type Change<T extends Kept> = Partial<Omit<T, keyof Stamps>>;

/**
 * The dogs, sessions and clips on this device. Every method may reject with a KeeperError, whose message can be
 * shown as it is.
 */
export interface Keeper {
  /** False where the browser keeps nothing after the page closes (private window, blocked storage): say so. */
  readonly lasting: boolean;

  /** All dogs by name. */
  dogs(): Promise<Dog[]>;
  dog(id: string): Promise<Dog | undefined>;
  putDog(dog: Draft<Dog>): Promise<Dog>;
  /** Changes the named fields and leaves the others as they are by now; undefined when there is no such dog. */
  changeDog(id: string, change: Change<Dog>): Promise<Dog | undefined>;
  /** Sessions stay, without a dog but with its name, unless `withSessions`. */
  deleteDog(id: string, withSessions?: boolean): Promise<void>;

  /** Newest first; of one dog, or of all. */
  sessions(dogId?: string): Promise<Session[]>;
  session(id: string): Promise<Session | undefined>;
  putSession(session: Draft<Session>): Promise<Session>;
  changeSession(id: string, change: Change<Session>): Promise<Session | undefined>;
  /** With its clips and their films. */
  deleteSession(id: string): Promise<void>;

  /** In the order in which they were added. */
  clips(sessionId: string): Promise<ClipRecord[]>;
  clip(id: string): Promise<ClipRecord | undefined>;
  putClip(clip: Draft<ClipRecord>): Promise<ClipRecord>;
  changeClip(id: string, change: Change<ClipRecord>): Promise<ClipRecord | undefined>;
  /** With its film. */
  deleteClip(id: string): Promise<void>;

  /** Keeps the film of a clip; a film already there is replaced. Sets filmKept, sizeBytes and mimeType. */
  putClipBlob(
    clipId: string,
    film: Blob,
    onProgress?: (progress: CopyProgress) => void,
    signal?: AbortSignal,
  ): Promise<void>;
  /** The kept film; null where none is kept (any more): filmKept is then put right. */
  getClipBlob(clipId: string): Promise<Blob | null>;
  /** Frees the film and keeps everything measured from it. */
  deleteClipBlob(clipId: string): Promise<void>;

  settings(): Promise<Settings>;
  putSettings(change: Partial<Settings>): Promise<Settings>;

  /**
   * Calls back with what `read` returns, at once and again whenever a record it read has changed, also in another
   * window. `read` must only read records (not films). Returns the function that ends it.
   */
  watch<T>(
    read: (keeper: Keeper) => Promise<T>,
    onValue: (value: T) => void,
    onError?: (error: Error) => void,
  ): () => void;

  storage(): Promise<StorageReport>;
  /** Asks the browser not to clear the data by itself; true when it agrees. */
  requestPersistence(): Promise<boolean>;

  /** Everything in one file (zip). Without films it stays small. */
  backup(options?: {
    films?: boolean | undefined;
    onProgress?: ((progress: CopyProgress) => void) | undefined;
    signal?: AbortSignal | undefined;
  }): Promise<Blob>;
  restore(
    file: Blob,
    mode: RestoreMode,
    options?: {
      onProgress?: ((progress: CopyProgress) => void) | undefined;
      signal?: AbortSignal | undefined;
    },
  ): Promise<RestoreReport>;

  /** Keeps many records as they are, ids and times included, all of them or none. */
  putMany(records: Partial<KennelRecords>): Promise<void>;
  /** Takes out every record marked as example, with its films. */
  removeExamples(): Promise<void>;
  deleteEverything(): Promise<void>;
  close(): void;
}

/** The passes of a clip that count as found or as edited. */
export function passesOf(clip: ClipRecord): Pass[] {
  return clip.editedPasses ?? clip.analysis?.passes ?? [];
}
