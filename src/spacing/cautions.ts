/** What every screen and report that gives a number must also say. Common practice, no source, unless named. */
export const generalCautions: readonly string[] = [
  "This is a measurement, not a diagnosis and not a prescription. A veterinarian examines the dog first; after surgery or with a neurologic problem the veterinarian decides if, when and how.",
  "Stop or make it easier when knocks follow one another, the legs lift less, or the dog slows, drags its toes, hops, pants hard, trembles, knuckles, bobs its head or refuses.",
  "Call the veterinarian about a limp that lasts into the next day, a leg that suddenly takes no weight, or a collapse.",
  "Level ground that doesn't slip. Poles that fall away and can't roll under a paw. Never a jump.",
  "Cool hours. A short lead for beginners. An adult in charge. End while the dog is still fresh.",
  // Single steps: Stenum J et al. PLoS Comput Biol 2021;17:e1008935. Lameness: Marrero I et al. Animals 2026;16:624.
  "A phone sees single steps to some centimetres. Five passes do not show a mild lameness.",
];

export type CautionId = "surgery" | "neurologic" | "growing" | "heart" | "heat";

export interface Caution {
  id: CautionId;
  sentence: string;
  /** True: no spacing before a veterinarian has cleared the dog. */
  needsClearance: boolean;
}

/** What a dog's history asks for before it meets poles. No week numbers: those are the veterinarian's. */
export const cautions: Record<CautionId, Caution> = {
  surgery: {
    id: "surgery",
    sentence:
      "After recent surgery or injury the surgeon's plan comes first: poles only once the veterinarian says so.",
    needsClearance: true,
  },
  neurologic: {
    id: "neurologic",
    sentence:
      "With a neurologic problem the veterinarian decides if, when and how; begin with one pole at a time.",
    needsClearance: true,
  },
  growing: {
    id: "growing",
    sentence:
      "While growth plates may be open, no raised or repeated poles without the veterinarian's advice.",
    needsClearance: true,
  },
  heart: {
    id: "heart",
    sentence:
      "With heart or breathing trouble ask the veterinarian how much is allowed; stop at the first cough or heavy panting.",
    needsClearance: true,
  },
  heat: {
    id: "heat",
    sentence: "Short nose, heavy or thick coat: cool hours only, few passes, water and shade at hand.",
    needsClearance: false,
  },
};

/** The cautions that hold a dog back until a veterinarian has cleared it. */
export function gatesOf(ids: readonly CautionId[]): Caution[] {
  return ids.map((id) => cautions[id]).filter((caution) => caution.needsClearance);
}
