import { findLandings } from "../../../src/gait/landings.ts";
import type { Landing, Pass } from "../../../src/gait/types.ts";
import { type Camera, project } from "../../../src/ground/camera.ts";
import { fitGround } from "../../../src/ground/fit.ts";
import { IDENTITY } from "../../../src/ground/homography.ts";
import type { GroundMap } from "../../../src/ground/types.ts";
import type { PawPeak } from "../../../src/paws/types.ts";
import { gatherEvidence } from "../../../src/pipeline/evidence.ts";
import type { FrameSighting } from "../../../src/pipeline/follow.ts";
import type { HeldPaw } from "../../../src/pipeline/strip.ts";
import { type SimulatedDog, simulateEvidence, steadyTrot } from "../../simulated-evidence.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { FULL, type Placed, type Row, someRow } from "./cameras.ts";

/** Where the network marks a paw of a dog of this bench, metres: what the app takes marks for (see `pipeline/evidence.ts`). */
const MARK = { upM: 0.0265, nearerM: 0.02, aheadM: 0.0075 };
/**
 * How marks differ from that, standard deviations in metres: from look to look, alike in all looks at one stance, and
 * alike in a whole clip; as measured on 163 hind stances between the poles of 33 rendered clips. `acrossM`: how far a dog
 * steps beside its track (from memory; the rendered ones do by half of it).
 */
export const MARKS_DIFFER = {
  look: { aheadM: 0.0056, upM: 0.0042 },
  stance: { aheadM: 0.0054, upM: 0.0034, acrossM: 0.01 },
  clip: { aheadM: 0.003, upM: 0.0032 },
};
/** Pictures of the ground that a trotting dog gets, a second; the network looks at every second of them (`pipeline/pace.ts`). */
const STRIPS_PER_SECOND = 30;
const STRIPS_A_LOOK = 2;
/** A found landing is a true one when it is this near in place, metres. */
const SAME_PLACE_M = 0.2;
/** The dog is seen from this far before the row on, and after it, metres. */
export const BEFORE_M = 1.2;
const DOG_HEIGHT_M = 0.7;

/** Whole passes of a trotting dog before a simulated tripod, from marks in pixels to landings by the app's own code. */
export function passBefore(yawDeg: number, heightM: number, drawn: boolean, seed: number) {
  const random = randomFrom(Math.round(seed * 97) + 11);
  const normal = normalFrom(random);
  const row = someRow(yawDeg, heightM, false, random, undefined, drawn);
  const map = fitGround(row.marks, FULL).map;
  const dog = { ...steadyTrot, seed: seed + 1, stepM: 0.38 + 0.15 * random() };
  const { passes, truth } = crossed(row, map, dog, marking(row.camera, normal), BEFORE_M);
  const wanted = truth.filter((l) => l.paw[1] === "H" && l.xM > 0 && l.xM < row.lengthM);
  const found = passes.flatMap((p) => p.landings).filter((l) => l.paw[1] === "H");
  const errors = wanted.flatMap((t): Placed[] => {
    const near = found
      .filter(
        (l) => Math.abs(l.xM - t.xM) < SAME_PLACE_M && l.onS < t.offS && l.offS > t.onS && l.paw === t.paw,
      )
      .sort((a, b) => Math.abs(a.xM - t.xM) - Math.abs(b.xM - t.xM))[0];
    return near ? [{ errorM: near.xM - t.xM, seM: near.xSeM, yawDeg, heightM }] : [];
  });
  return { errors, asked: wanted.length };
}

/** A dog crosses the row: what the app finds of it, and what truly happened. */
export function crossed(
  row: Row,
  map: GroundMap | null,
  dog: SimulatedDog,
  shown: ReturnType<typeof marking>,
  beforeM: number,
): { passes: Pass[]; truth: Landing[] } {
  const { evidence, truth } = simulateEvidence({
    ...dog,
    fps: STRIPS_PER_SECOND,
    wayM: row.lengthM + 2 * BEFORE_M,
    jitterM: 0,
    acrossM: 0,
  });
  const placed = <Place extends { xM: number }>(place: Place) => ({ ...place, xM: place.xM - beforeM });
  const pawsOf = (frame: number) => evidence.candidates.filter((c) => c.frame === frame).map(placed);
  const held = new Map<PawPeak, HeldPaw[]>();
  const looks = evidence.body
    .filter(({ frame }) => frame % STRIPS_A_LOOK === 0)
    .map((body) => {
      const { frame, timeS } = body;
      const seen = sighted(row.camera, shown, placed(body), pawsOf(frame));
      // A paw that stands in the picture after the look is held there.
      const next = pawsOf(frame + 1);
      for (const { peak, paw } of seen?.marked ?? [])
        if (next.some((p) => p.xM === paw.xM && p.yM === paw.yM))
          held.set(peak, [{ frame: frame + 1, timeS: timeS + 1 / STRIPS_PER_SECOND, peak, held: 0.9 }]);
      return { frame, timeS, sighting: seen?.sighting ?? null };
    });
  const sights = {
    frameTimesS: evidence.frameTimesS,
    looks,
    motion: { feet: [], readings: new Map(), held },
    referenceOf: () => IDENTITY,
  };
  return {
    passes: map ? findLandings(gatherEvidence(sights, map)).passes : [],
    truth: truth.map(placed),
  };
}

/** Where the marks of a clip's paws are drawn. @param otherDogM how much higher this dog's marks lie than the app takes them to. */
export function marking(camera: Camera, normal: () => number, otherDogM = 0) {
  const { look, stance, clip } = MARKS_DIFFER;
  const always = {
    aheadM: MARK.aheadM + clip.aheadM * normal(),
    upM: MARK.upM + otherDogM + clip.upM * normal(),
  };
  const stances = new Map<string, { aheadM: number; upM: number; acrossM: number }>();
  return ({ xM, yM }: { xM: number; yM: number }) => {
    const place = `${xM} ${yM}`;
    const own = stances.get(place) ?? {
      aheadM: stance.aheadM * normal(),
      upM: stance.upM * normal(),
      acrossM: stance.acrossM * normal(),
    };
    stances.set(place, own);
    const at = {
      xM: xM + always.aheadM + own.aheadM + look.aheadM * normal(),
      yM: yM + own.acrossM,
    };
    const away = MARK.nearerM / Math.hypot(at.xM - camera.x, at.yM - camera.y);
    return project(
      camera,
      at.xM + away * (camera.x - at.xM),
      at.yM + away * (camera.y - at.yM),
      always.upM + own.upM + look.upM * normal(),
    );
  };
}

interface SimulatedPaw {
  xM: number;
  yM: number;
  score: number;
  hind: number;
  contact: number;
}

/** What the network would answer to a frame: its marks, each with its paw, and the dog's box around them. */
function sighted(
  camera: Camera,
  shown: ReturnType<typeof marking>,
  body: { xM: number; lengthM: number },
  paws: readonly SimulatedPaw[],
): { sighting: FrameSighting; marked: { peak: PawPeak; paw: SimulatedPaw }[] } | null {
  const corners = [-0.5, 0.5].flatMap((side) =>
    [0, DOG_HEIGHT_M].map((z) => project(camera, body.xM + side * body.lengthM, 0.45, z)),
  );
  if (corners.some((p) => p === null)) return null;
  const xs = corners.map((p) => p!.x);
  const ys = corners.map((p) => p!.y);
  const box = {
    x: Math.min(...xs),
    y: Math.min(...ys),
    width: Math.max(...xs) - Math.min(...xs),
    height: Math.max(...ys) - Math.min(...ys),
  };
  const marked = paws.flatMap((paw) => {
    const p = shown(paw);
    if (!p || p.x < 0 || p.x > FULL.widthPx) return [];
    const { score, hind, contact } = paw;
    return [{ peak: { ...p, score, hind, contact }, paw }];
  });
  const cut = box.x < 0 || box.x + box.width > FULL.widthPx;
  return { sighting: { box, dogScore: 0.9, cut, peaks: marked.map((m) => m.peak) }, marked };
}
