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

/** Said in every report, whatever else is shown. */
export const NO_DIAGNOSIS =
  "This is not a diagnosis and not a prescription. A veterinarian examines the dog first, and decides after surgery or with a neurologic problem if, when and how poles are used.";

/** Shown where no caution of its own was given for the dog at hand. */
export const STOP_SIGNS =
  "Stop or make it easier when knocks follow one another, the legs lift less, or the dog slows, drags its toes, hops, pants hard, trembles, knuckles over, bobs its head or refuses.";

export const BEYOND_A_PHONE = [
  "A single step is known to some centimetres only: the film is sharp to so many pixels, and the paw moves between two frames.",
  "The picture shows where feet land, not how hard: load, pain and strength are not in it.",
  "A handful of passes does not show a mild lameness. A difference between left and right smaller than the one named above cannot be told from chance.",
  "Steady landings can hide a stretch: poles draw a dog's step towards their spacing. Where there is an approach without poles, the report compares the two.",
];

export const STEP_AND_STRIDE =
  "Step: from one hind foot to the next, left and right taking turns; this is what the pole spacing has to match. Stride: from one foot to the same foot again, two steps.";
