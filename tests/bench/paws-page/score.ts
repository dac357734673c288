import type { Joint, JointName, PawPeak } from "../../../src/paws/types.ts";

/** A paw that was marked by hand or is known from the scene. */
export interface TruePaw {
  x: number;
  y: number;
  hind: boolean;
  /** Seen in the picture; hidden ones are not counted. */
  seen: boolean;
  /** On the side away from the camera; null where it was not told apart or means nothing. */
  far: boolean | null;
  left: boolean | null;
  /** On the ground; undefined where it was not told. */
  contact?: boolean | undefined;
}

/** Shares of one kind of paw found within 5 and 10 % of the longer side of the animal's box. */
export class Found {
  close = 0;
  near = 0;
  total = 0;

  add(errorShare: number): void {
    this.total++;
    if (errorShare < 0.05) this.close++;
    if (errorShare < 0.1) this.near++;
  }

  get pck05(): number | null {
    return share(this.close, this.total);
  }

  get pck10(): number | null {
    return share(this.near, this.total);
  }
}

export const share = (part: number, whole: number): number | null =>
  whole === 0 ? null : Math.round((1000 * part) / whole) / 1000;

export class PawScore {
  frames = 0;
  hind = new Found();
  fore = new Found();
  hindNear = new Found();
  hindFar = new Found();
  foreNear = new Found();
  foreFar = new Found();
  /** Hind paws with any candidate near, whatever it was taken for: what tracking over time starts from. */
  anyCandidate = new Found();
  exchanged = { wrong: 0, total: 0 };
  swapped = { wrong: 0, total: 0 };
  /** What the peak at a true paw says of ground and side. */
  contact = { wrong: 0, total: 0 };
  side = { wrong: 0, total: 0 };

  /**
   * Adds one picture. Of each kind (fore, hind) the two best candidates are matched to the true paws the way that
   * fits better.
   */
  add(paws: TruePaw[], peaks: PawPeak[], joints: Joint[], length: number): void {
    this.frames++;
    for (const hind of [true, false]) {
      const truth = paws.filter((p) => p.hind === hind && p.seen);
      const found = peaks.filter((p) => p.hind > 0.5 === hind).slice(0, 2);
      const errors = matched(truth, found).map((e) => e / length);
      truth.forEach((paw, i) => {
        const error = errors[i]!;
        (hind ? this.hind : this.fore).add(error);
        if (paw.far === true) (hind ? this.hindFar : this.foreFar).add(error);
        if (paw.far === false) (hind ? this.hindNear : this.foreNear).add(error);
        const nearest = closest(paw, peaks);
        if (hind) this.anyCandidate.add(nearest.distance / length);
        if (nearest.peak && nearest.distance < 0.05 * length) {
          this.exchanged.total++;
          if (nearest.peak.hind > 0.5 !== hind) this.exchanged.wrong++;
          this.addTraits(paw, nearest.peak);
        }
      });
      this.addSides(truth, joints, length);
    }
  }

  private addTraits(paw: TruePaw, peak: PawPeak): void {
    if (paw.contact !== undefined) {
      this.contact.total++;
      if (peak.contact > 0.5 !== paw.contact) this.contact.wrong++;
    }
    if (paw.far !== null && peak.far !== undefined) {
      this.side.total++;
      if (peak.far > 0.5 !== paw.far) this.side.wrong++;
    }
  }

  private addSides(truth: TruePaw[], joints: Joint[], length: number): void {
    for (const paw of truth) {
      if (paw.left === null) continue;
      const at = (left: boolean) => joints.find((j) => j.name === pawName(left, paw.hind));
      const own = at(paw.left);
      const other = at(!paw.left);
      if (!own || !other) continue;
      const toOwn = distance(own, paw);
      const toOther = distance(other, paw);
      if (Math.min(toOwn, toOther) > 0.05 * length || Math.abs(toOwn - toOther) < 0.02 * length) continue;
      this.swapped.total++;
      if (toOther < toOwn) this.swapped.wrong++;
    }
  }

  report() {
    return {
      frames: this.frames,
      nearHindPck05: this.hindNear.pck05,
      nearHindPck10: this.hindNear.pck10,
      farHindPck05: this.hindFar.pck05,
      farHindPck10: this.hindFar.pck10,
      hindPck05: this.hind.pck05,
      hindPck10: this.hind.pck10,
      hindPaws: this.hind.total,
      nearForePck05: this.foreNear.pck05,
      nearForePck10: this.foreNear.pck10,
      farForePck05: this.foreFar.pck05,
      farForePck10: this.foreFar.pck10,
      forePck05: this.fore.pck05,
      forePck10: this.fore.pck10,
      hindAnyCandidatePck10: this.anyCandidate.pck10,
      foreHindExchanged: share(this.exchanged.wrong, this.exchanged.total),
      leftRightSwapped: share(this.swapped.wrong, this.swapped.total),
      contactRight: share(this.contact.total - this.contact.wrong, this.contact.total),
      farMapRight: share(this.side.total - this.side.wrong, this.side.total),
    };
  }
}

function pawName(left: boolean, hind: boolean): JointName {
  if (hind) return left ? "leftHindPaw" : "rightHindPaw";
  return left ? "leftForePaw" : "rightForePaw";
}

const distance = (a: { x: number; y: number }, b: { x: number; y: number }) =>
  Math.hypot(a.x - b.x, a.y - b.y);

function closest(paw: TruePaw, peaks: PawPeak[]): { peak: PawPeak | null; distance: number } {
  let best: { peak: PawPeak | null; distance: number } = { peak: null, distance: Number.POSITIVE_INFINITY };
  for (const peak of peaks) {
    const d = distance(paw, peak);
    if (d < best.distance) best = { peak, distance: d };
  }
  return best;
}

/** Distance of each true paw from its candidate; infinite where there are too few. */
function matched(truth: TruePaw[], found: PawPeak[]): number[] {
  const to = (t: number, f: number) => (found[f] ? distance(truth[t]!, found[f]) : Number.POSITIVE_INFINITY);
  if (truth.length < 2) return truth.map((_, t) => Math.min(to(t, 0), to(t, 1)));
  const straight = [to(0, 0), to(1, 1)];
  const crossed = [to(0, 1), to(1, 0)];
  const cost = (e: number[]) => e.reduce((sum, v) => sum + Math.min(v, 1e6), 0);
  return cost(straight) <= cost(crossed) ? straight : crossed;
}
