import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";

/** A straight horizontal arrow from x0 to x1 with a solid head of its own (no shared marker: ids could clash). */
export function arrow(x0: number, x1: number, y: number, thickness = 2, colour: string = COLOUR.ink): Markup {
  const way = x1 >= x0 ? 1 : -1;
  const head = Math.min(Math.abs(x1 - x0), 3 + thickness * 2.5);
  const half = 1.5 + thickness * 1.3;
  const neck = x1 - way * head;
  return element(
    "g",
    { stroke: colour, fill: colour },
    element("line", { x1: x0, y1: y, x2: neck, y2: y, "stroke-width": thickness }),
    element("path", { d: `M${x1} ${y}L${neck} ${y - half}L${neck} ${y + half}Z`, stroke: "none" }),
  );
}
