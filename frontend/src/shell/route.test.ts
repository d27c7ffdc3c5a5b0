import { describe, expect, it, vi } from "vitest";

vi.stubGlobal("location", { hash: "" });
vi.stubGlobal("addEventListener", () => undefined);
const { address, read } = await import("./route");

describe("addresses of pages", () => {
  it("are read as they are written", () => {
    const written = address("window", { site: "A & B", fill: "slow" });
    expect(read(written)).toEqual({ page: "window", query: { site: "A & B", fill: "slow" } });
    expect(read("")).toEqual({ page: "plan", query: {} });
    expect(read("#/../x").page).toBe("plan");
  });
});
