import { afterEach, describe, expect, it } from "vitest";
import { system } from "../shell/units";
import { axisOf, round } from "./axes";

afterEach(() => {
  system.value = "metric";
});

describe("round values", () => {
  it("are round, inside, and not too many", () => {
    expect(round(0, 35, 6)).toEqual([0, 10, 20, 30]);
    expect(round(0.3, 0.9, 4)).toEqual([0.4, 0.6, 0.8]);
    expect(round(-3, 3, 6)).toEqual([-3, -2, -1, 0, 1, 2, 3]);
    expect(round(5, 5, 6)).toEqual([5]);
  });
  it("are round in the chosen system and lie where SI has them", () => {
    expect(axisOf("height", "Height", 0, 33_000, 4).ticks.map((one) => one.words)).toEqual(["0", "10", "20", "30"]);
    system.value = "feet";
    const axis = axisOf("height", "Height", 0, 33_000, 4);
    expect(axis.name).toBe("Height, ft");
    expect(axis.ticks.at(-1)).toEqual({ value: 30_480, words: "100\u202f000" }); // 1 ft = 0.3048 m exactly
  });
});
