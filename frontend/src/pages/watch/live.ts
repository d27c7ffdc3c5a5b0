// The watch as it goes on: the whole of it when asked, and its newest state as the desk tells it.
import { useEffect, useState } from "preact/hooks";
import { get, type Schemas } from "../../api/client";
import { useEvent } from "../../api/events";
import { clockOffsetMs } from "../../api/session";
import { useAsk } from "../../shell/ask";
import { flightTime, now, setMarks, type Mark } from "../../shell/clock";

export type Watch = Schemas["WatchAnswer"];
export type State = Schemas["StateAnswer"];
export type Warning = Schemas["WarningAnswer"];

export const STALE_S = 30;

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
    else again();
  });
  const fromAnswer: Told | null = answer?.state && ms !== null ? { state: answer.state, ms } : null;
  const newest = answer && !answer.running ? null : !told || (fromAnswer && fromAnswer.ms > told.ms) ? fromAnswer : told;
  void now.value; // ages grow by the clock of this page
  const desk = Date.now() + clockOffsetMs.value;
  const flight = newest ? Date.parse(newest.state.now_utc) + Date.now() - newest.ms : desk;
  const ownTime = Math.abs(flight - desk) > 5000;
  useEffect(() => {
    if (!newest) return;
    const base = Date.parse(newest.state.now_utc) - (newest.ms + clockOffsetMs.value);
    flightTime.value = ownTime ? (present) => present + base : null;
  }, [newest, ownTime]);
  useEffect(() => () => void (flightTime.value = null), []);
  useEffect(() => {
    if (answer) setMarks(marksOf(answer, newest?.state ?? null));
  }, [answer, newest]);
  return { watch: answer, state: newest?.state ?? null, ms: flight, error, again };
}

/** Seconds since a time; null stays null. */
export function ageS(time: string | null | undefined, ms: number): number | null {
  return time ? Math.max(0, (ms - Date.parse(time)) / 1000) : null;
}

/** The age where it is worth saying: older than 30 s. */
export function oldS(time: string | null | undefined, ms: number): number | null {
  const age = ageS(time, ms);
  return age !== null && age > STALE_S ? age : null;
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
