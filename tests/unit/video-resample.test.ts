import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  type Colour,
  describeBytes,
  layoutOf,
  partOf,
  type StoredPicture,
} from "../../src/video/channels.ts";
import { sampleGrey, sampleRgb, storedRect, type Upright } from "../../src/video/resample.ts";

const FULL: Colour = { model: "yuv", matrix: "bt709", fullRange: true };

/** A planar 4:2:0 picture from functions of place. */
function picture(
  width: number,
  height: number,
  luma: (x: number, y: number) => number,
  colour: Colour = FULL,
  chroma: [number, number] = [128, 128],
): StoredPicture {
  const half = { width: Math.ceil(width / 2), height: Math.ceil(height / 2) };
  const bytes = new Uint8Array(width * height + 2 * half.width * half.height);
  for (let y = 0; y < height; y++) for (let x = 0; x < width; x++) bytes[y * width + x] = luma(x, y);
  bytes.fill(chroma[0], width * height, width * height + half.width * half.height);
  bytes.fill(chroma[1], width * height + half.width * half.height);
  const planes = [
    { offset: 0, stride: width },
    { offset: width * height, stride: half.width },
    { offset: width * height + half.width * half.height, stride: half.width },
  ];
  return describeBytes(bytes, layoutOf("I420")!, planes, width, height, colour);
}

/** The same sampling spelled out pixel by pixel on a picture that was first turned upright. */
function plainly(
  at: (x: number, y: number) => number,
  upright: Upright,
  region: { x: number; y: number; width: number; height: number },
  width: number,
  height: number,
): number[] {
  const clamp = (value: number, size: number) => Math.min(size - 1, Math.max(0, value));
  const axis = (start: number, extent: number, outputs: number, output: number): [number, number][] => {
    const pitch = extent / outputs;
    const from = start + output * pitch;
    if (pitch < 1) {
      const middle = from + pitch / 2 - 0.5;
      const low = Math.floor(middle);
      return [
        [low, 1 - (middle - low)],
        [low + 1, middle - low],
      ];
    }
    const parts: [number, number][] = [];
    for (let k = Math.floor(from); k < from + pitch; k++) {
      const share = (Math.min(k + 1, from + pitch) - Math.max(k, from)) / pitch;
      if (share > 0) parts.push([k, share]);
    }
    return parts;
  };
  const out: number[] = [];
  for (let j = 0; j < height; j++) {
    for (let i = 0; i < width; i++) {
      let sum = 0;
      for (const [y, wy] of axis(region.y, region.height, height, j)) {
        for (const [x, wx] of axis(region.x, region.width, width, i)) {
          sum += wx * wy * at(clamp(x, upright.widthPx), clamp(y, upright.heightPx));
        }
      }
      out.push(sum);
    }
  }
  return out;
}

describe("sampling a region of the upright picture", () => {
  // Rows of 16 bytes are read four bytes at a time, rows of 14 byte by byte.
  describe.each([16, 14])("of rows of %i pixels", (W) => {
    const H = 10;
    const luma = (x: number, y: number) => (x * 37 + y * 91 + x * y * 13) % 256;
    const stored = picture(W, H, luma);

    it("is the same as turning the picture first and averaging pixel by pixel, for any region, size and turn", () => {
      const number = fc.double({ min: -8, max: 16, noNaN: true });
      const extent = fc.double({ min: 0.5, max: 25, noNaN: true });
      const size = fc.integer({ min: 1, max: 12 });
      fc.assert(
        fc.property(
          fc.constantFrom(0, 90, 180, 270) as fc.Arbitrary<Upright["rotationDeg"]>,
          fc.boolean(),
          fc.record({ x: number, y: number, width: extent, height: extent }),
          size,
          size,
          (rotationDeg, flip, region, width, height) => {
            const sideways = rotationDeg % 180 !== 0;
            const upright = { widthPx: sideways ? H : W, heightPx: sideways ? W : H, rotationDeg, flip };
            const at = (x: number, y: number) => {
              const turnedX = flip ? upright.widthPx - 1 - x : x;
              if (rotationDeg === 90) return luma(y, H - 1 - turnedX);
              if (rotationDeg === 180) return luma(W - 1 - turnedX, H - 1 - y);
              if (rotationDeg === 270) return luma(W - 1 - y, turnedX);
              return luma(turnedX, y);
            };
            const expected = plainly(at, upright, region, width, height);
            const got = sampleGrey(stored, upright, region, width, height);
            expected.forEach((value, index) => {
              // Half a level by rounding, and at most half a level from row to row by weights in whole 256ths.
              const rows = Math.max(region.width / width, region.height / height) + 1;
              expect(Math.abs((got[index] as number) - value)).toBeLessThanOrEqual(0.51 + 0.5 * rows);
            });
          },
        ),
        { numRuns: 400 },
      );
    });

    it("gives the pixels themselves where region and output agree", () => {
      const upright: Upright = { widthPx: W, heightPx: H, rotationDeg: 0, flip: false };
      const got = sampleGrey(stored, upright, { x: 3, y: 2, width: 5, height: 4 }, 5, 4);
      expect([...got.slice(0, 5)]).toEqual([3, 4, 5, 6, 7].map((x) => luma(x, 2)));
    });

    it("counts pixels that are wider than tall in square pixels", () => {
      const wide: Upright = { widthPx: 2 * W, heightPx: H, rotationDeg: 0, flip: false };
      const got = sampleGrey(stored, wide, { x: 6, y: 2, width: 2, height: 1 }, 1, 1);
      expect(got[0]).toBe(luma(3, 2));
    });

    it("writes into the array it is given and says when that is too small", () => {
      const upright: Upright = { widthPx: W, heightPx: H, rotationDeg: 0, flip: false };
      const whole = { x: 0, y: 0, width: W, height: H };
      const out = new Uint8Array(64);
      expect(sampleGrey(stored, upright, whole, 8, 8, out)).toBe(out);
      expect(() => sampleRgb(stored, upright, whole, 8, 8, out)).toThrow(/64 bytes; 8 × 8 × 3 do not fit/);
      expect(() => sampleGrey(stored, upright, { ...whole, width: 0 }, 8, 8)).toThrow(/positive size/);
      expect(() => sampleGrey(stored, upright, whole, 8.5, 8)).toThrow(/whole positive/);
    });
  });
});

describe("colour", () => {
  const upright: Upright = { widthPx: 8, heightPx: 8, rotationDeg: 0, flip: false };
  const whole = { x: 0, y: 0, width: 8, height: 8 };
  const rgbOf = (y: number, u: number, v: number, colour: Colour) => [
    ...sampleRgb(
      picture(8, 8, () => y, colour, [u, v]),
      upright,
      whole,
      1,
      1,
    ),
  ];
  const close = (got: number[], wanted: number[]) => {
    got.forEach((value, k) => {
      expect(Math.abs(value - (wanted[k] as number))).toBeLessThanOrEqual(2);
    });
  };

  // 100 % colour bars coded by ITU-R BT.709-6, items 3.2 to 3.5, with 8-bit quantisation from its item 4.6:
  // Y = 16 + 219·(0.2126 R + 0.7152 G + 0.0722 B), Cb = 128 + 224·(B − Y)/1.8556, Cr = 128 + 224·(R − Y)/1.5748.
  it.each([
    ["white", [235, 128, 128], [255, 255, 255]],
    ["yellow", [219, 16, 138], [255, 255, 0]],
    ["cyan", [188, 154, 16], [0, 255, 255]],
    ["green", [173, 42, 26], [0, 255, 0]],
    ["magenta", [78, 214, 230], [255, 0, 255]],
    ["red", [63, 102, 240], [255, 0, 0]],
    ["blue", [32, 240, 118], [0, 0, 255]],
    ["black", [16, 128, 128], [0, 0, 0]],
  ] as [string, [number, number, number], number[]][])(
    "decodes the %s bar of BT.709",
    (_, [y, u, v], rgb) => {
      close(rgbOf(y, u, v, { model: "yuv", matrix: "bt709", fullRange: false }), rgb);
    },
  );

  // The same bars by ITU-R BT.601-7 (Y = 0.299 R + 0.587 G + 0.114 B).
  it.each([
    ["yellow", [210, 16, 146], [255, 255, 0]],
    ["cyan", [170, 166, 16], [0, 255, 255]],
    ["green", [145, 54, 34], [0, 255, 0]],
    ["magenta", [106, 202, 222], [255, 0, 255]],
    ["red", [81, 90, 240], [255, 0, 0]],
    ["blue", [41, 240, 110], [0, 0, 255]],
  ] as [string, [number, number, number], number[]][])(
    "decodes the %s bar of BT.601",
    (_, [y, u, v], rgb) => {
      close(rgbOf(y, u, v, { model: "yuv", matrix: "bt601", fullRange: false }), rgb);
    },
  );

  // JPEG File Interchange Format 1.02: the BT.601 matrix over the full range.
  it("decodes full-range red as JFIF has it", () => {
    close(rgbOf(76, 85, 255, { model: "yuv", matrix: "bt601", fullRange: true }), [255, 0, 0]);
  });

  it("stretches limited-range grey to black and white", () => {
    const limited: Colour = { model: "yuv", matrix: "bt709", fullRange: false };
    const grey = (y: number, colour: Colour) =>
      sampleGrey(
        picture(8, 8, () => y, colour),
        upright,
        whole,
        1,
        1,
      )[0];
    expect(grey(16, limited)).toBe(0);
    expect(grey(235, limited)).toBe(255);
    expect(grey(16, FULL)).toBe(16);
    expect(grey(4, limited)).toBe(0);
  });
});

describe("pixel formats", () => {
  const upright: Upright = { widthPx: 4, heightPx: 4, rotationDeg: 0, flip: false };
  const whole = { x: 0, y: 0, width: 4, height: 4 };
  const colour: Colour = { model: "yuv", matrix: "bt709", fullRange: false };
  const red = [63, 102, 240] as const;

  const expectRed = (stored: StoredPicture) => {
    const [r = 0, g = 0, b = 0] = sampleRgb(stored, upright, whole, 1, 1);
    expect(r).toBeGreaterThan(252);
    expect(g).toBeLessThan(3);
    expect(b).toBeLessThan(3);
  };

  it("reads interleaved chroma (NV12)", () => {
    const bytes = new Uint8Array([...Array(16).fill(red[0]), ...Array(4).fill([red[1], red[2]]).flat()]);
    const planes = [
      { offset: 0, stride: 4 },
      { offset: 16, stride: 4 },
    ];
    expectRed(describeBytes(bytes, layoutOf("NV12")!, planes, 4, 4, colour));
  });

  it("reads ten bits a sample (I420P10)", () => {
    const samples = new Uint16Array([
      ...Array(16).fill(red[0] * 4 + 1),
      ...Array(4).fill(red[1] * 4 + 2),
      ...Array(4).fill(red[2] * 4),
    ]);
    const planes = [
      { offset: 0, stride: 8 },
      { offset: 32, stride: 4 },
      { offset: 40, stride: 4 },
    ];
    const layout = layoutOf("I420P10")!;
    expectRed(describeBytes(new Uint8Array(samples.buffer), layout, planes, 4, 4, colour));
  });

  it("reads full chroma (I444) and passes alpha by (I420A)", () => {
    const i444 = new Uint8Array([
      ...Array(16).fill(red[0]),
      ...Array(16).fill(red[1]),
      ...Array(16).fill(red[2]),
    ]);
    const planes = [0, 16, 32].map((offset) => ({ offset, stride: 4 }));
    expectRed(describeBytes(i444, layoutOf("I444")!, planes, 4, 4, colour));
    expect(layoutOf("I420A")).toEqual(layoutOf("I420"));
    expect(layoutOf("I422AP10")).toEqual(layoutOf("I422P10"));
  });

  it.each([
    ["RGBA", [255, 0, 0, 255]],
    ["BGRX", [0, 0, 255, 0]],
  ])("reads %s", (format, pixel) => {
    const bytes = new Uint8Array(Array(16).fill(pixel).flat());
    const stored = describeBytes(bytes, layoutOf(format)!, [{ offset: 0, stride: 16 }], 4, 4, {
      model: "rgb",
    });
    expectRed(stored);
    // Luma of red by BT.709.
    expect(sampleGrey(stored, upright, whole, 1, 1)[0]).toBe(Math.round(0.2126 * 255));
  });

  it("knows no layout for a format of the graphics card's own", () => {
    expect(layoutOf(null)).toBeNull();
  });
});

describe("a picture of which only a part was copied", () => {
  const [width, height] = [64, 48];
  const shade = (x: number, y: number) => (x * 7 + y * 13 + x * y) % 256;
  const whole = picture(width, height, shade, FULL, [100, 160]);

  it.each([0, 90, 180, 270] as const)(
    "gives the same samples within it, turned by %i degrees",
    (rotationDeg) => {
      const sideways = rotationDeg % 180 !== 0;
      const upright: Upright = {
        widthPx: sideways ? height : width,
        heightPx: sideways ? width : height,
        rotationDeg,
        flip: false,
      };
      const region = { x: 9.3, y: 11.6, width: 17.2, height: 14.9 };
      const rect = storedRect(whole, upright, region);
      expect(rect.width * rect.height).toBeLessThan((width * height) / 3);
      const left = rect.left - (rect.left % 2);
      const top = rect.top - (rect.top % 2);
      const part = partOf(
        picture(
          rect.left + rect.width - left + 1,
          rect.top + rect.height - top + 1,
          (x, y) => shade(left + x, top + y),
          FULL,
          [100, 160],
        ),
        { left, top },
        width,
        height,
      );
      for (const [columns, rows] of [
        [8, 7],
        [40, 30],
      ] as const) {
        expect(sampleRgb(part, upright, region, columns, rows)).toEqual(
          sampleRgb(whole, upright, region, columns, rows),
        );
      }
    },
  );
});
