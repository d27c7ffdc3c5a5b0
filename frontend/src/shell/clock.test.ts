import { describe, expect, it } from "vitest";
import { hours, spread } from "./ClockStrip";
import { at, deadlines, ended, flightNow, marks, saidMoment, setAside, setDeadlines, setMarks, spanOf, type Mark } from "./clock";

const HOUR = 3600_000;
const mark = (name: string, ms: number, how: Mark["how"] = "planned"): Mark => ({ name, ms, how });

describe("the span of the strip", () => {
  it("holds the flight, and deadlines and now only when they are near", () => {
    const flight = [mark("release", 100 * HOUR), mark("touchdown", 103 * HOUR)];
    const far = spanOf(flight, [{ name: "application", ms: 0 }], 20 * HOUR);
    expect(far![0]).toBeGreaterThan(99 * HOUR);
    const near = spanOf(flight, [{ name: "notice", ms: 95 * HOUR }], 104 * HOUR)!;
    expect(near[0]).toBeLessThan(95 * HOUR);
    expect(near[1]).toBeGreaterThan(104 * HOUR);
    expect(spanOf([], [{ name: "notice", ms: 1 }], 2)).toBeNull();
  });
  it("has room although all marks are one moment", () => {
    const [from, to] = spanOf([mark("release", HOUR)], [], HOUR)!;
    expect(to - from).toBeGreaterThanOrEqual(20 * 60_000);
  });
});

describe("where a moment lies", () => {
  const flight = [mark("release", HOUR, "flown"), mark("touchdown", 3.5 * HOUR, "predicted")];
  it("counts to what is next, and back to what was last", () => {
    expect(saidMoment(flight, 3 * HOUR, false)).toBe("touchdown in 30 min");
    expect(saidMoment(flight, 3.6 * HOUR, false)).toBe("touchdown due 6 min ago");
    expect(saidMoment([mark("touchdown", HOUR, "flown")], 1.5 * HOUR, false)).toBe("touchdown 30 min ago");
    expect(saidMoment([], 0, false)).toBe("");
  });
  it("never counts down on a flight that is over", () => {
    for (const ms of [0.5, 1, 2, 3, 4].map((hours) => hours * HOUR)) expect(saidMoment(flight, ms, true)).not.toMatch(/ in | ago/);
    expect(saidMoment(flight, 2.5 * HOUR, true)).toBe("flight time 1 h 30");
    expect(saidMoment(flight, 0.5 * HOUR, true)).toBe("30 min before release");
    expect(saidMoment([mark("release", HOUR)], 2 * HOUR, true)).toBe("release not known");
  });
});

describe("a flight of its own on the strip", () => {
  it("stands alone, at its end, and leaves the marks of the day as they were", () => {
    setMarks([mark("release", 900 * HOUR)]);
    setDeadlines([{ name: "notice", ms: 890 * HOUR }]);
    at.value = 899 * HOUR;
    setAside({ marks: [mark("touchdown", 5 * HOUR, "flown"), mark("release", 2 * HOUR, "flown")], deadlines: [], ended: { name: "touchdown", ms: 5 * HOUR } });
    expect(marks.value.map((one) => one.ms)).toEqual([2 * HOUR, 5 * HOUR]);
    expect([flightNow.value, at.value, deadlines.value]).toEqual([5 * HOUR, null, []]);
    setMarks([mark("window opens", 898 * HOUR)]);
    expect(marks.value).toHaveLength(2);
    setAside(null);
    expect(marks.value.map((one) => one.name)).toEqual(["window opens", "release"]);
    expect([ended.value, deadlines.value.length]).toEqual([null, 1]);
  });
});

describe("labels", () => {
  it("do not run into each other, and what was flown goes first", () => {
    const labels = spread(
      [
        { mark: mark("release", 1), x: 100 },
        { mark: mark("release", 2, "flown"), x: 110 },
        { mark: mark("window opens", 3), x: 130 },
        { mark: mark("burst", 4, "predicted"), x: 400 },
      ],
      600,
    );
    expect(labels.map((one) => [one.mark.name, one.mark.how])).toEqual([
      ["release", "flown"],
      ["burst", "predicted"],
    ]);
  });
  it("stay inside", () => {
    expect(spread([{ mark: mark("touchdown", 1), x: 598 }], 600)[0]!.anchor).toBe("end");
    expect(spread([{ mark: mark("touchdown", 1), x: 2 }], 600)[0]!.anchor).toBe("start");
  });
});

describe("round times", () => {
  it("fit the width", () => {
    const times = hours(0, 4 * HOUR, 600);
    expect(times.length).toBeLessThanOrEqual(600 / 64);
    expect(times.every((ms) => ms % (30 * 60_000) === 0)).toBe(true);
  });
});
