/**
 * The app's colour tokens, each with the daylight value behind it, so that a drawing looks right in the app (also
 * at night), in a printed report and alone in a file.
 */
export const COLOUR = {
  paper: "var(--paper, #f6f1e6)",
  sheet: "var(--sheet, #fffdf7)",
  sunk: "var(--sunk, #ece5d5)",
  ink: "var(--ink, #13211c)",
  inkSoft: "var(--ink-soft, #46564e)",
  line: "var(--line, #d6cdb9)",
  edge: "var(--edge, #8b8a7a)",
  go: "var(--go, #123f34)",
  goSoft: "var(--go-soft, #dcebe3)",
  left: "var(--left, #1756b0)",
  right: "var(--right, #b8410a)",
  stripe: "var(--stripe, #f0682a)",
} as const;
