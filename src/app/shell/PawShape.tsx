import type { SVGAttributes } from "react";
import type { Paw } from "../../gait/types.ts";

export const pawName: Record<Paw, string> = {
  LH: "left hind",
  RH: "right hind",
  LF: "left fore",
  RF: "right fore",
};

interface PawShapeProps {
  paw: Paw;
  /** Middle of the shape. */
  x: number;
  y: number;
  /** Half its width. */
  radius: number;
  doubtful?: boolean | undefined;
  /** Placed or corrected by hand: a dot in the middle. */
  byHand?: boolean | undefined;
  chosen?: boolean | undefined;
  /** A light rim, for drawing on a picture. */
  onPicture?: boolean | undefined;
}

/**
 * The sign of a paw, to be put into an SVG: left round and blue, right square and orange; hind filled, fore hollow;
 * a doubtful one pale
 * with a broken rim; one by hand with a dot.
 */
export function PawShape({ paw, x, y, radius, doubtful, byHand, chosen, onPicture }: PawShapeProps) {
  const left = paw === "LH" || paw === "LF";
  const hind = paw === "LH" || paw === "RH";
  const colour = left ? "var(--left)" : "var(--right)";
  const shape = (r: number, paint: SVGAttributes<SVGElement>) =>
    left ? (
      <circle cx={x} cy={y} r={r} {...paint} />
    ) : (
      // A square of side 1.77 r has the area of a circle of radius r: neither side looks heavier.
      <rect
        x={x - r * 0.886}
        y={y - r * 0.886}
        width={r * 1.772}
        height={r * 1.772}
        rx={r * 0.16}
        {...paint}
      />
    );
  const line = Math.max(2, radius * 0.3);
  return (
    <g>
      {chosen && shape(radius + 6, { fill: "none", stroke: "var(--ink)", strokeWidth: 3 })}
      {onPicture && shape(radius + 2, { fill: "none", stroke: "#fffdf7", strokeWidth: 3 })}
      {shape(radius - line / 2, { fill: "var(--sheet)", stroke: "none", strokeWidth: 0 })}
      {shape(radius - line / 2, {
        fill: hind ? colour : "none",
        fillOpacity: doubtful ? 0.3 : 1,
        stroke: colour,
        strokeWidth: line,
        strokeDasharray: doubtful ? `${radius * 0.7} ${radius * 0.5}` : undefined,
      })}
      {byHand && (
        <circle
          cx={x}
          cy={y}
          r={Math.max(1.6, radius * 0.3)}
          fill={hind && !doubtful ? "var(--sheet)" : colour}
        />
      )}
    </g>
  );
}

interface PawSignProps {
  paw: Paw;
  size?: number | undefined;
  doubtful?: boolean | undefined;
  byHand?: boolean | undefined;
}

/** The sign of a paw on its own, for a line of text or a button. */
export function PawSign({ paw, size = 22, doubtful, byHand }: PawSignProps) {
  return (
    <svg width={size} height={size} viewBox="-11 -11 22 22" aria-hidden="true" style={{ flex: "none" }}>
      <PawShape paw={paw} x={0} y={0} radius={10} doubtful={doubtful} byHand={byHand} />
    </svg>
  );
}

const all: readonly Paw[] = ["LH", "RH", "LF", "RF"];

/** What the signs mean, of all paws or of some. */
export function PawKey({ paws = all }: { paws?: readonly Paw[] | undefined }) {
  return (
    <ul className="line small">
      {paws.map((paw) => (
        <li key={paw} className="line" style={{ gap: 5 }}>
          <PawSign paw={paw} size={18} /> {pawName[paw]}
        </li>
      ))}
      <li className="line" style={{ gap: 5 }}>
        <PawSign paw="LH" size={18} doubtful /> doubtful
      </li>
    </ul>
  );
}
