import { describe, expect, it } from "vitest";
import { measured, momentOf, type Way } from "./moment";

const WAY: Way = { seconds: [0, 100, 200], longitude_deg: [10, 11, 12], latitude_deg: [50, 50, 51], height_msl_m: [200, 1200, 100], top: 1, unusual: false, landed: true };

describe("a moment of a flight", () => {
  it("lies between its points, climbing until the top", () => {
    expect(momentOf(WAY, 50)).toEqual({ longitude: 10.5, latitude: 50, height: 700, up: true });
    expect(momentOf(WAY, 150)).toEqual({ longitude: 11.5, latitude: 50.5, height: 650, up: false });
    expect(momentOf(WAY, 200)?.height).toBe(100);
  });
  it("is none before the release and after the end", () => {
    expect(momentOf(WAY, -1)).toBeNull();
    expect(momentOf(WAY, 201)).toBeNull();
  });
});

describe("a distance read off the map", () => {
  it("is one degree of the mean sphere along the equator: 111.195 km, due east", () => {
    const { metres, bearing } = measured([0, 0], [1, 0]);
    expect(metres / 1000).toBeCloseTo(111.195, 2);
    expect(bearing).toBeCloseTo(90, 6);
    expect(measured([179.5, 0], [-179.5, 0]).metres / 1000).toBeCloseTo(111.195, 2);
  });
});
