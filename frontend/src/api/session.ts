// Who this page belongs to, and whether the desk can be heard.
import { signal } from "@preact/signals";
import { get, NoAnswer, post, Refusal, useToken, type Problem, type Schemas } from "./client";
import { listen } from "./events";

export type Me = Schemas["MeAnswer"];

/** Null until the desk has said who we are; a problem when it does not know us. */
export const me = signal<Me | null>(null);
export const barred = signal<Problem | null>(null);
/** How far the clock of this device is behind that of the laptop, in milliseconds. */
export const clockOffsetMs = signal(0);

/** Takes the key out of the address, so that it stays in no history, and asks who we are. */
export async function enter(): Promise<void> {
  const key = /^#enter=([\w-]{16,200})$/.exec(location.hash)?.[1];
  if (key) history.replaceState(null, "", `${location.pathname}#/`);
  try {
    if (key) await post("/api/enter", { key });
    await meet();
    listen();
  } catch (error) {
    barred.value =
      error instanceof Refusal
        ? error.problem
        : { status: 0, what: error instanceof NoAnswer ? error.message : "The page failed", fix: "Load the page again.", findings: [] };
  }
}

async function meet(): Promise<void> {
  const asked = Date.now();
  const answer = await get("/api/me");
  clockOffsetMs.value = Date.parse(answer.now_utc) - (asked + Date.now()) / 2;
  useToken(answer.token);
  me.value = answer;
}

/** Whether this person may do what needs at least `role`. */
export function may(role: Me["role"]): boolean {
  const order = ["viewer", "crew", "director"];
  return me.value !== null && order.indexOf(me.value.role) >= order.indexOf(role);
}
