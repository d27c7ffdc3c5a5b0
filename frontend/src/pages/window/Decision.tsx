// A decision: the answer with its sign, every reason, and the checks one below the other, the worst first.
import type { Schemas } from "../../api/client";
import { Sign } from "../../shell/Signs";
import { saidPowers, saidSpan } from "../../shell/units";

type Decision = Schemas["DecisionAnswer"];
type Check = Schemas["CheckAnswer"];

export function Answer({ decision }: { decision: Decision }) {
  return (
    <div class={`answer answer-${decision.state}`} data-answer={decision.state}>
      <Sign state={decision.state} />
      <p>{decision.headline}</p>
    </div>
  );
}

/** What is not met in full; what is met folded away. */
export function Checks({ decision }: { decision: Decision }) {
  const open = decision.checks.filter((one) => one.state !== "go");
  const met = decision.checks.filter((one) => one.state === "go");
  return (
    <>
      {open.length > 0 && (
        <ul class="checks">
          {open.map((one) => (
            <Line check={one} />
          ))}
        </ul>
      )}
      <details class="checks-met">
        <summary>
          {met.length} of {decision.checks.length} checks met
        </summary>
        <ul class="checks">
          {met.map((one) => (
            <Line check={one} />
          ))}
        </ul>
      </details>
    </>
  );
}

function Line({ check }: { check: Check }) {
  const age = check.age_s === null ? "" : `, ${saidSpan(check.age_s)} old`;
  return (
    <li data-check={check.name}>
      <Sign state={check.state} words={check.question} />
      <span>
        <b>{saidPowers(check.number)}</b>
        {check.limit && `, limit ${check.limit}`}
      </span>
      {check.why && <span>{sentence(saidPowers(check.why))}</span>}
      {check.mend && <span>{sentence(check.mend)}</span>}
      {check.source && (
        <span class="smallest">
          {check.source}
          {age}
        </span>
      )}
    </li>
  );
}

function sentence(words: string): string {
  const whole = words.charAt(0).toUpperCase() + words.slice(1);
  return /[.?]$/.test(whole) ? whole : `${whole}.`;
}
