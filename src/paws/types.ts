/** One peak of the paw maps, in pixels of the crop given to the network. */
export interface PawPeak {
  x: number;
  y: number;
  /** 0 to 1. */
  score: number;
  /** 0 to 1: hind rather than fore. */
  hind: number;
  /** 0 to 1: touches the ground; 0.5 when the network does not say. */
  contact: number;
  /** 0 to 1: on the side of the dog away from the camera. A hint only: link peaks over time to be sure. */
  far?: number;
}

export type JointName =
  | "nose"
  | "leftEye"
  | "rightEye"
  | "withers"
  | "tailBase"
  | "leftShoulder"
  | "rightShoulder"
  | "leftElbow"
  | "rightElbow"
  | "leftForePaw"
  | "rightForePaw"
  | "leftHip"
  | "rightHip"
  | "leftStifle"
  | "rightStifle"
  | "leftHindPaw"
  | "rightHindPaw";

/** A joint of the skeleton, in pixels of the crop. */
export interface Joint {
  name: JointName;
  x: number;
  y: number;
  score: number;
}

/** A rectangle in pixels. */
export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** What the network saw in one crop. */
export interface PawSighting {
  peaks: PawPeak[];
  joints: Joint[];
  /** 0 to 1: that there is a dog in the crop at all. */
  dogScore: number;
  /** Box of the dog from the mask, crop pixels; null without a dog. */
  dogBox: Box | null;
  /** Boxes of everything that looks like a dog, best first, crop pixels. */
  dogBoxes?: (Box & { score: number })[];
}

export interface PawNetwork {
  /** Width of the crop it wants, pixels. */
  readonly inputPx: number;
  /** Its height: the same for a square. */
  readonly inputHeightPx: number;
  readonly backend: string;
  /** rgb: interleaved bytes, inputPx × inputHeightPx × 3. */
  look(rgb: Uint8Array): Promise<PawSighting>;
  dispose(): void;
}
