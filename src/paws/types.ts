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

/** How the patch about a paw's mark is cut that the pad network is shown. */
export interface PadPatch {
  /** Side of the square patch, pixels. */
  sidePx: number;
  /** Side of the part of the frame that it shows, over the height of the dog's box. */
  share: number;
}

/** Where the pad network sees a pad touch the ground, in pixels of its patch. */
export interface PadPlace {
  x: number;
  y: number;
  /** How well each is known, by what the network says itself, pixels. */
  sdX: number;
  sdY: number;
  /** 0 to 1: how much of what it says of a paw is near this place. */
  sure: number;
  /** 0 to 1: that the patch shows a paw at all. */
  paw: number;
}

export interface PawNetwork {
  /** Width of the crop it wants, pixels. */
  readonly inputPx: number;
  /** Its height: the same for a square. */
  readonly inputHeightPx: number;
  readonly backend: string;
  /** rgb: interleaved bytes, inputPx × inputHeightPx × 3. */
  look(rgb: Uint8Array): Promise<PawSighting>;
  /** How patches about paw marks are cut; absent, as `pads` is, where no pad network came with this one. */
  readonly patch?: PadPatch | undefined;
  /** patches: interleaved bytes of any number of patches, one after another; answered in their order. */
  pads?(patches: Uint8Array): Promise<PadPlace[]>;
  dispose(): void;
}
