import { csvFormatRow } from "d3";
import { PAW_LOOKS } from "../charts/marks.ts";
import type { ResultFile } from "./result.ts";

type Row = ResultFile["passes"][number]["landings"][number];
type Cell = string | number | null;

/** Name of the column, with its unit, and the cell for one landing. */
const COLUMNS: [string, (context: { file: ResultFile; passNumber: number; landing: Row }) => Cell][] = [
  ["clip", ({ file }) => file.clip.fileName],
  ["pass", ({ passNumber }) => passNumber],
  [
    "direction",
    ({ file, passNumber }) => (file.passes[passNumber - 1]?.direction === -1 ? "backward" : "onward"),
  ],
  ["pass_counts", ({ file, passNumber }) => (file.passes[passNumber - 1]?.used ? "yes" : "no")],
  ["landing", ({ landing }) => landing.id],
  ["paw", ({ landing }) => landing.paw],
  ["paw_name", ({ landing }) => PAW_LOOKS[landing.paw].name],
  ["touch_down_s", ({ landing }) => fixed(landing.onS, 4)],
  ["lift_off_s", ({ landing }) => fixed(landing.offS, 4)],
  ["x_m", ({ landing }) => fixed(landing.xM, 4)],
  ["y_m", ({ landing }) => fixed(landing.yM, 4)],
  ["x_standard_error_m", ({ landing }) => fixed(landing.xSeM, 4)],
  ["place", ({ landing }) => landing.place],
  ["gap_number", ({ landing }) => (landing.gap === null ? null : landing.gap + 1)],
  ["offset_cm", ({ landing }) => fixed(landing.offsetM === null ? null : landing.offsetM * 100, 2)],
  ["gap_percent", ({ landing }) => fixed(landing.gapFraction === null ? null : landing.gapFraction * 100, 2)],
  ["probability", ({ landing }) => fixed(landing.probability, 3)],
  ["source", ({ landing }) => landing.source],
];

/**
 * All landings of one or several clips as CSV (RFC 4180: CRLF, UTF-8, one header line with the units). Gaps are
 * counted from 1 here. Text that a spreadsheet would take for a formula gets an apostrophe in front.
 */
export function toLandingsCsv(results: ResultFile | readonly ResultFile[]): string {
  const files = Array.isArray(results) ? (results as readonly ResultFile[]) : [results as ResultFile];
  const rows = files.flatMap((file) =>
    file.passes.flatMap((pass, i) =>
      pass.landings.map((landing) =>
        COLUMNS.map(([, cell]) => cellText(cell({ file, passNumber: i + 1, landing }))),
      ),
    ),
  );
  return [COLUMNS.map(([name]) => name), ...rows].map((row) => `${csvFormatRow(row)}\r\n`).join("");
}

function cellText(cell: Cell): string {
  if (cell === null) return "";
  if (typeof cell === "number") return String(cell);
  return /^[=+\-@\t\r\n]/.test(cell) ? `'${cell}` : cell;
}

function fixed(value: number | null, digits: number): number | null {
  return value === null ? null : Number(value.toFixed(digits));
}
