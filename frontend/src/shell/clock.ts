// The times of the flight that all pages share, and the moment that is shown.
import { computed, signal } from "@preact/signals";
import { clockOffsetMs } from "../api/session";
import { saidSpan } from "./units";

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

/** The strip of a flight that is not the one to come: a rehearsal, or what a record holds. */
export interface Aside {
  marks: readonly Mark[];
  deadlines: readonly Deadline[];
  /** The flight is over: how and when; this moment is shown until another is chosen. */
  ended?: { name: string; ms: number };
}

const dayMarks = signal<readonly Mark[]>([]);
const dayDeadlines = signal<readonly Deadline[]>([]);
const aside = signal<Aside | null>(null);
/** Set by the pages, drawn by the strip; a page leaves alone what it does not know. */
export const marks = computed(() => aside.value?.marks ?? dayMarks.value);
export const deadlines = computed(() => aside.value?.deadlines ?? dayDeadlines.value);
/** How and when the flight on the strip ended; null while it may still go on. */
export const ended = computed(() => aside.value?.ended ?? null);
/** IANA zone of the crew; undefined until a plan is known. */
export const zone = signal<string | undefined>(undefined);
/** The moment that map, charts and numbers show; null: now. */
export const at = signal<number | null>(null);
/** Now on the laptop, once a second. */
export const now = signal(Date.now());
/** A rehearsal or a replay runs on a time of its own: what that is just now, from the desk's own now. */
export const flightTime = signal<((ms: number) => number) | null>(null);

/** What "now" means for the flight: the laptop's clock, that of a rehearsal, or the end of a flight that is over. */
export const flightNow = computed(() => ended.value?.ms ?? (flightTime.value ? flightTime.value(now.value) : now.value));
/** The moment that is shown. */
export const shown = computed(() => at.value ?? flightNow.value);

setInterval(() => {
  now.value = Date.now() + clockOffsetMs.value;
}, 1000);

/** Puts marks on the strip: each replaces the one of the same name and how. */
export function setMarks(given: readonly Mark[]): void {
  const rest = dayMarks.value.filter((old) => !given.some((mark) => mark.name === old.name && mark.how === old.how));
  dayMarks.value = [...rest, ...given].sort((a, b) => a.ms - b.ms);
}

export function setDeadlines(given: readonly Deadline[]): void {
  dayDeadlines.value = given;
}

/** Puts another flight on the strip, alone; null: back to the one to come, whose marks were kept. */
export function setAside(given: Aside | null): void {
  if ((given === null) !== (aside.peek() === null)) at.value = null; // a moment of the one flight is none of the other
  aside.value = given && { ...given, marks: [...given.marks].sort((a, b) => a.ms - b.ms) };
}

/** Where a moment lies: what is next or was last; of a flight that is over, the time since its release. */
export function saidMoment(given: readonly Mark[], ms: number, over: boolean): string {
  if (over) {
    const release = given.find((mark) => mark.name === "release" && mark.how === "flown");
    if (!release) return "release not known";
    return ms < release.ms ? `${saidSpan((release.ms - ms) / 1000)} before release` : `flight time ${saidSpan((ms - release.ms) / 1000)}`;
  }
  const coming = given.find((mark) => mark.ms > ms);
  if (coming) return `${coming.name} in ${saidSpan((coming.ms - ms) / 1000)}`;
  const last = given.at(-1);
  return last ? `${last.how === "predicted" ? `${last.name} due` : last.name} ${saidSpan((ms - last.ms) / 1000)} ago` : "";
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
