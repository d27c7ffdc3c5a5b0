// One question to the desk for as long as a component is shown, with its answer, its error and its age.
import { useEffect, useRef, useState } from "preact/hooks";
import { hear } from "../api/events";

export interface Asked<Value> {
  answer: Value | null;
  error: unknown;
  /** When the answer came; milliseconds of this device. */
  ms: number | null;
  again: () => void;
}

/** Asks at once, whenever `key` changes, and at each event of `kinds`; an older answer stays until the new one is here. */
export function useAsk<Value>(key: string, ask: (signal: AbortSignal) => Promise<Value>, kinds: readonly string[] = []): Asked<Value> {
  const [state, setState] = useState<{ answer: Value | null; error: unknown; ms: number | null }>({ answer: null, error: null, ms: null });
  const [count, setCount] = useState(0);
  const latest = useRef(ask);
  latest.current = ask;
  const again = () => setCount((before) => before + 1);
  useEffect(() => {
    const stop = new AbortController();
    latest.current(stop.signal).then(
      (answer) => !stop.signal.aborted && setState({ answer, error: null, ms: Date.now() }),
      (error: unknown) => !stop.signal.aborted && setState((before) => ({ ...before, error })),
    );
    return () => stop.abort();
  }, [key, count]);
  useEffect(() => {
    const stops = kinds.map((kind) => hear(kind, again));
    return () => stops.forEach((stop) => stop());
  }, [kinds.join()]);
  return { ...state, again };
}
