import { type Camera, planeToImage, project } from "../../../src/ground/camera.ts";
import {
  cameraOf,
  covarianceOf,
  fitCamera,
  phonePriors,
  type Sighting,
  type Unknowns,
} from "../../../src/ground/camera-fit.ts";
import { applyHomography, invert3 } from "../../../src/ground/homography.ts";
import {
  FPS,
  FULL,
  KNOWN_PAW_SD_M,
  PAW_HEIGHT_M,
  PLAIN_MARK,
  type Row,
  stancePixelSd,
  TAP_SD_PX,
} from "./cameras.ts";

/**
 * Least standard deviation, metres, with which any unbiased estimator can place a landing along the row of this camera
 * and these poles: the inverse of the Fisher information of the taps at the true camera (Cramér–Rao), with what is
 * known beforehand of phones and of the dog's lane counted in, and the landing's own noise added. Taps are spread by
 * `TAP_SD_PX`.
 * @param tapSdPx spread of one tap, pixels.
 */
export function leastLandingSd(
  row: Row,
  at: { xM: number; yM: number },
  nearOnly: boolean,
  tapSdPx: number = TAP_SD_PX,
): number {
  const sightings = row.laidXM.flatMap((x, pole): Sighting[] => {
    const end = (lengths: 0 | 1): Sighting => ({
      pole,
      image: project(row.camera, x, lengths * 0.9, 0)!,
      x,
      lengths,
      z: 0,
    });
    return nearOnly ? [end(0)] : [end(0), end(1)];
  });
  const priors = phonePriors(FULL, row.lengthM / 2, { mean: 0.9, sd: 0.01 });
  const fit = fitCamera(sightings, priors, tapSdPx, [unknownsOf(row.camera)]);
  if (!fit) return Number.POSITIVE_INFINITY;
  const pixel = project(row.camera, at.xM, at.yM, PAW_HEIGHT_M)!;
  const placed = (u: Unknowns, p: { x: number; y: number }, heightM: number) => {
    const camera = cameraOf(u);
    const flat = applyHomography(invert3(planeToImage(camera)), p);
    const factor = (camera.height - heightM) / camera.height;
    return [camera.x + (flat.x - camera.x) * factor, camera.y + (flat.y - camera.y) * factor] as const;
  };
  const own = covarianceOf(fit, (u) => placed(u, pixel, PAW_HEIGHT_M));
  const base = placed(fit.unknowns, pixel, PAW_HEIGHT_M);
  const pushes = [
    [placed(fit.unknowns, { x: pixel.x + 1, y: pixel.y }, PAW_HEIGHT_M), stancePx()],
    [placed(fit.unknowns, { x: pixel.x, y: pixel.y + 1 }, PAW_HEIGHT_M), stancePx()],
    [placed(fit.unknowns, pixel, PAW_HEIGHT_M + 0.001), KNOWN_PAW_SD_M / 0.001],
  ] as const;
  let [xx, xy, yy] = [own.get(0, 0), own.get(0, 1), own.get(1, 1)];
  for (const [to, sd] of pushes) {
    const [dx, dy] = [(to[0] - base[0]) * sd, (to[1] - base[1]) * sd];
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const laneSd = 0.9 / Math.sqrt(12);
  return Math.sqrt(xx - xy ** 2 / (yy + laneSd ** 2));
}

const stancePx = () =>
  stancePixelSd({
    spreadPx: PLAIN_MARK.spreadPx,
    frames: Math.round(FPS * PLAIN_MARK.stanceS),
  });

function unknownsOf(camera: Camera): Unknowns {
  return {
    logFocal: Math.log(camera.focalPx),
    centreX: camera.centreX,
    centreY: camera.centreY,
    logLength: Math.log(0.9),
    yaw: camera.yaw,
    pitch: camera.pitch,
    roll: camera.roll,
    x: camera.x,
    y: camera.y,
    logHeight: Math.log(camera.height),
    radial: 0,
    gapChange: 0,
    uprightX: 0,
    uprightY: 0,
  };
}
