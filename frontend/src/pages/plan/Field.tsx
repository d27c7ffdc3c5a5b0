// One key of the plan: label, what was typed, the same in the chosen units, and what is wrong with it.
import { useId } from "preact/hooks";
import { may } from "../../api/session";
import { inChosenUnits } from "../../shell/quantity";
import type { Quantity } from "../../shell/units";
import { change, edits, findings, valueAt, type Value } from "./draft";

interface Given {
  path: string;
  label: string;
  /** What a good value looks like. */
  example: string;
  kind?: "text" | "number";
  as?: Quantity;
  /** Said when the field is empty: what then holds. */
  otherwise?: string;
  choices?: readonly string[];
  /** Takes the room of two. */
  wide?: boolean;
}

export function Field({ path, label, example, kind = "text", as, otherwise, choices, wide }: Given) {
  const id = useId();
  const value = valueAt(path);
  const text = value === undefined || value === null ? "" : String(value);
  const wrong = findings.value.filter((one) => one.field === path);
  const hint = inChosenUnits(text, as) || (text === "" && otherwise ? `left out: ${otherwise}` : "");
  const own = {
    id,
    value: text,
    "aria-invalid": wrong.length > 0,
    "aria-describedby": `${id}-more`,
    "data-path": path,
  };
  const set = (typed: string) => change(path, typed.trim() === "" ? null : asKind(typed, kind));
  return (
    <div class={`field${wide ? " wide" : ""}${edits.value.has(path) ? " changed" : ""}${wrong.length > 0 ? " wrong" : ""}`}>
      <label for={id}>{label}</label>
      {choices ? (
        <select {...own} disabled={!may("crew")} onChange={(event) => set(event.currentTarget.value)}>
          {choices.map((one) => (
            <option value={one}>{one}</option>
          ))}
        </select>
      ) : (
        <input {...own} placeholder={example} readOnly={!may("crew")} autocomplete="off" spellcheck={false} onInput={(event) => set(event.currentTarget.value)} />
      )}
      <div id={`${id}-more`} class="field-more">
        {hint && <span class="smallest">{hint}</span>}
        {wrong.map((one) => (
          <span class="field-wrong" role="alert">
            {one.reason}. {one.fix}
          </span>
        ))}
      </div>
    </div>
  );
}

function asKind(typed: string, kind: "text" | "number"): Value {
  const number = Number(typed);
  return kind === "number" && Number.isFinite(number) ? number : typed;
}
