import { describe, expect, it } from "vitest";
import { curtain } from "./curtain";

describe("a curtain under a flight", () => {
  it("has a strip for each piece, as high as its middle, and none where nothing moves", () => {
    const line = { longitude_deg: [0, 1, 1, 1], latitude_deg: [0, 0, 0, 1], height_msl_m: [100, 1100, 2100, 100], top: 2 };
    const { features } = curtain(line, 100);
    expect(features.map((one) => one.properties)).toEqual([
      { leg: "up", height: 500 },
      { leg: "down", height: 1000 },
    ]);
    const ring = features[0]?.geometry.type === "Polygon" ? features[0].geometry.coordinates[0] : undefined;
    const wide = ((ring?.[0]?.[1] ?? 0) - (ring?.[3]?.[1] ?? 0)) * 111_195;
    expect(wide).toBeCloseTo(180, 6);
  });
});
