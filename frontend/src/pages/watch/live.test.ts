import { describe, expect, it } from "vitest";
import { phaseOf, type State } from "./live";

const MINUTE = 60_000;
const heard = (phase: string, place: boolean): State => ({ phase, place: place ? { time_utc: new Date(0).toISOString() } : null }) as unknown as State;

describe("the phase that a person is told", () => {
  it("is that of the newest position while it is fresh", () => {
    expect(phaseOf(heard("ascent", true), MINUTE)).toEqual({ said: "ascent", was: "" });
  });
  it("is only what it was once a balloon in the air is silent", () => {
    for (const phase of ["ascent", "float", "descent"]) expect(phaseOf(heard(phase, true), 3 * MINUTE)).toEqual({ said: "not heard", was: `${phase} when last heard, ` });
  });
  it("stays on the ground, where nothing moves any more", () => {
    expect(phaseOf(heard("landed", true), 60 * MINUTE).said).toBe("landed");
    expect(phaseOf(heard("not known", false), MINUTE).said).toBe("no position");
  });
});
