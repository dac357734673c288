import { groundToImage } from "../../ground/map.ts";
import type { GroundMap, GroundPoint } from "../../ground/types.ts";
import { toScreen, type View } from "../picture/view.ts";

interface GroundGridProps {
  map: GroundMap;
  view: View;
  /** Height of the tapped points: the poles' lines are drawn there, so that they lie on the poles. */
  heightM: number;
}

/** The fitted ground over the picture: a line where each pole should lie, half gaps, and the row's long sides. */
export function GroundGrid({ map, view, heightM }: GroundGridProps) {
  const xs = map.poleXM;
  const first = xs[0] ?? 0;
  const last = xs.at(-1) ?? 0;
  const before = (xs[1] ?? 0) - first;
  const after = last - (xs.at(-2) ?? 0);
  const across = (xM: number, height = 0) =>
    line(map, view, { xM, yM: 0 }, { xM, yM: map.poleLengthM }, height);
  const along = (yM: number) => line(map, view, { xM: first - before, yM }, { xM: last + after, yM });
  const halves = xs.slice(1).map((xM, k) => (xM + (xs[k] ?? 0)) / 2);
  return (
    <g className="ground-grid">
      {[0, map.poleLengthM / 2, map.poleLengthM].map((yM) => (
        <path key={yM} d={along(yM)} />
      ))}
      {halves.map((xM) => (
        <path key={xM} className="ground-grid-half" d={across(xM)} />
      ))}
      {[first - before, ...xs, last + after].map((xM) => (
        <path key={xM} className="ground-grid-pole" d={across(xM, heightM)} />
      ))}
    </g>
  );
}

/** Drawn in pieces, because a lens may bend it. */
function line(map: GroundMap, view: View, from: GroundPoint, to: GroundPoint, heightM = 0): string {
  const pieces = map.lens ? 8 : 1;
  const points = Array.from({ length: pieces + 1 }, (_, k) => {
    const share = k / pieces;
    const place = {
      xM: from.xM + (to.xM - from.xM) * share,
      yM: from.yM + (to.yM - from.yM) * share,
    };
    return toScreen(view, groundToImage(map, place, heightM));
  });
  if (points.some((point) => !Number.isFinite(point.x) || !Number.isFinite(point.y))) return "";
  return `M${points.map((point) => `${point.x.toFixed(1)} ${point.y.toFixed(1)}`).join("L")}`;
}
