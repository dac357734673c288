import { inflateSync } from "node:zlib";

export interface Rectangle {
  /** Points: 1/72 inch. */
  width: number;
  height: number;
}

/** Upright rectangles filled or clipped by a PDF's pages, in points of the paper. Knows what Chromium writes. */
export function rectanglesOf(pdf: Buffer): Rectangle[] {
  return streamsOf(pdf).flatMap(rectanglesIn);
}

function streamsOf(pdf: Buffer): string[] {
  const text = pdf.toString("latin1");
  return [...text.matchAll(/\/FlateDecode[^>]*>>\s*stream\r?\n/g)].flatMap((match) => {
    const from = match.index + match[0].length;
    const bytes = pdf.subarray(from, text.indexOf("endstream", from));
    try {
      return [inflateSync(bytes).toString("latin1")];
    } catch {
      return [];
    }
  });
}

type Scale = { x: number; y: number };

/** The page's own scale is followed through q, Q and cm; turned content is not measured. */
function rectanglesIn(content: string): Rectangle[] {
  const found: Rectangle[] = [];
  const kept: Scale[] = [];
  let scale: Scale = { x: 1, y: 1 };
  let numbers: number[] = [];
  for (const token of content.split(/\s+/)) {
    const value = Number(token);
    if (token !== "" && Number.isFinite(value)) {
      numbers.push(value);
      continue;
    }
    const last = (back: number) => numbers[numbers.length - back] ?? 0;
    if (token === "q") kept.push(scale);
    else if (token === "Q") scale = kept.pop() ?? scale;
    else if (token === "cm") scale = { x: scale.x * last(6), y: scale.y * last(3) };
    else if (token === "re")
      found.push({ width: Math.abs(last(2) * scale.x), height: Math.abs(last(1) * scale.y) });
    numbers = [];
  }
  return found;
}
