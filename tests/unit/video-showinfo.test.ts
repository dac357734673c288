import { expect, it } from "vitest";
import { readShownPictures } from "../../src/video/showinfo.ts";

const base = (place: number) =>
  `[Parsed_showinfo_${place} @ 0xf2b160] config in time_base: 1/15360, frame_rate: 60/1`;
const picture = (place: number, ticks: number, key = 0) =>
  `[Parsed_showinfo_${place} @ 0xf2b160] n:   0 pts:${String(ticks).padStart(7)} pts_time:0.1 pos:  376 fmt:yuv420p i:P iskey:${key} type:P`;

it("gives times exact to the tick, which the printed seconds are not", () => {
  const log = [
    base(0),
    "[Parsed_showinfo_0 @ 0x1] config out time_base: 0/0",
    picture(0, 1896448, 1),
    picture(0, -256),
  ];
  expect(readShownPictures(log)).toEqual([
    { timeS: 1896448 / 15360, doubtful: false },
    { timeS: -256 / 15360, doubtful: false },
  ]);
});

it("doubts every picture from a complaint to the next key frame, also when the complaint came before the cut", () => {
  const log = [
    base(0),
    base(3),
    picture(0, 0, 1),
    "[hevc @ 0x5602c8613100] Invalid NAL unit size (-267044257 > 140).",
    picture(0, 256),
    picture(0, 512),
    picture(3, 512),
    picture(0, 768, 1),
    picture(3, 768, 1),
    picture(0, 1024),
    picture(3, 1024),
  ];
  expect(readShownPictures(log).map(({ doubtful }) => doubtful)).toEqual([true, false, false]);
});

it("takes other lines for no complaint", () => {
  const log = [
    base(0),
    "Input #0, mov,mp4,m4a,3gp,3g2,mj2, from '/clip/clip':",
    "-vsync is deprecated. Use -fps_mode",
    "[swscaler @ 0xf2b160] deprecated pixel format used, make sure you did set range correctly",
    picture(0, 0, 1),
    picture(0, 256),
  ];
  expect(readShownPictures(log).some(({ doubtful }) => doubtful)).toBe(false);
});

it("gives nothing where nothing was decoded", () => {
  expect(readShownPictures(["Aborted()"])).toEqual([]);
});
