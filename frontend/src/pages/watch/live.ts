// The watch as it goes on: the whole of it when asked, and its newest state as the desk tells it.
import { signal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { get, type Schemas } from "../../api/client";
import { useEvent } from "../../api/events";
import { clockOffsetMs } from "../../api/session";
import { useAsk } from "../../shell/ask";
import { flightTime, now, setAside, setDeadlines, setMarks, type Mark } from "../../shell/clock";

export type Watch = Schemas["WatchAnswer"];
export type State = Schemas["StateAnswer"];
export type Warning = Schemas["WarningAnswer"];
export type Rehearsal = Schemas["RehearsalAnswer"];

export const STALE_S = 30;
const SILENT_S = 120;
const ALOFT = new Set(["ascent", "float", "descent"]);
/** Of this computer's time: what a rehearsal may be late by is so many times more in the time of its flight. */
const LATE_S = 2;
/** On top of what makes old; 0 on a real day. */
const slackS = signal(0);

export interface Live {
  watch: Watch | null;
  state: State | null;
  /** "Now" of the flight, in milliseconds; goes on while nothing is heard. */
  ms: number;
  error: unknown;
  again: () => void;
}

interface Told {
  state: State;
  /** When it came, by this device. */
  ms: number;
}

export function useLive(): Live {
  const { answer, error, again, ms } = useAsk("watch", (signal) => get("/api/watch", {}, {}, signal), ["watch-ahead", "plan"]);
  const [told, setTold] = useState<Told | null>(null);
  useEvent("watch", (data) => {
    const state = (data as { state: State | null } | null)?.state ?? null;
    if (state) setTold({ state, ms: Date.now() });
    else {
      setTold(null); // another flight, or none: what was told before is of the old one
      again();
    }
  });
  const rehearsed = answer?.rehearsal ?? null;
  const fromAnswer: Told | null = answer?.state && ms !== null ? { state: answer.state, ms } : null;
  const newest = answer && !answer.running ? (rehearsed ? fromAnswer : null) : !told || (fromAnswer && fromAnswer.ms > told.ms) ? fromAnswer : told;
  const speed = newest ? (rehearsed && rehearsed.state !== "running" ? 0 : newest.state.speed) : 1;
  slackS.value = newest && newest.state.speed > 1 ? LATE_S * newest.state.speed : 0;
  const desk = now.value; // ages grow with the clock of the page, and its strip shows the same moment
  const flight = newest ? ahead(newest, speed)(desk) : desk;
  const ownTime = rehearsed !== null || Math.abs(flight - desk) > 5000;
  useEffect(() => {
    if (!newest) {
      flightTime.value = null;
      return;
    }
    flightTime.value = ownTime ? ahead(newest, speed) : null;
  }, [newest, ownTime, speed]);
  useEffect(() => {
    if (!answer) return;
    const own = marksOf(answer, newest?.state ?? null);
    const due = dueOf(answer).map((one) => ({ name: one.title, ms: Date.parse(one.due_utc) }));
    if (answer.rehearsal) return setAside({ marks: own, deadlines: due });
    setMarks(own);
    setDeadlines(due);
  }, [answer, newest]);
  const shown = rehearsed?.record ?? null;
  // what was rehearsed leaves no mark on the other pages
  useEffect(
    () => () => {
      flightTime.value = null;
      if (shown !== null) setAside(null);
    },
    [shown],
  );
  return { watch: answer, state: newest?.state ?? null, ms: flight, error, again };
}

/** The clock of the flight from the desk's, so fast from what was told last. */
function ahead({ state, ms }: Told, speed: number): (present: number) => number {
  const [base, from] = [Date.parse(state.now_utc), ms + clockOffsetMs.value];
  return (present) => base + Math.max(0, present - from) * speed;
}

/** What the rules want told, in order of time. */
export function dueOf(watch: Watch): Watch["due"] {
  return [...watch.due].sort((a, b) => Date.parse(a.due_utc) - Date.parse(b.due_utc));
}

/** What a person is told of the phase: a balloon in the air that is silent for two minutes is only known to have been in it. */
export function phaseOf(state: State, ms: number): { said: string; was: string } {
  const age = ageS(state.place?.time_utc, ms);
  if (age === null) return { said: "no position", was: "" };
  const silent = ALOFT.has(state.phase) && age > SILENT_S + slackS.value;
  return silent ? { said: "not heard", was: `${state.phase} when last heard, ` } : { said: state.phase, was: "" };
}

/** Seconds since a time; null stays null. */
export function ageS(time: string | null | undefined, ms: number): number | null {
  return time ? Math.max(0, (ms - Date.parse(time)) / 1000) : null;
}

/** Whether an age is old; nothing heard is old. */
export function isOld(age: number | null): boolean {
  return age === null || age > STALE_S + slackS.value;
}

/** The age where it is worth saying: older than 30 s. */
export function oldS(time: string | null | undefined, ms: number): number | null {
  const age = ageS(time, ms);
  return age !== null && isOld(age) ? age : null;
}

export function marksOf(watch: Watch, state: State | null): Mark[] {
  const found: Mark[] = [];
  const add = (name: string, how: Mark["how"], time: string | null | undefined, from?: string, to?: string) => {
    if (!time) return;
    const mark: Mark = { name, how, ms: Date.parse(time) };
    if (from && to) found.push({ ...mark, from: Date.parse(from), to: Date.parse(to) });
    else found.push(mark);
  };
  if (watch.planned) add("release", "planned", watch.planned.release_utc);
  add("release", "flown", state?.release_utc);
  add("burst", "flown", state?.burst_utc);
  add("touchdown", "flown", state?.landed_utc);
  if (!state?.burst_utc) add("burst", "predicted", watch.prediction?.burst_utc);
  const arrival = watch.prediction?.arrival_utc;
  if (arrival && !state?.landed_utc) add("touchdown", "predicted", arrival[1], arrival[0], arrival[2]);
  return found;
}
