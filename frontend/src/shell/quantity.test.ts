import { describe, expect, it } from "vitest";
import { inChosenUnits, read } from "./quantity";
import { system } from "./units";

describe("what was typed", () => {
  it("is read in SI", () => {
    expect(read("1200 g")?.si).toBeCloseTo(1.2, 12);
    expect(read(" 2.5lb ")?.si).toBeCloseTo(1.133980925, 12);
    expect(read("980 ft/min")?.si).toBeCloseTo(4.9784, 12);
    expect(read("1.5 m3")?.quantity).toBe("volume");
    expect(read("31 km", "height")).toEqual({ quantity: "height", si: 31_000 });
  });
  it("is left alone where it is no quantity", () => {
    for (const text of ["", "g", "1,200 g", "12 parsec", "1e9 g", "6 %", "constructor", "5 constructor", "5 toString"]) expect(read(text)).toBeNull();
  });
  it("is said in the other system only", () => {
    system.value = "feet";
    expect(inChosenUnits("1200 g")).toBe("= 2.65 lb");
    expect(inChosenUnits("2 lb")).toBe("");
    system.value = "metric";
    expect(inChosenUnits("2 lb")).toBe("= 907 g");
    expect(inChosenUnits("20 cm")).toBe("");
  });
});
