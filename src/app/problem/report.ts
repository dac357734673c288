import { PROGRAM } from "../../report/program.ts";
import type { ClipFacts } from "../../video/types.ts";
import { screenOf, trail } from "./trail.ts";

/** What is known of the clip at hand; its name and its pictures are left out. */
export interface ClipAtHand {
  facts?: ClipFacts | undefined;
  sizeBytes?: number | undefined;
  mimeType?: string | undefined;
  poles?: number | undefined;
  range?: [number, number] | null | undefined;
}

/** All that helps to find a fault, as text: no picture, no name, no note, no place. */
export async function problemText(sentence: string | null, clip: ClipAtHand = {}): Promise<string> {
  const { steps, lastError } = trail();
  const lines = [
    `${PROGRAM}, problem report`,
    `written ${new Date().toISOString()}`,
    `program ${import.meta.url.split("/").pop() ?? ""}`,
    sentence && `said: ${anonymous(sentence)}`,
    lastError && `error: ${lastError.name}: ${anonymous(lastError.message)}`,
    ...(lastError?.stack?.split("\n").slice(1, 9) ?? []).map((line) => `  ${line.trim()}`),
    `screen: ${screenOf(location.hash)}`,
    "before that:",
    ...steps.map(({ at, what }) => `  ${Math.round((at - Date.now()) / 1000)} s ${what}`),
    ...aboutClip(clip),
    ...(await aboutDevice()),
  ];
  return lines.filter((line) => line !== null).join("\n");
}

/** Sentences quote file names, which may name a client. */
function anonymous(text: string): string {
  return text.replace(/“[^”]*”/g, "“…”");
}

function aboutClip({ facts, sizeBytes, mimeType, poles, range }: ClipAtHand): string[] {
  const told = facts
    ? [
        `clip: ${facts.codec}, ${facts.widthPx} × ${facts.heightPx}, turned ${facts.rotationDeg}°, ${facts.frameCount} frames in ${facts.durationS.toFixed(2)} s, ${facts.variableRate ? "variable" : "even"} rate, read by ${facts.decoder}, ${facts.sizeBytes} bytes`,
        ...facts.warnings.map((warning) => `  ${anonymous(warning)}`),
      ]
    : sizeBytes !== undefined
      ? [`clip: ${sizeBytes} bytes, type ${mimeType || "not told"}`]
      : [];
  if (poles !== undefined) told.push(`poles marked: ${poles}`);
  if (range) told.push(`stretch: ${range[0].toFixed(2)} to ${range[1].toFixed(2)} s`);
  return told;
}

async function aboutDevice(): Promise<string[]> {
  const { userAgent, hardwareConcurrency, onLine, maxTouchPoints } = navigator;
  const memoryGb = (navigator as { deviceMemory?: number }).deviceMemory;
  const room = await navigator.storage?.estimate?.().catch(() => null);
  const worker = await navigator.serviceWorker?.getRegistration().catch(() => null);
  return [
    `browser: ${userAgent}`,
    `device: ${hardwareConcurrency} cores, ${memoryGb ? `${memoryGb} GB or more` : "memory not told"}, ${maxTouchPoints > 0 ? "touch" : "no touch"}, window ${innerWidth} × ${innerHeight} at ${devicePixelRatio}`,
    `storage: ${room ? `${room.usage} of ${room.quota} bytes` : "not told"}`,
    `decoders: ${typeof VideoDecoder === "undefined" ? "none of the browser's" : "the browser's"}; isolated: ${crossOriginIsolated}; network: ${onLine}; offline copy: ${worker?.active ? "yes" : "no"}${worker?.waiting ? ", a newer one waits" : ""}`,
  ];
}
