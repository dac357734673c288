/**
 * Every number that a verdict turns on, with its reason. No published study gives a validated spacing rule,
 * a normal landing variance or a threshold for "spacing matches": these are design choices. Those marked
 * "simulator" were chosen from `npm run bench -- verdicts`; the report shows this table.
 */
export const thresholds = {
  /** Landings less likely than this are not counted. */
  countedProbability: 0.3,
  /** Landings less likely than this are doubtful: counted at half weight, and pointed at. */
  doubtfulProbability: 0.6,
  /** No verdict on fewer hind landings in the row: at least four footsteps are needed for repeatable step
   * length on video (van Bloemendaal M et al. J Rehabil Med 2019;51(6)). */
  fewestHindLandings: 4,

  /** A creep under this share of a gap per gap fits: over five gaps it adds up to an eighth of a gap. Simulator:
   * the largest that still calls a 5 % mismatch right 95 times in 100. */
  fitsWithin: 0.025,
  /** Nor is a mismatch smaller than this worth moving poles for: it rounds to less than a centimetre, metres. */
  fitsWithinM: 0.007,
  /** "Fits" is said only when a mismatch this large is ruled out (one-sided 95 %); about one step of adjustment
   * in practice (5 % or 2 to 5 cm; common practice, no source). */
  fitsRulesOut: 0.05,
  fitsLevel: 0.95,
  /** "Too close" or "too far" is said only when the side is this sure (one-sided)… Simulator: right 95 times in 100 at
   * a 5 % mismatch with 5 gaps, 3 passes and 4 % scatter, with the confident wrong side under 1 %. */
  sideLevel: 0.975,
  /** …and this sure when the step is known more roughly than to this share (standard error), from fewer steps than this, or
   * the dog's steps scatter more than this: a wrong move would then be a large one. Simulator: keeps confident false alarms under 1 % at 8 % scatter. */
  roughSideLevel: 0.998,
  roughSe: 0.018,
  roughSteps: 12,
  roughStepCv: 0.06,

  /** At or above this many hind landings for each one expected, the dog fits a second step into gaps: halfway
   * between one and two. */
  twoStepsPerGap: 1.5,
  /** At or below this many, it steps over gaps: one gap in three goes without. */
  steppedOverPerGap: 0.7,
  /** With all feet in each gap a third hind landing is a fresh start, a fourth one means room to spare. */
  allFeetMostHind: 3.2,
  /** Two readings of the step (say, a gap stepped over or a landing missed) must differ at least this much in
   * log-odds before one is believed: 20 to 1. */
  readingMargin: 3,

  /** Single steps spread more than this share of the step (after left/right): no spacing can be read. A sound dog
   * on the flat shows 6.6 to 8.1 % (one motion-captured dog), so 8 % must still be judged. */
  unsteadyStepCv: 0.12,
  /** …and at least this many steps are behind it, or one odd step would call the dog unsteady. */
  unsteadySteps: 8,
  /** Passes whose steps differ by more than this among themselves (standard deviation, share) are not one gait. */
  unsteadyPassSd: 0.05,

  /** Landings steadily farther than this from their target, as a share of the gap, ask for another start point:
   * within a third of the gap around the target a foot is clear of both poles. */
  moveStartBeyond: 0.15,
  /** Passes must agree on the place at least this well (resultant length) before a start point is advised. */
  moveStartAgreement: 0.8,

  /** Above this p (Rayleigh, Zar's formula) landings are said to have no common place in the gaps. */
  commonPlaceP: 0.05,
  /** Two ways of reading the step (Theil–Sen, circular–linear) may differ by this share of a slot; beyond it nothing is
   * read. Simulator: ordinary dogs stay far below. */
  readingsApart: 0.06,

  /** Largest change of spacing at once, metres and share; the smaller holds (common practice, no source: 2 to 5 cm
   * or about 5 %). */
  largestMoveM: 0.05,
  largestMoveShare: 0.1,
  /** Spacings are laid with a tape: rounded to this, metres. */
  roundCmM: 0.01,
  roundInchM: 0.0127,

  /** Walk passes are kept within this share of the median speed: ±0.3 m/s would be 38 % of a 0.8 m/s walk. */
  walkSpeedShare: 0.125,
  /** Trot passes are kept within this of the median speed, m/s: common in studies of trotting dogs. */
  trotSpeedMps: 0.3,
  /** Speed may change by this within a pass, m/s²: Hans EC et al. Vet J 2014;202:498; Piazza AM et al. AJVR 2017;78:500. */
  accelerationMps2: 0.5,
  /** …unless the change over the whole pass stays under this share of its speed (short passes measure it poorly). */
  speedChangeShare: 0.25,

  /** What is known before a single step is seen: step scatter of about this share, worth this many steps. Between
   * a dog on the flat (6.6 to 8.1 %) and a practised one over poles; a few passes cannot tell their own scatter well.
   * Simulator: interval coverage 93 to 97 %. */
  priorStepCv: 0.042,
  priorSteps: 6,
  /** The same for the spread of whole passes about the dog's mean step: within-dog 1.6 to 3.5 % over all gait
   * measures (Fanchon L et al. Vet Comp Orthop Traumatol, 10.1055/s-0038-1632979), less at one held speed. */
  priorPassSd: 0.008,
  priorPasses: 6,
  /** A pass's mean speed is taken to be measured to this share; only what differs beyond it is the dog's. */
  speedErrorShare: 0.02,
  /** The landings' own stated error is taken out of the step scatter, but never more than this share of its variance:
   * that error may be overstated, or common to all landings. */
  mostNoiseShare: 0.3,

  /** Fatigue is looked for from this many passes on. */
  fatiguePasses: 4,
  /** …and named when the step or the speed falls by more than this share from first to last. */
  fatigueShare: 0.06,

  /** A slower dog is named at this share, speed being measured less well than the step. */
  fatigueSpeedShare: 0.12,

  /** Left/right is read from this many steps onto each hind foot on. */
  sideSteps: 4,
  /** The approach is read from this many hind steps on. */
  approachSteps: 3,
  /** More passes than this are never asked for in one go. */
  mostMorePasses: 8,
} as const;
