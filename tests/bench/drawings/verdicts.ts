import { scaleLinear } from "d3";
import type { CalibrationBin, Cell } from "../verdicts.ts";

const INK = "#1d2a30";
const RIGHT = "#2f7d6b";
const SILENT = "#d8d2c4";
const WRONG = "#b4472f";

/** Bars of right, silent and wrong for every cell: one panel a scatter and pole count, rows error, columns passes. */
export function confusionSvg(cells: readonly Cell[]): string {
  const of = <T>(key: (c: Cell) => T) => [...new Set(cells.map(key))];
  const [scatters, poles, passes, errors] = [
    of((c) => c.scatter),
    of((c) => c.poles),
    of((c) => c.passes),
    of((c) => c.error),
  ];
  const bar = 70;
  const high = 14;
  const wide = 60 + passes.length * (bar + 6);
  const tall = 50 + errors.length * (high + 4);
  const width = scaleLinear([0, 1], [0, bar]);
  const panels = scatters.flatMap((scatter, s) =>
    poles.map((pole, q) => {
      const inside = cells
        .filter((c) => c.scatter === scatter && c.poles === pole)
        .map((c) => {
          const x = 50 + passes.indexOf(c.passes) * (bar + 6);
          const y = 40 + errors.indexOf(c.error) * (high + 4);
          const right = width(c.right / c.sessions);
          const silent = width(c.cannotTell / c.sessions);
          return `<rect x="${x}" y="${y}" width="${bar}" height="${high}" fill="${WRONG}"/><rect x="${x}" y="${y}" width="${right + silent}" height="${high}" fill="${SILENT}"/><rect x="${x}" y="${y}" width="${right}" height="${high}" fill="${RIGHT}"/>`;
        })
        .join("");
      const rows = errors
        .map(
          (e, i) =>
            `<text x="44" y="${51 + i * (high + 4)}" text-anchor="end">${(100 * e).toFixed(0)} %</text>`,
        )
        .join("");
      const columns = passes
        .map((p, i) => `<text x="${50 + i * (bar + 6)}" y="34">${p} pass${p > 1 ? "es" : ""}</text>`)
        .join("");
      return `<g transform="translate(${q * wide},${s * tall})"><text x="4" y="16" font-weight="600">scatter ${100 * scatter} %, ${pole} poles</text>${columns}${rows}${inside}</g>`;
    }),
  );
  return page(
    wide * poles.length,
    tall * scatters.length + 24,
    `${panels.join("")}<text x="4" y="${tall * scatters.length + 14}">dark: right; pale: can't tell; red: wrong</text>`,
  );
}

/** Share of right verdicts against the confidence they were given; the dotted line is perfect. */
export function calibrationSvg(bins: readonly CalibrationBin[]): string {
  const x = scaleLinear([0, 1], [40, 340]);
  const y = scaleLinear([0, 1], [340, 40]);
  const dots = bins
    .filter((b) => b.sessions > 0)
    .map(
      (b) =>
        `<circle cx="${x(b.confidence)}" cy="${y(b.right / b.sessions)}" r="5" fill="${RIGHT}"/><text x="${x(b.confidence) + 8}" y="${y(b.right / b.sessions) + 14}">${b.sessions}</text>`,
    )
    .join("");
  const ticks = [0, 0.5, 1]
    .map(
      (t) =>
        `<text x="${x(t)}" y="358" text-anchor="middle">${t}</text><text x="32" y="${y(t) + 4}" text-anchor="end">${t}</text>`,
    )
    .join("");
  return page(
    420,
    384,
    `<rect x="40" y="40" width="300" height="300" fill="none" stroke="${INK}"/><path d="M40 340L340 40" stroke="${INK}" stroke-dasharray="2 4"/>${dots}${ticks}<text x="190" y="378" text-anchor="middle">confidence of the verdict</text><text x="40" y="26">share that was right (numbers: sessions)</text>`,
  );
}

function page(width: number, height: number, inside: string): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" font-family="sans-serif" font-size="11" fill="${INK}"><rect width="100%" height="100%" fill="#fff"/>${inside}</svg>\n`;
}
