import { beforeEach, describe, expect, it, vi } from "vitest";

vi.stubGlobal("location", { hash: "" });
vi.stubGlobal("addEventListener", () => undefined);
vi.stubGlobal("window", globalThis);
vi.stubGlobal("fetch", () => new Promise(() => undefined));
const { change, count, edits, isOut, ordered, savedAt, takeOut, valueAt } = await import("./draft");
const { plan } = await import("../../shell/plan");
const { apart, placed } = await import("./TrainDrawing");

const tables = { fill: { climb: "5 m/s" }, package: [{ name: "a", edges: ["1 cm", "2 cm"] }, { name: "b" }] };

beforeEach(() => {
  edits.value = new Map();
  plan.value = { tables, digest: null } as never;
});

describe("the draft", () => {
  it("finds values in the tables", () => {
    expect(savedAt(tables, "fill.climb")).toBe("5 m/s");
    expect(savedAt(tables, "package[1].edges[2]")).toBe("2 cm");
    expect(savedAt(tables, "package[3].name")).toBeUndefined();
    expect(savedAt(tables, "fill.climb.deeper")).toBeUndefined();
  });
  it("forgets a change that changes nothing", () => {
    change("fill.climb", "6 m/s");
    expect(valueAt("fill.climb")).toBe("6 m/s");
    change("fill.climb", "5 m/s");
    change("fill.volume", null);
    expect(edits.value.size).toBe(0);
  });
  it("takes saved blocks out and forgets new ones", () => {
    change("package[3].name", "c");
    change("package[4].name", "d");
    expect(count("package")).toBe(4);
    takeOut("package", 3);
    expect(count("package")).toBe(3);
    expect(valueAt("package[3].name")).toBe("d");
    takeOut("package", 1);
    expect(isOut("package", 1)).toBe(true);
  });
  it("lets blocks leave last, the last one first", () => {
    for (const number of [1, 2]) takeOut("package", number);
    change("package[3].name", "c");
    expect(ordered(edits.value).map((one) => one.path)).toEqual(["package[3].name", "package[2]", "package[1]"]);
  });
});

describe("the drawing", () => {
  it("hangs every piece below the one before", () => {
    const pieces = [
      { kind: "line", name: "", mass_kg: 0, length_m: 10 },
      { kind: "package", name: "", mass_kg: 0, edges_m: [0.2, 0.3, 0.1] },
      { kind: "line", name: "", mass_kg: 0, length_m: 5 },
    ];
    const spans = placed(pieces as never).map(({ from, to }) => [from, to]);
    expect(spans).toEqual([[0, 10], [10, 10.3], [10.3, 15.3]]);
  });
  it("keeps labels apart and on the paper", () => {
    const places = apart([10, 12, 14, 95], 20, 100);
    expect(places.every((place, index) => index === 0 || place - places[index - 1]! >= 20)).toBe(true);
    expect(Math.max(...places)).toBeLessThanOrEqual(100);
  });
});
