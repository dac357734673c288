import fc from "fast-check";
import { expect, test } from "vitest";
import { nameGait } from "../../src/gait/measures.ts";

test("a dog that hardly moves stands", () => {
  expect(nameGait({ limbPhase: 0.5, dutyFactor: 0.4, speedMps: 0.03 })).toBe("standing");
});

test("hind feet that do not take turns evenly canter, whatever the fore feet do", () => {
  expect(nameGait({ limbPhase: 0.5, dutyFactor: 0.3, hindPhase: 0.2 })).toBe("canter");
  expect(nameGait({ limbPhase: null, dutyFactor: null, hindPhase: 0.85 })).toBe("canter");
});

test("without a limb phase the gait is unclear", () => {
  expect(nameGait({ limbPhase: null, dutyFactor: 0.6 })).toBe("unclear");
});

test("a walking pattern with all feet off the ground is unclear", () => {
  expect(nameGait({ limbPhase: 0.25, dutyFactor: 0.35 })).toBe("unclear");
});

test("a whole stride more or less changes no name", () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 999 }),
      fc.double({ min: 0.2, max: 0.8, noNaN: true }),
      fc.integer({ min: -3, max: 3 }),
      (permille, dutyFactor, strides) => {
        // Half a permille off the limits, so that rounding cannot cross one.
        const limbPhase = (permille + 0.5) / 1000;
        expect(nameGait({ limbPhase: limbPhase + strides, dutyFactor })).toBe(
          nameGait({ limbPhase, dutyFactor }),
        );
      },
    ),
  );
});
