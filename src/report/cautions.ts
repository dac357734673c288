/** Said in every report, whatever else is shown. Common practice, no source. */
export const GENERAL_CAUTIONS = [
  "This is not a diagnosis and not a prescription. A veterinarian examines the dog first, and decides after surgery or with a neurologic problem if, when and how poles are used.",
  "Stop or make it easier when knocks follow one another, the legs lift less, or the dog slows, drags its toes, hops, pants hard, trembles, knuckles over, bobs its head or refuses.",
  "Call the veterinarian about a limp that lasts into the next day, a leg that suddenly takes no weight, or a collapse.",
  "Level ground that doesn't slip; poles that fall away and can't roll under a paw; never a jump; cool hours; a short lead for beginners; an adult in charge. Open growth plates: ask the veterinarian. End while the dog is fresh.",
];

/** What no film from the side can tell. */
export const BEYOND_A_PHONE = [
  "A single step is known to some centimetres only: the film is sharp to so many pixels, and the paw moves between two frames.",
  "The picture shows where feet land, not how hard: load, pain and strength are not in it.",
  "A handful of passes does not show a mild lameness. A difference between left and right smaller than the one named above cannot be told from chance.",
  "Steady landings can hide a stretch: poles draw a dog's step towards their spacing. Where there is an approach without poles, the report compares the two.",
];
