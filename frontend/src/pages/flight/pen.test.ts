import { describe, expect, it } from "vitest";
import { shapeOf } from "./Pen";

const square = [[0, 0], [1, 0], [1, 1], [0, 1]];

describe("what is drawn of points set on the map", () => {
  it("is nothing before the first", () => {
    expect(shapeOf(null).features).toEqual([]);
    expect(shapeOf({ what: "zone", points: [] }).features).toEqual([]);
  });
  it("is an open way for a measure, and its points", () => {
    const [way, ...points] = shapeOf({ what: "measure", points: square }).features;
    expect(way?.geometry).toEqual({ type: "LineString", coordinates: square });
    expect(points.map((one) => one.geometry.type)).toEqual(["Point", "Point", "Point", "Point"]);
  });
  it("is closed for a zone from the third corner on", () => {
    const two = shapeOf({ what: "zone", points: square.slice(0, 2) }).features[0];
    expect(two?.geometry).toEqual({ type: "LineString", coordinates: square.slice(0, 2) });
    const all = shapeOf({ what: "zone", points: square }).features[0];
    expect(all?.geometry).toEqual({ type: "LineString", coordinates: [...square, square[0]] });
    expect(all?.properties).toEqual({ what: "zone" });
  });
});
