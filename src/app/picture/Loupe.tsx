import { type ReactNode, useLayoutEffect, useRef } from "react";
import type { ImagePoint } from "../../ground/types.ts";
import type { Size } from "./view.ts";

interface LoupeProps {
  bitmap: ImageBitmap;
  picture: Size;
  /** Image point in the middle of the glass. */
  at: ImagePoint;
  /** Where the finger is, screen pixels of the stage: the glass keeps clear of it. */
  finger: ImagePoint;
  box: Size;
  /** CSS pixels an image pixel takes in the glass. */
  scale: number;
  /** Drawn over the picture in image pixels. */
  children?: ReactNode;
}

const diameter = 136;
const clearance = 34;

/** A magnifying glass above the finger, or beside it where there is no room above. */
export function Loupe({ bitmap, picture, at, finger, box, scale, children }: LoupeProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    const element = canvas.current;
    const pen = element?.getContext("2d");
    if (!element || !pen) return;
    const density = window.devicePixelRatio || 1;
    element.width = diameter * density;
    element.height = diameter * density;
    const zoom = scale * density;
    pen.imageSmoothingEnabled = zoom < 6;
    pen.setTransform(
      zoom,
      0,
      0,
      zoom,
      (diameter * density) / 2 - at.x * zoom,
      (diameter * density) / 2 - at.y * zoom,
    );
    pen.drawImage(bitmap, 0, 0, picture.width, picture.height);
  }, [bitmap, picture, at, scale]);

  const above = finger.y - clearance - diameter >= -diameter / 3;
  const beside = finger.x > box.width / 2 ? finger.x - clearance - diameter : finger.x + clearance;
  const left = above ? clamp(finger.x - diameter / 2, 0, box.width - diameter) : beside;
  const top = above
    ? finger.y - clearance - diameter
    : clamp(finger.y - diameter / 2, 0, box.height - diameter);
  const reach = diameter / 2 / scale;
  return (
    <div className="loupe" style={{ left, top, width: diameter, height: diameter }} aria-hidden="true">
      <canvas ref={canvas} style={{ width: diameter, height: diameter }} />
      <svg
        width={diameter}
        height={diameter}
        viewBox={`${at.x - reach} ${at.y - reach} ${2 * reach} ${2 * reach}`}
        aria-hidden="true"
      >
        {children}
        <g className="loupe-cross" strokeWidth={1.5 / scale}>
          <path
            d={`M${at.x - reach} ${at.y}H${at.x - 4 / scale}M${at.x + 4 / scale} ${at.y}H${at.x + reach}M${at.x} ${at.y - reach}V${at.y - 4 / scale}M${at.x} ${at.y + 4 / scale}V${at.y + reach}`}
          />
        </g>
      </svg>
    </div>
  );
}

function clamp(value: number, low: number, high: number) {
  return Math.min(Math.max(value, low), Math.max(low, high));
}
