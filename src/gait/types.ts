/** L/R = the dog's own left and right, H/F = hind and fore. */
export type Paw = "LH" | "RH" | "LF" | "RF";

export type Gait = "walk" | "amble" | "pace" | "trot" | "canter" | "standing" | "unclear";

/** One paw-like thing seen in one frame, already mapped to the ground. */
export interface PawCandidate {
  /** Index into the frame times. */
  frame: number;
  timeS: number;
  xM: number;
  yM: number;
  /** 0 to 1: how sure the witness is that a paw is here. */
  score: number;
  /** 0 to 1: how likely this is a hind paw rather than a fore paw; 0.5 = no idea. */
  hind: number;
  /** 0 to 1: how likely the paw touches the ground in this frame; 0.5 = no idea. */
  contact: number;
  source: "network" | "motion";
  /** Standard error of xM in this frame from mapping alone, metres, were it as far away as yM says. */
  xSeM: number;
  /** Standard error of yM, metres; a few centimetres unless given. */
  ySeM?: number | undefined;
  /**
   * Metres that xM moves when the mark slides up or down the picture so far that yM grows by a metre; 0 where the
   * camera looks square at it.
   */
  xPerY?: number | undefined;
  /** How far ahead of the middle of the pad, in the direction of travel, this place lies, metres; 0 unless given. */
  aheadM?: number | undefined;
}

/** Where the dog's body is in one frame, as ground x under its middle, and how long it looks. */
export interface BodyTrack {
  frame: number;
  timeS: number;
  xM: number;
  /** Extent of the dog along the row, metres. */
  lengthM: number;
  /** 0 to 1. */
  score: number;
}

export type LandingSource = "automatic" | "hand";

/** One paw held still on the ground. */
export interface Landing {
  /** Unique within an analysis and stable under editing. */
  id: string;
  paw: Paw;
  /** Touch-down and lift-off, seconds of the clip. */
  onS: number;
  offS: number;
  /** Place on the ground, metres (see GroundPoint). */
  xM: number;
  yM: number;
  /** Standard error of xM, metres. */
  xSeM: number;
  /** 0 to 1: that this landing happened and carries the right paw. Under 0.6 is shown as doubtful. */
  probability: number;
  source: LandingSource;
}

/** One crossing of the row (or of bare ground) in one direction. */
export interface Pass {
  id: string;
  startS: number;
  endS: number;
  /** +1: towards growing x. */
  direction: 1 | -1;
  /** In time order of touch-down. */
  landings: Landing[];
  /** Mean speed of the body along the row, m/s. */
  speedMps: number;
  /** Change of speed within the pass, m/s². */
  accelerationMps2: number;
  gait: Gait;
  strideTimeS: number | null;
  /** Fore touch-down after same-side hind touch-down, share of the stride; null when not measured. */
  limbPhase: number | null;
  /** Hind stance time over stride time; null when not measured. */
  dutyFactor: number | null;
}

/** A stretch of the clip that is no pass, and why, in a sentence. */
export interface SetAside {
  startS: number;
  endS: number;
  reason: string;
}
