// Day and night, metric and feet: what this browser keeps between visits.
import { effect, signal } from "@preact/signals";
import { chooseSystem, recall, remember, system } from "./units";

export type Look = "day" | "night";
export const look = signal<Look>(recall("pappus-look") === "night" ? "night" : "day");

effect(() => {
  document.documentElement.dataset.look = look.value;
});

interface Way<Value> {
  value: Value;
  words: string;
  /** The same in full, for a screen reader. */
  name: string;
}

/** One of a few ways, all of them seen at once. */
export function Choice<Value extends string>({ name, value, ways, choose }: { name: string; value: Value; ways: readonly Way<Value>[]; choose: (value: Value) => void }) {
  return (
    <span class="choice" role="group" aria-label={name}>
      {ways.map((way) => (
        <button type="button" aria-pressed={way.value === value} aria-label={`${way.words}: ${way.name}`} onClick={() => choose(way.value)}>
          {way.words}
        </button>
      ))}
    </span>
  );
}

export function UnitChoice() {
  return (
    <Choice
      name="Units"
      value={system.value}
      ways={[
        { value: "metric", words: "m · km", name: "metres and kilometres" },
        { value: "feet", words: "ft · mi", name: "feet and miles" },
      ]}
      choose={chooseSystem}
    />
  );
}

export function LookChoice() {
  return (
    <Choice
      name="Look"
      value={look.value}
      ways={[
        { value: "day", words: "day", name: "day look" },
        { value: "night", words: "night", name: "night look" },
      ]}
      choose={(value: Look) => {
        look.value = value;
        remember("pappus-look", value);
      }}
    />
  );
}
