import { describe, expect, it } from "vitest";
import { said, saidPlace, saidPowers, saidShare, saidSpan, saidTime, say } from "./units";

describe("quantities", () => {
  // exact by definition: 1 ft = 0.3048 m, 1 nmi = 1852 m, 1 lb = 0.45359237 kg (international yard and pound, 1959)
  it("says SI values in both systems", () => {
    expect(said("height", 31_000, "metric")).toBe("31.0 km");
    expect(said("height", 30_480, "feet")).toBe("100\u202f000 ft");
    expect(said("mass", 0.45359237, "feet")).toBe("1.00 lb");
    expect(said("speed", 1852 / 3600, "feet")).toBe("1 kn");
    expect(said("climb", 5.08, "feet")).toBe("1\u202f000 ft/min");
    expect(said("lift", 9.80665, "metric")).toBe("1\u202f000 gf");
    expect(said("lift", 4.4482216152605, "feet")).toBe("1.00 lbf");
    expect(said("temperature", 233.15, "metric")).toBe("−40 °C");
    expect(said("temperature", 233.15, "feet")).toBe("−40 °F");
    expect(said("distance", 1609.344, "feet")).toBe("1.0 mi");
  });
  it("writes powers of ten as people do, and leaves words alone", () => {
    expect(saidPowers("4.5e-06 (0.0e+00 to 1.2e-15)")).toBe("4.5 × 10⁻⁶ (0 to 1.2 × 10⁻¹⁵)");
    expect(saidPowers("3e+20 m")).toBe("3 × 10²⁰ m");
    expect(saidPowers("GND to FL195, site 2e, one e-5")).toBe("GND to FL195, site 2e, one e-5");
  });
  it("has a dash for what is not known, and no minus before zero", () => {
    for (const unknown of [null, undefined, NaN, Infinity]) expect(said("height", unknown, "metric")).toBe("–");
    expect(say("climb", -0.01, "metric").number).toBe("0.0");
  });
});

describe("shares", () => {
  it("never rounds to none or all", () => {
    expect(saidPlace(-37.38, -64.6)).toBe("37.3800° S 64.6000° W");
    expect(saidPlace(0.5, 10.25, 5)).toBe("0.50000° N 10.25000° E");
    expect(saidShare(0)).toBe("0 %");
    expect(saidShare(0.001)).toBe("< 1 %");
    expect(saidShare(0.514)).toBe("51 %");
    expect(saidShare(0.999)).toBe("> 99 %");
    expect(saidShare(1)).toBe("100 %");
    expect(saidShare(null)).toBe("–");
  });
});

describe("spans and times", () => {
  it("grows with the span", () => {
    expect([0, 12, 89, 90, 600, 5399, 7500, 86_400, 3 * 86_400].map((s) => saidSpan(s))).toEqual(["0 s", "12 s", "89 s", "2 min", "10 min", "1 h 30", "2 h 05", "24 h 00", "3 d"]);
    expect(saidSpan(-30)).toBe("−30 s");
  });
  it("says times in UTC and in the zone of the crew", () => {
    const ms = Date.UTC(2027, 1, 13, 12, 30, 5);
    expect(saidTime(ms)).toBe("12:30Z");
    expect(saidTime(ms, "America/Argentina/Salta")).toBe("09:30");
    expect(saidTime(ms, "UTC", true)).toBe("12:30:05");
    expect(saidTime(Date.UTC(2027, 1, 13, 0, 5))).toBe("00:05Z");
    expect(saidTime(null)).toBe("–");
  });
});
