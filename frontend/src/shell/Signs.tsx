// States and symbols: a word, a shape and a hue, never a hue alone. The shapes are drawn here and nowhere else.
import type { ComponentChildren } from "preact";

export type State = "go" | "wait" | "no-go" | "cannot tell";

/** Drawn in a square of 20 units. */
export const STATE_PATHS: Record<State, ComponentChildren> = {
  go: <circle cx="10" cy="10" r="8" fill="currentColor" />,
  wait: (
    <>
      <circle cx="10" cy="10" r="7.5" fill="none" stroke="currentColor" stroke-width="2" />
      <path d="M10 2.5a7.5 7.5 0 0 0 0 15z" fill="currentColor" />
    </>
  ),
  "no-go": (
    <>
      <rect x="2.5" y="2.5" width="15" height="15" fill="none" stroke="currentColor" stroke-width="2.5" />
      <path d="M4 16L16 4" stroke="currentColor" stroke-width="3" />
    </>
  ),
  "cannot tell": <path d="M10 1.8L18.2 10 10 18.2 1.8 10z" fill="none" stroke="currentColor" stroke-width="2" />,
};

/** A state with its word; `words` replaces the word, where the place is clear. */
export function Sign({ state, words }: { state: State; words?: string }) {
  return (
    <span class={`sign sign-${state.replace(" ", "-")}`}>
      <svg viewBox="0 0 20 20" aria-hidden="true">
        {STATE_PATHS[state]}
      </svg>
      <span>{words ?? state}</span>
    </span>
  );
}

export type Symbol = "balloon" | "own vehicle" | "vehicle" | "station" | "site" | "town";

/** What stands on maps; drawn in a square of 24 units, point of the place in the middle. */
export const SYMBOL_PATHS: Record<Symbol, ComponentChildren> = {
  balloon: (
    <>
      <path d="M12 3a6 6 0 0 1 6 6c0 3.5-3.5 6-6 7-2.5-1-6-3.5-6-7a6 6 0 0 1 6-6z" fill="currentColor" />
      <path d="M12 16v3M10 19h4v3h-4z" fill="none" stroke="currentColor" stroke-width="1.5" />
    </>
  ),
  "own vehicle": <path d="M12 2l8 19-8-5-8 5z" fill="currentColor" />,
  vehicle: <path d="M12 4l7 16-7-4-7 4z" fill="none" stroke="currentColor" stroke-width="2" />,
  station: <path d="M12 21V9M7 21h10M5 4a9 9 0 0 0 0 9M19 4a9 9 0 0 1 0 9M12 9a1 1 0 1 0 0-.1" fill="none" stroke="currentColor" stroke-width="2" />,
  site: <path d="M4 20L12 4l8 16zM12 20v-7" fill="none" stroke="currentColor" stroke-width="2" />,
  town: <rect x="8" y="8" width="8" height="8" fill="currentColor" />,
};

export function Icon({ symbol }: { symbol: Symbol }) {
  return (
    <svg class="icon" viewBox="0 0 24 24" width="20" height="20" aria-hidden="true">
      {SYMBOL_PATHS[symbol]}
    </svg>
  );
}

const MOVING: readonly Symbol[] = ["balloon", "own vehicle", "vehicle", "station"];

/** States and moving symbols with their names, for a legend that is always one tap away; `extra` has what the map draws. */
export function Legend({ extra }: { extra?: ComponentChildren }) {
  return (
    <details class="legend">
      <summary>Legend</summary>
      <ul>
        {(Object.keys(STATE_PATHS) as State[]).map((state) => (
          <li>
            <Sign state={state} />
          </li>
        ))}
        {MOVING.map((symbol) => (
          <li class="sign">
            <Icon symbol={symbol} /> {symbol}
          </li>
        ))}
        {extra}
      </ul>
    </details>
  );
}
