import type { Matrix3 } from "../stats/types.ts";
import type { ImagePoint } from "./types.ts";

/**
 * A pinhole camera over the ground, square pixels. Ground axes here are right-handed: x along the row to the
 * right as the camera sees it, y away from the camera, z up; metres and radians.
 */
export interface Camera {
  focalPx: number;
  centreX: number;
  centreY: number;
  /** Turn about the vertical; positive looks to the right. */
  yaw: number;
  /** Positive looks down. */
  pitch: number;
  /** Turn about the viewing axis. */
  roll: number;
  x: number;
  y: number;
  height: number;
  /** Radial distortion k1: a ray at tan θ = r is drawn at r·(1 + k1·r²). */
  radial: number;
}

/** Rows: the camera's right, down and forward, in ground axes. */
export function axesOf(camera: Camera): Matrix3 {
  const [sy, cy] = [Math.sin(camera.yaw), Math.cos(camera.yaw)];
  const [sp, cp] = [Math.sin(camera.pitch), Math.cos(camera.pitch)];
  const [sr, cr] = [Math.sin(camera.roll), Math.cos(camera.roll)];
  const right = [cy, -sy, 0] as const;
  const down = [-sy * sp, -cy * sp, -cp] as const;
  return [
    cr * right[0] + sr * down[0],
    cr * right[1] + sr * down[1],
    cr * right[2] + sr * down[2],
    -sr * right[0] + cr * down[0],
    -sr * right[1] + cr * down[1],
    -sr * right[2] + cr * down[2],
    sy * cp,
    cy * cp,
    -sp,
  ];
}

/** Where the camera draws a point of space; null behind the camera. */
export function project(camera: Camera, x: number, y: number, z: number): ImagePoint | null {
  return projector(camera)(x, y, z);
}

/** `project` for many points of one camera. */
export function projector(camera: Camera): (x: number, y: number, z: number) => ImagePoint | null {
  const a = axesOf(camera);
  return (x, y, z) => {
    const [dx, dy, dz] = [x - camera.x, y - camera.y, z - camera.height];
    const depth = a[6] * dx + a[7] * dy + a[8] * dz;
    if (!(depth > 1e-6)) return null;
    const u = (a[0] * dx + a[1] * dy + a[2] * dz) / depth;
    const v = (a[3] * dx + a[4] * dy + a[5] * dz) / depth;
    const stretch = 1 + camera.radial * (u * u + v * v);
    return {
      x: camera.centreX + camera.focalPx * u * stretch,
      y: camera.centreY + camera.focalPx * v * stretch,
    };
  };
}

/** The homography from the plane z = 0 to the picture, radial distortion left out. */
export function planeToImage(camera: Camera): Matrix3 {
  const a = axesOf(camera);
  const columns = [
    [a[0], a[3], a[6]],
    [a[1], a[4], a[7]],
    [0, 3, 6].map((r) => -(a[r]! * camera.x + a[r + 1]! * camera.y + a[r + 2]! * camera.height)),
  ] as [number, number, number][];
  const rows = [0, 1, 2].map((r) => columns.map((column) => column[r]!));
  const [right, down, forward] = rows as [number[], number[], number[]];
  return [
    ...right.map((entry, k) => camera.focalPx * entry + camera.centreX * forward[k]!),
    ...down.map((entry, k) => camera.focalPx * entry + camera.centreY * forward[k]!),
    ...forward,
  ] as Matrix3;
}

/**
 * The camera behind a homography from the ground plane to the picture, principal point given. The focal length
 * follows from the two constraints that a rotation puts on a homography (Zhang, IEEE PAMI 2000;22:1330) where
 * they fix it, else `assumedFocalPx` is taken. Null when no camera above the ground gives such a homography.
 */
export function cameraFromPlane(h: Matrix3, centre: ImagePoint, assumedFocalPx: number): Camera | null {
  const column = (k: 0 | 1 | 2) =>
    [h[k] - centre.x * h[6 + k]!, h[3 + k]! - centre.y * h[6 + k]!, h[6 + k]!] as const;
  const [h1, h2, h3] = [column(0), column(1), column(2)];
  const planar = (a: readonly number[], b: readonly number[]) => a[0]! * b[0]! + a[1]! * b[1]!;
  // h1ᵀωh2 = 0 and h1ᵀωh1 = h2ᵀωh2 with ω = diag(1/f², 1/f², 1): least squares for f².
  const a = [planar(h1, h2), planar(h1, h1) - planar(h2, h2)] as const;
  const b = [-h1[2] * h2[2], h2[2] * h2[2] - h1[2] * h1[2]] as const;
  const inverseSquare = (a[0] * b[0] + a[1] * b[1]) / (a[0] * a[0] + a[1] * a[1]);
  const found = 1 / Math.sqrt(inverseSquare);
  const focalPx = found > 0.3 * assumedFocalPx && found < 3 * assumedFocalPx ? found : assumedFocalPx;

  const ray = (c: readonly number[]) => [c[0]! / focalPx, c[1]! / focalPx, c[2]!] as const;
  const [r1, r2, t] = [ray(h1), ray(h2), ray(h3)];
  // Of the two signs, the one with the ground in front of the camera.
  const scale = Math.sign(t[2]) / Math.sqrt(Math.hypot(...r1) * Math.hypot(...r2));
  const xAxis = r1.map((entry) => entry * scale) as [number, number, number];
  const raw = r2.map((entry) => entry * scale) as [number, number, number];
  const along = xAxis[0] ** 2 + xAxis[1] ** 2 + xAxis[2] ** 2;
  const overlap = (xAxis[0] * raw[0] + xAxis[1] * raw[1] + xAxis[2] * raw[2]) / along;
  const yAxis = raw.map((entry, k) => entry - overlap * xAxis[k]!) as [number, number, number];
  const [nx, ny] = [Math.hypot(...xAxis), Math.hypot(...yAxis)];
  const x = xAxis.map((entry) => entry / nx) as [number, number, number];
  const y = yAxis.map((entry) => entry / ny) as [number, number, number];
  const z = [x[1] * y[2] - x[2] * y[1], x[2] * y[0] - x[0] * y[2], x[0] * y[1] - x[1] * y[0]] as const;
  const place = [x, y, z].map((axis) => -(axis[0] * t[0] + axis[1] * t[1] + axis[2] * t[2]) * scale) as [
    number,
    number,
    number,
  ];
  if (!(place[2] > 0) || !place.every(Number.isFinite)) return null;
  const pitch = Math.asin(Math.max(-1, Math.min(1, -z[2])));
  return {
    focalPx,
    centreX: centre.x,
    centreY: centre.y,
    yaw: Math.atan2(x[2], y[2]),
    pitch,
    roll: Math.atan2(-z[0], -z[1]),
    x: place[0],
    y: place[1],
    height: place[2],
    radial: 0,
  };
}
