/** What no film from the side can tell. */
export const BEYOND_A_PHONE = [
  "A single step is known to some centimetres only: the film is sharp to so many pixels, and the paw moves between two frames.",
  "The picture shows where feet land, not how hard: load, pain and strength are not in it.",
  "A handful of passes does not show a mild lameness. A difference between left and right smaller than the one named above cannot be told from chance.",
  "Steady landings can hide a stretch: poles draw a dog's step towards their spacing. Where there is an approach without poles, the report compares the two.",
];
