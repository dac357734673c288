import type { ImagePoint } from "../../ground/types.ts";

/** How a picture lies on the screen: screen = image × scale + (x, y), in CSS pixels. */
export interface View {
  scale: number;
  x: number;
  y: number;
}

export interface Size {
  width: number;
  height: number;
}

/** A part of a picture, image pixels. */
export interface Part extends Size {
  x: number;
  y: number;
}

/** CSS pixels an image pixel may at most be blown up to. */
const closest = 16;

/** The whole picture in the middle of the box. */
export function fitView(picture: Size, box: Size): View {
  const scale = Math.min(box.width / picture.width, box.height / picture.height);
  return {
    scale,
    x: (box.width - picture.width * scale) / 2,
    y: (box.height - picture.height * scale) / 2,
  };
}

/** A part of the picture, as large as it goes with all of it in sight; never smaller than the whole picture. */
export function fitPart(part: Part, picture: Size, box: Size): View {
  const whole = fitView(picture, box);
  const scale = Math.max(
    whole.scale,
    Math.min(box.width / part.width, box.height / part.height, Math.max(closest, whole.scale)),
  );
  const centred = {
    scale,
    x: box.width / 2 - (part.x + part.width / 2) * scale,
    y: box.height / 2 - (part.y + part.height / 2) * scale,
  };
  return keepInside(centred, picture, box);
}

export function toScreen(view: View, point: ImagePoint): ImagePoint {
  return { x: point.x * view.scale + view.x, y: point.y * view.scale + view.y };
}

export function toImage(view: View, point: ImagePoint): ImagePoint {
  return { x: (point.x - view.x) / view.scale, y: (point.y - view.y) / view.scale };
}

/** Zooms by a factor; the picture point under `centre` (screen) stays there. */
export function zoomAt(view: View, factor: number, centre: ImagePoint, picture: Size, box: Size): View {
  return pinch(view, factor, centre, centre, picture, box);
}

/** Zooms by a factor, and brings the picture point that was under `from` (screen) to `to`. */
export function pinch(
  view: View,
  factor: number,
  from: ImagePoint,
  to: ImagePoint,
  picture: Size,
  box: Size,
): View {
  const widest = fitView(picture, box).scale;
  const scale = Math.min(Math.max(view.scale * factor, widest), Math.max(closest, widest));
  const kept = toImage(view, from);
  return keepInside({ scale, x: to.x - kept.x * scale, y: to.y - kept.y * scale }, picture, box);
}

export function pan(view: View, dx: number, dy: number, picture: Size, box: Size): View {
  return keepInside({ ...view, x: view.x + dx, y: view.y + dy }, picture, box);
}

/** The view moved as little as needed for `point` (image) to lie at least `margin` screen pixels inside the box. */
export function bringInto(view: View, point: ImagePoint, margin: number, picture: Size, box: Size): View {
  const at = toScreen(view, point);
  const wanted = {
    x: Math.min(Math.max(at.x, margin), box.width - margin),
    y: Math.min(Math.max(at.y, margin), box.height - margin),
  };
  return pan(view, wanted.x - at.x, wanted.y - at.y, picture, box);
}

/** A picture smaller than the box stays centred; a larger one leaves no empty edge. */
function keepInside(view: View, picture: Size, box: Size): View {
  const along = (offset: number, length: number, space: number) =>
    length <= space ? (space - length) / 2 : Math.min(0, Math.max(space - length, offset));
  return {
    scale: view.scale,
    x: along(view.x, picture.width * view.scale, box.width),
    y: along(view.y, picture.height * view.scale, box.height),
  };
}
