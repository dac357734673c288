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

/** Where the networks see a paw of a dog of this bench, metres: what the app takes marks and pads for (`pipeline/paw-place.ts`). */
const MARK = { upM: 0.0265, nearerM: 0.02, aheadM: 0.0075 };
const PAD = { upM: 0.0044, nearerM: 0.0067 };
/**
 * How marks and pads differ from that, standard deviations in metres: from look to look, alike in all looks at one stance,
 * and alike in a whole clip. Marks as measured on 163 hind stances between the poles of 33 rendered clips, pads on 265 of
 * 25, and on those of which a third to four fifths are in sight (half hidden). `acrossM`: how far a dog steps beside its
 * track (from memory; the rendered ones do by half of it).
 */
export const MARKS_DIFFER = {
  look: { aheadM: 0.0056, upM: 0.0042 },
  stance: { aheadM: 0.0054, upM: 0.0034, acrossM: 0.01 },
  clip: { aheadM: 0.003, upM: 0.0032 },
};
export const PADS_DIFFER = {
  look: { aheadM: 0.0037, upM: 0.0026 },
  stance: { aheadM: 0.0032, upM: 0.0023 },
  clip: { aheadM: 0.0012, upM: 0.0009 },
  halfHidden: { share: 0.07, aheadM: 0.015, upM: 0.01 },
};
/** How well the pad network says that it knows a pad, metres: one in sight, and one half hidden. */
const PAD_TOLD_M = { seen: 0.003, halfHidden: 0.0059 };
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
  const row = someRow(yawDeg, heightM, false, random, undefined, drawn);
  const map = fitGround(row.marks, FULL).map;
  const dog = { ...steadyTrot, seed: seed + 1, stepM: 0.38 + 0.15 * random() };
  const { passes, truth } = crossed(row, map, dog, marking(row.camera, random), BEFORE_M);
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

/**
 * Where the marks and pads of a clip's paws are drawn.
 * @param otherDogM how much higher this dog's marks and pads lie than the app takes them to.
 */
export function marking(camera: Camera, random: () => number, otherDogM = 0) {
  const normal = normalFrom(random);
  const differ = (by: { aheadM: number; upM: number }) => ({
    aheadM: by.aheadM * normal(),
    upM: by.upM * normal(),
  });
  const [markAlways, padAlways] = [differ(MARKS_DIFFER.clip), differ(PADS_DIFFER.clip)];
  const { halfHidden } = PADS_DIFFER;
  const standing = () => {
    const hidden = random() < halfHidden.share;
    const pad = differ(PADS_DIFFER.stance);
    const off = differ(halfHidden);
    return {
      acrossM: MARKS_DIFFER.stance.acrossM * normal(),
      mark: differ(MARKS_DIFFER.stance),
      pad: hidden ? { aheadM: pad.aheadM + off.aheadM, upM: pad.upM + off.upM } : pad,
      toldM: hidden ? PAD_TOLD_M.halfHidden : PAD_TOLD_M.seen,
    };
  };
  const stances = new Map<string, ReturnType<typeof standing>>();
  return ({ xM, yM }: { xM: number; yM: number }) => {
    const place = `${xM} ${yM}`;
    const own = stances.get(place) ?? standing();
    stances.set(place, own);
    /** Where a point is drawn that lies this far from the middle of the pad. */
    const drawn = (aheadM: number, nearerM: number, upM: number) => {
      const at = { xM: xM + aheadM, yM: yM + own.acrossM };
      const share = nearerM / Math.hypot(at.xM - camera.x, at.yM - camera.y);
      return project(
        camera,
        at.xM + share * (camera.x - at.xM),
        at.yM + share * (camera.y - at.yM),
        otherDogM + upM,
      );
    };
    const [markLook, padLook] = [differ(MARKS_DIFFER.look), differ(PADS_DIFFER.look)];
    const sum = (key: "aheadM" | "upM", ...parts: { aheadM: number; upM: number }[]) =>
      parts.reduce((total, part) => total + part[key], 0);
    const mark = drawn(
      MARK.aheadM + sum("aheadM", markAlways, own.mark, markLook),
      MARK.nearerM,
      MARK.upM + sum("upM", markAlways, own.mark, markLook),
    );
    const pad = drawn(
      sum("aheadM", padAlways, own.pad, padLook),
      PAD.nearerM,
      PAD.upM + sum("upM", padAlways, own.pad, padLook),
    );
    const beside = drawn(0.01, PAD.nearerM, PAD.upM);
    const middle = drawn(0, PAD.nearerM, PAD.upM);
    if (!mark || !pad || !beside || !middle) return null;
    const toldPx = (own.toldM / 0.01) * Math.hypot(beside.x - middle.x, beside.y - middle.y);
    return { mark, pad: { ...pad, sdXPx: toldPx, sdYPx: toldPx, sure: 0.9, paw: 0.95 } };
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
    const seen = shown(paw);
    if (!seen || seen.mark.x < 0 || seen.mark.x > FULL.widthPx) return [];
    const { score, hind, contact } = paw;
    return [{ peak: { ...seen.mark, score, hind, contact, pad: seen.pad }, paw }];
  });
  const cut = box.x < 0 || box.x + box.width > FULL.widthPx;
  return { sighting: { box, dogScore: 0.9, cut, peaks: marked.map((m) => m.peak) }, marked };
}
