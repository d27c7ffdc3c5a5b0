// The saved plan, which every page may read; page Plan alone changes it.
import { signal } from "@preact/signals";
import { get, type Schemas } from "../api/client";
import { setMarks, zone } from "./clock";

export type PlanAnswer = Schemas["PlanAnswer"];

export const plan = signal<PlanAnswer | null>(null);
export const planError = signal<unknown>(null);

export async function loadPlan(): Promise<void> {
  try {
    take(await get("/api/plan"));
  } catch (error) {
    planError.value = error;
  }
}

/** A newer answer of the desk, from wherever it came. */
export function take(answer: PlanAnswer): void {
  plan.value = answer;
  planError.value = null;
  const mission = answer.mission;
  if (!mission) return;
  zone.value = mission.time_zone;
  setMarks([
    { name: "window opens", ms: Date.parse(mission.opens_utc), how: "planned" },
    { name: "release", ms: Date.parse(mission.release_utc), how: "planned" },
    { name: "window closes", ms: Date.parse(mission.closes_utc), how: "planned" },
  ]);
}
