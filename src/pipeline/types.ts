import type { Pass, SetAside } from "../gait/types.ts";
import type { PoleStory } from "../ground/knocks.ts";
import type { CameraReport, FrameRegistration, GroundFit, PoleMarks } from "../ground/types.ts";
import type { ClipFacts } from "../video/types.ts";

export interface AnalysisRequest {
  file: Blob;
  fileName: string;
  marks: PoleMarks;
  /** Only follow the camera and watch the poles, for a clip whose landings a person marks. */
  cameraOnly?: boolean | undefined;
  /** Only this stretch of the clip, seconds. */
  fromS?: number | undefined;
  toS?: number | undefined;
  /** Keep what the network says under this name, and go on from what is kept under it. */
  logAs?: string | undefined;
}

/** Backend of an analysis in name only: its landings are all marked by hand. */
export const BY_HAND = "by hand";

export interface AnalysisProgress {
  stage: "opening" | "camera" | "paws" | "landings";
  /** 0 to 1 over the whole analysis. */
  done: number;
  framesDone: number;
  framesTotal: number;
  /** Looks answered from what an analysis that was broken off had kept. */
  looksTakenUp?: number | undefined;
}

/** Where the dog was seen in one frame, pixels of the upright picture. */
export interface SeenDog {
  timeS: number;
  box: { x: number; y: number; width: number; height: number };
}

/** What was found in one clip: plain data, stored as it is. */
export interface ClipAnalysis {
  version: 1;
  clip: ClipFacts;
  marks: PoleMarks;
  ground: GroundFit;
  camera: CameraReport;
  /** One entry a frame looked at; empty for a still camera. */
  registrations: FrameRegistration[];
  passes: Pass[];
  setAside: SetAside[];
  /** Absent in analyses made before it was kept, and in clips marked by hand. */
  dogs?: SeenDog[] | undefined;
  /** Poles that moved, by pass id. */
  knocks: Record<string, number[]>;
  /** When each of them moved and how far, and the row that each pass faced. Absent in older analyses. */
  poles?: PoleStory | undefined;
  /** Sentences worth showing: what went wrong, what to do. */
  warnings: string[];
  /** Backend the network ran on. */
  backend: string;
  secondsTaken: number;
}
