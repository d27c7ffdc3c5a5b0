import { describe, expect, it } from "vitest";
import { inward, SHELVES, groundStyle } from "./ground";

const square = [
  [0, 0],
  [1, 0],
  [1, 1],
  [0, 1],
];

describe("edges with teeth", () => {
  it("have the inside on their right, holes the other way round", () => {
    const [outer, hole] = inward([square, [...square].reverse()]);
    // clockwise seen from above, north up: from the first corner north, then east
    expect(outer).toEqual([[0, 0], [0, 1], [1, 1], [1, 0], [0, 0]]);
    expect(hole).toEqual([[0, 1], [0, 0], [1, 0], [1, 1], [0, 1]]);
  });
  it("are closed once", () => {
    expect(inward([[...square, [0, 0]]])[0]).toHaveLength(5);
  });
});

describe("the style", () => {
  const ground = { land: [], coast: [], borders: [], places: [], sites: [], lines: {}, areas: [], known: [] } as never;
  it("has the shelves in order and no source from outside", () => {
    for (const look of ["day", "night"] as const) {
      const style = groundStyle(ground, look, "http://127.0.0.1:8340/");
      const ids = style.layers.map((layer) => layer.id);
      expect(SHELVES.map((shelf) => ids.indexOf(shelf))).toEqual([...SHELVES].map((shelf) => ids.indexOf(shelf)).sort((a, b) => a - b));
      expect(Object.values(style.sources).every((source) => source.type === "geojson")).toBe(true);
      for (const layer of style.layers) if ("source" in layer) expect(style.sources).toHaveProperty(layer.source as string);
    }
  });
});
