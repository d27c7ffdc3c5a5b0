import { describe, expect, it } from "vitest";
import { hours, spread } from "./ClockStrip";
import { spanOf, type Mark } from "./clock";

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
