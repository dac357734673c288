/** The daylight colours of the app, as they are where no style sheet reaches: on a canvas, in a file. */
export const DAYLIGHT = {
  paper: "#f6f1e6",
  sheet: "#fffdf7",
  sunk: "#ece5d5",
  ink: "#13211c",
  inkSoft: "#46564e",
  line: "#d6cdb9",
  edge: "#8b8a7a",
  go: "#123f34",
  goSoft: "#dcebe3",
  left: "#1756b0",
  right: "#b8410a",
  stripe: "#f0682a",
} as const;

/**
 * The app's colour tokens, each with its daylight value behind it, so that a drawing looks right in the app (also at
 * night), in a printed report and alone in a file.
 */
export const COLOUR = {
  paper: `var(--paper, ${DAYLIGHT.paper})`,
  sheet: `var(--sheet, ${DAYLIGHT.sheet})`,
  sunk: `var(--sunk, ${DAYLIGHT.sunk})`,
  ink: `var(--ink, ${DAYLIGHT.ink})`,
  inkSoft: `var(--ink-soft, ${DAYLIGHT.inkSoft})`,
  line: `var(--line, ${DAYLIGHT.line})`,
  edge: `var(--edge, ${DAYLIGHT.edge})`,
  go: `var(--go, ${DAYLIGHT.go})`,
  goSoft: `var(--go-soft, ${DAYLIGHT.goSoft})`,
  left: `var(--left, ${DAYLIGHT.left})`,
  right: `var(--right, ${DAYLIGHT.right})`,
  stripe: `var(--stripe, ${DAYLIGHT.stripe})`,
} as const;
