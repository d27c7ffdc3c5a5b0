// The times of the flight that all pages share, and the moment that is shown.
import { computed, signal } from "@preact/signals";
import { clockOffsetMs } from "../api/session";

/** planned: the plan says so; predicted: computed; flown: it happened. */
export type How = "planned" | "predicted" | "flown";

export interface Mark {
  /** One word or two: "release", "burst". */
  name: string;
  /** Milliseconds since 1970, UTC. */
  ms: number;
  how: How;
  /** Where there is a spread: from and to, milliseconds. */
  from?: number;
  to?: number;
}

export interface Deadline {
  name: string;
  ms: number;
}

/** Set by the pages, drawn by the strip; a page leaves alone what it does not know. */
export const marks = signal<readonly Mark[]>([]);
export const deadlines = signal<readonly Deadline[]>([]);
/** IANA zone of the crew; undefined until a plan is known. */
export const zone = signal<string | undefined>(undefined);
/** The moment that map, charts and numbers show; null: now. */
export const at = signal<number | null>(null);
/** Now on the laptop, once a second. */
export const now = signal(Date.now());
/** A rehearsal or a replay runs on a time of its own: what that is just now, from the desk's own now. */
export const flightTime = signal<((ms: number) => number) | null>(null);

/** What "now" means for the flight: the laptop's clock, or that of a rehearsal. */
export const flightNow = computed(() => (flightTime.value ? flightTime.value(now.value) : now.value));
/** The moment that is shown. */
export const shown = computed(() => at.value ?? flightNow.value);

setInterval(() => {
  now.value = Date.now() + clockOffsetMs.value;
}, 1000);

/** Puts marks on the strip: each replaces the one of the same name and how. */
export function setMarks(given: readonly Mark[]): void {
  const rest = marks.value.filter((old) => !given.some((mark) => mark.name === old.name && mark.how === old.how));
  marks.value = [...rest, ...given].sort((a, b) => a.ms - b.ms);
}

/** From and to of the strip, with room at both ends; null while nothing is known. */
export const span = computed<[number, number] | null>(() => spanOf(marks.value, deadlines.value, flightNow.value));

export function spanOf(given: readonly Mark[], due: readonly Deadline[], present: number): [number, number] | null {
  const flight = given.flatMap((mark) => [mark.ms, mark.from ?? mark.ms, mark.to ?? mark.ms]);
  if (flight.length === 0) return null;
  const [first, last] = [Math.min(...flight), Math.max(...flight)];
  const room = Math.max(0.06 * (last - first), 10 * 60_000);
  const day = 12 * 3600_000; // what lies farther away would squeeze the flight into a corner
  const near = [...due.map((one) => one.ms), present].filter((ms) => ms > first - day && ms < last + day);
  return [Math.min(first, ...near) - room, Math.max(last, ...near) + room];
}
