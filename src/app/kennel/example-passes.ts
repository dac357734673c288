import { randomNormal } from "d3";
import type { Landing, Pass, Paw } from "../../gait/types.ts";
import { polePlaces } from "../../spacing/travel.ts";
import type { Layout, PoleGait } from "../../spacing/types.ts";
import { seededRandom } from "../../stats/random.ts";

/** How an invented dog goes on one day. */
export interface Going {
  layout: Layout;
  gait: PoleGait;
  /** Its free step, and the step it takes over the poles, metres. */
  freeStepM: number;
  rowStepM: number;
  speedMps: number;
  /** Standard deviation of single steps, share of the step. */
  scatter: number;
  /** Where the first hind foot lands in the first gap met, 0 to 1. */
  startFraction: number;
  /** Right step over left step, less one. */
  unevenness: number;
  passes: number;
  seed: number;
}

/** Fore touch-down after same-side hind touch-down: lateral walk and trot (Hildebrand M. Science 1965;150:701). */
const limbPhase: Record<PoleGait, number> = { walk: 0.2, trot: 0.5 };
/** Stance as a share of the stride; round numbers for a dog at these gaits, from memory. */
const dutyFactor: Record<PoleGait, number> = { walk: 0.62, trot: 0.45 };

/** Passes of an invented dog, to and fro, with its landings on the way in, over the poles and on the way out. */
export function simulatePasses(going: Going): Pass[] {
  const random = seededRandom(going.seed);
  const normal = randomNormal.source(random)();
  return Array.from({ length: going.passes }, (_, i) => simulatePass(going, i, normal));
}

function simulatePass(going: Going, index: number, normal: () => number): Pass {
  const { layout, gait, speedMps } = going;
  const direction = index % 2 === 0 ? 1 : -1;
  const gaps = direction === 1 ? layout.gapsM : [...layout.gapsM].reverse();
  const length = polePlaces(gaps).at(-1) ?? 0;
  const speed = speedMps * (1 + 0.03 * normal());
  const places = hindPlaces(going, gaps, length, index, normal);
  const strideTimeS = (2 * going.rowStepM) / speed;
  const startS = 1 + index * 9;
  const origin = places[0] ?? 0;
  const landings = places.flatMap((at, k): Landing[] => {
    const hind = hindFoot(k, index);
    const onS = startS + (at - origin) / speed;
    const stride = (places[k + 2] ?? at + 2 * going.rowStepM) - at;
    const make = (paw: Paw, alongM: number, fromS: number): Landing => ({
      id: `p${index}-${paw}-${k}`,
      paw,
      onS: fromS,
      offS: fromS + dutyFactor[gait] * strideTimeS,
      xM: direction === 1 ? alongM : length - alongM,
      yM: 0.45 + (paw.startsWith("L") ? 0.05 : -0.05) * direction + 0.01 * normal(),
      xSeM: 0.012,
      probability: 0.95 - 0.03 * Math.min(1, Math.abs(normal())),
      source: "automatic",
    });
    const fore: Paw = hind === "LH" ? "LF" : "RF";
    // A hind foot comes down in or near the print its own side's fore foot left (Zink & Van Dyke, 2nd ed., p. 26).
    return [make(hind, at, onS), make(fore, at + stride + 0.02, onS + limbPhase[gait] * strideTimeS)];
  });
  landings.sort((a, b) => a.onS - b.onS);
  return {
    id: `p${index}`,
    startS,
    endS: startS + (length + 4 * going.freeStepM) / speed,
    direction,
    landings,
    speedMps: speed,
    accelerationMps2: 0.05 * normal(),
    gait,
    strideTimeS,
    limbPhase: limbPhase[gait],
    dutyFactor: dutyFactor[gait],
  };
}

/** Passes set out on the left and the right hind foot in turn. */
function hindFoot(k: number, index: number): "LH" | "RH" {
  return (k + index) % 2 === 0 ? "LH" : "RH";
}

/** Hind landings along the way, metres from the pole met first: four before it, then through the row and two beyond. */
function hindPlaces(
  going: Going,
  gaps: readonly number[],
  length: number,
  index: number,
  normal: () => number,
): number[] {
  /** The step that ends on landing k. */
  const step = (base: number, k: number) =>
    base * (1 + (hindFoot(k, index) === "RH" ? 0.5 : -0.5) * going.unevenness + going.scatter * normal());
  const first = going.startFraction * (gaps[0] ?? 0);
  const before: number[] = [];
  let at = first;
  for (let k = 4; k > 0; k--) {
    at -= step(going.freeStepM, k);
    before.unshift(at);
  }
  const onward: number[] = [];
  for (let k = 5, x = first; x < length + 2 * going.rowStepM; k++) {
    onward.push(x);
    x += step(going.rowStepM, k);
  }
  return [...before, ...onward];
}
