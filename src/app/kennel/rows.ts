import { roundToTape, type Units } from "../../spacing/lengths.ts";
import type { Layout } from "../../spacing/types.ts";

export type RowShape = "even" | "widening" | "uneven";

/** Fewest and most poles that a row can be planned with. */
export const FEWEST_POLES = 2;
export const MOST_POLES = 12;
/** A change from gap to gap smaller than a tape shows is none. */
const SAME_M = 0.003;

/** What a row is made from. Lengths in metres. */
export interface RowRecipe {
  shape: RowShape;
  poles: number;
  /** The first gap. */
  spacingM: number;
  /** How much wider each gap is than the one before it; only for a widening row. */
  widenM: number;
  heightM: number;
  /** Every second pole stays on the ground. */
  everySecond: boolean;
  /** Turn of the poles, to one side and the other in turn, degrees. */
  angleDeg: number;
}

/**
 * What a row begins with until something is known: six poles leave five gaps, enough for a verdict in few passes; four
 * to eight poles are usual (common practice, no source).
 */
export const USUAL_ROW: RowRecipe = {
  shape: "even",
  poles: 6,
  spacingM: 0.4,
  widenM: 0.02,
  heightM: 0,
  everySecond: false,
  angleDeg: 0,
};

/**
 * Gaps of an uneven row as shares of the spacing: steps a little shorter and a little longer than the dog's own, never
 * the same twice running (common practice, no source).
 */
const UNEVEN = [1, 0.9, 1.05, 0.95, 1.1, 0.9, 1, 1.05, 0.95, 1.1, 0.9];
/** Where a hind foot should land in each gap of an uneven row: one its left, one its right, around the middle. */
const UNEVEN_TARGETS = [0.5, 0.45, 0.55, 0.5, 0.55, 0.45];

export function makeRow(recipe: RowRecipe, units: Units = "cm"): Layout {
  const { shape, poles, spacingM, widenM, heightM, everySecond, angleDeg } = recipe;
  const gaps = Array.from({ length: poles - 1 }, (_, gap) => gap);
  const gapsM = gaps.map((gap) => {
    // To the micrometre, so that sums stay as clean as what was typed.
    if (shape === "widening") return Math.round((spacingM + gap * widenM) * 1e6) / 1e6;
    return shape === "uneven" ? roundToTape(spacingM * (UNEVEN[gap % UNEVEN.length] ?? 1), units) : spacingM;
  });
  const layout: Layout = {
    gapsM,
    heightsM: [0, ...gaps].map((_, pole) => (everySecond && pole % 2 === 0 ? 0 : heightM)),
    targetFractions: gaps.map((gap) =>
      shape === "uneven" ? (UNEVEN_TARGETS[gap % UNEVEN_TARGETS.length] ?? 0.5) : 0.5,
    ),
  };
  return angleDeg === 0
    ? layout
    : { ...layout, anglesDeg: [0, ...gaps].map((_, pole) => (pole % 2 === 0 ? angleDeg : -angleDeg)) };
}

/**
 * A row with one thing changed. What was set gap by gap in an uneven row stays: only what was asked for changes.
 * @param part what changes of the row's recipe
 */
export function changeRow(layout: Layout, part: Partial<RowRecipe>, units: Units = "cm"): Layout {
  const recipe = recipeOf(layout);
  const wanted = makeRow({ ...recipe, ...part }, units);
  if (recipe.shape !== "uneven" || part.shape !== undefined) return wanted;
  const own = <T>(before: readonly T[], made: readonly T[]) => made.map((one, i) => before[i] ?? one);
  const gapsM = own(layout.gapsM, wanted.gapsM);
  return {
    ...wanted,
    gapsM: part.spacingM === undefined ? gapsM : [part.spacingM, ...gapsM.slice(1)],
    targetFractions: own(layout.targetFractions, wanted.targetFractions),
  };
}

/** The recipe that a row looks to be made from. A row laid by hand comes out as uneven. */
export function recipeOf(layout: Layout): RowRecipe {
  const { gapsM, heightsM } = layout;
  const first = gapsM[0] ?? 0.4;
  const steps = gapsM.slice(1).map((gap, i) => gap - (gapsM[i] ?? gap));
  const widenM = steps[0] ?? 0;
  const same = steps.every((step) => Math.abs(step) < SAME_M);
  const widening = !same && widenM > 0 && steps.every((step) => Math.abs(step - widenM) < SAME_M);
  const heightM = Math.max(0, ...heightsM);
  return {
    shape: same ? "even" : widening ? "widening" : "uneven",
    poles: gapsM.length + 1,
    spacingM: first,
    widenM: widening ? widenM : 0.02,
    heightM,
    everySecond:
      heightM > 0 && heightsM.length > 1 && heightsM.every((h, pole) => h === (pole % 2 === 0 ? 0 : heightM)),
    angleDeg: Math.abs(layout.anglesDeg?.[0] ?? 0),
  };
}

/**
 * Most poles of a row that fit into a length of ground, with room to come and go: the dog needs about three steps
 * before the first pole and after the last (common practice, no source).
 */
export function polesThatFit(recipe: RowRecipe, availableM: number, units: Units = "cm"): number {
  let fit = 0;
  for (let poles = FEWEST_POLES; poles <= MOST_POLES; poles++) {
    const { gapsM } = makeRow({ ...recipe, poles }, units);
    const rowM = gapsM.reduce((sum, gap) => sum + gap, 0);
    if (rowM + 6 * recipe.spacingM <= availableM + 1e-9) fit = poles;
  }
  return fit;
}
