import { describe, expect, it } from "vitest";
import { exampleRecords } from "../../src/app/kennel/examples.ts";
import { clipRecord, dogRecord, sessionRecord } from "../../src/store/records.ts";

const { dogs, sessions, clips } = exampleRecords(Date.UTC(2026, 10, 25));

describe("the example kennel", () => {
  it("is made of records that can be kept, each marked as an example", () => {
    for (const dog of dogs) expect(dogRecord.parse(dog)).toMatchObject({ example: true });
    for (const session of sessions) expect(sessionRecord.parse(session)).toMatchObject({ example: true });
    for (const clip of clips) expect(clipRecord.parse(clip)).toMatchObject({ example: true });
    expect(new Set([...dogs, ...sessions, ...clips].map((one) => one.id)).size).toBe(
      dogs.length + sessions.length + clips.length,
    );
  });

  it("is judged as real sessions are, and comes out as it was invented", () => {
    const juniper = sessions.filter((session) => session.dogName === "Juniper");
    expect(juniper.map((session) => session.judgement?.verdict.kind)).toEqual([
      "too-far",
      "fits",
      "fits",
      "fits",
      "fits",
      "fits",
    ]);
    expect(juniper[0]?.judgement?.stepM?.value).toBeCloseTo(0.47, 2);
    const biscuit = sessions.filter((session) => session.dogName === "Biscuit");
    expect(biscuit[0]?.judgement?.leftRight?.differencePercent.value).toBeGreaterThan(5);
  });

  it("is the same kennel every time", () => {
    expect(exampleRecords(Date.UTC(2026, 10, 25))).toEqual({ dogs, sessions, clips });
  });
});
