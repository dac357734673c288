import type { AimId, VerdictKind } from "../../spacing/types.ts";

export const verdictName: Record<VerdictKind, string> = {
  fits: "fits",
  "fits-move-start": "fits, move the start",
  "too-close": "poles too close",
  "too-far": "poles too far apart",
  "two-steps": "two steps in a gap",
  "stepped-over": "gap stepped over",
  "not-steady": "not steady yet",
  "cannot-tell": "can't tell yet",
};

export const aimName: Record<AimId, string> = {
  "first-poles": "First poles",
  "one-at-a-time": "One pole at a time",
  "even-loading": "Even loading",
  "longer-reach": "Longer reach",
  "higher-lift": "Higher lift",
  "careful-feet": "Careful feet",
};
