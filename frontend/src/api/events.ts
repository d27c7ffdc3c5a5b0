// What happens on the desk, told as it happens. The browser resumes after a break with the last number it saw.
import { signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";

type Heard = (data: unknown) => void;

/** Null while the line is open; else since when it is not, in milliseconds. */
export const lostSince = signal<number | null>(null);

const hearers = new Map<string, Set<Heard>>();
let source: EventSource | null = null;

/** Begin to listen; once for the page. */
export function listen(): void {
  if (source) return;
  source = new EventSource("/api/events");
  source.onopen = () => {
    lostSince.value = null;
  };
  source.onerror = () => {
    lostSince.value ??= Date.now();
  };
  for (const kind of hearers.keys()) attach(kind);
  attach("missed");
}

/** Call `heard` at every event of this kind; gives the way to stop. Events were missed: all kinds are called with null. */
export function hear(kind: string, heard: Heard): () => void {
  const those = hearers.get(kind);
  if (those) {
    those.add(heard);
  } else {
    hearers.set(kind, new Set([heard]));
    if (source) attach(kind);
  }
  return () => hearers.get(kind)?.delete(heard);
}

/** The same for as long as a component is shown. */
export function useEvent(kind: string, heard: Heard): void {
  const latest = useRef(heard);
  latest.current = heard;
  useEffect(() => hear(kind, (data) => latest.current(data)), [kind]);
}

function attach(kind: string): void {
  source?.addEventListener(kind, (event) => {
    if (kind === "missed") {
      for (const those of hearers.values()) for (const heard of those) heard(null);
      return;
    }
    const data: unknown = JSON.parse((event as MessageEvent<string>).data);
    for (const heard of hearers.get(kind) ?? []) heard(data);
  });
}
