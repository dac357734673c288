import type { Gait } from "../gait/types.ts";
import type { PoleGait } from "../spacing/types.ts";
import type { HandlerSide, HowDogFelt, Surface } from "../store/types.ts";

export const GAIT_WORDS: Record<Gait | PoleGait, string> = {
  walk: "walk",
  amble: "amble",
  pace: "pace",
  trot: "trot",
  canter: "canter",
  standing: "standing",
  unclear: "unclear gait",
};

export const SURFACE_WORDS: Record<Surface, string> = {
  grass: "grass",
  rubber: "rubber mat",
  carpet: "carpet",
  sand: "sand",
  "hard-floor": "hard floor",
  other: "other ground",
};

export const HANDLER_WORDS: Record<HandlerSide, string> = {
  left: "on the dog's left",
  right: "on the dog's right",
  both: "on both sides",
  none: "no handler beside it",
};

export const FELT_WORDS: Record<HowDogFelt, string> = {
  fresh: "fresh",
  "as-usual": "as usual",
  tired: "tired",
  unwilling: "unwilling",
  sore: "sore",
};

export const STEP_AND_STRIDE =
  "Step: from one hind foot to the next, left and right taking turns; this is what the pole spacing has to match. Stride: from one foot to the same foot again, two steps.";
