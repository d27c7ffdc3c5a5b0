// The five states that every page can be in, each with what to do next.
import type { ComponentChildren } from "preact";
import { lostSince } from "../api/events";
import { NoAnswer, Refusal, type Finding, type Schemas } from "../api/client";
import { now, zone } from "./clock";
import { saidSpan, saidTime } from "./units";

/** Nothing is here yet: what to do first, with a button. */
export function Empty({ title, children, action }: { title: string; children?: ComponentChildren; action?: ComponentChildren }) {
  return (
    <section class="state" data-state="empty">
      <svg viewBox="0 0 44 44" aria-hidden="true">
        <path d="M6 12h32v24H6zM6 12l6-6h20l6 6" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="4 4" />
      </svg>
      <h2>{title}</h2>
      {children}
      {action}
    </section>
  );
}

/** Something is being worked out: what, and how far. `share` is 0 to 1 where it is known. */
export function Loading({ what, job, share }: { what: string; job?: Schemas["JobAnswer"] | null; share?: number }) {
  const step = job?.step || (job?.state === "waiting" ? "waiting for its turn" : "");
  return (
    <section class="state" data-state="loading" role="status">
      <h2>{what}</h2>
      <p>
        {step}
        {job && job.seconds > 1 && ` · ${saidSpan(job.seconds)}`}
      </p>
      {share !== undefined && (
        <div class="state-bar" role="progressbar" aria-valuenow={Math.round(100 * share)} aria-valuemin={0} aria-valuemax={100} aria-label={what}>
          <i style={{ width: `${100 * share}%` }} />
        </div>
      )}
    </section>
  );
}

/** Old, but usable: says how old. */
export function Stale({ ageS, why, children }: { ageS: number; why?: string; children: ComponentChildren }) {
  return (
    <div class="stale" data-state="stale">
      <span class="stale-word">
        {saidSpan(ageS)} old{why && `: ${why}`}
      </span>
      {children}
    </div>
  );
}

/** The desk does not answer: what still works. Shown by the shell on every page. */
export function Offline() {
  const since = lostSince.value;
  if (since === null) return null;
  return (
    <div class="notice" data-state="offline" role="status">
      <strong>
        The desk has not answered for {saidSpan((now.value - since) / 1000)} (since {saidTime(since, zone.value)}).
      </strong>
      <span>What you see is from then. The page goes on by itself once the laptop is back; reading, units and look still work.</span>
    </div>
  );
}

/** It did not work: what happened, what to do, and that nothing is lost. */
export function Trouble({ error, again }: { error: unknown; again?: () => void }) {
  const problem =
    error instanceof Refusal
      ? error.problem
      : { what: error instanceof NoAnswer ? error.message : "The page failed", fix: "Try again; nothing is lost.", findings: [] };
  return (
    <section class="state" data-state="error" role="alert">
      <svg viewBox="0 0 44 44" aria-hidden="true">
        <path d="M22 4l19 34H3zM22 16v11M22 31v3" fill="none" stroke="currentColor" stroke-width="2.5" />
      </svg>
      <h2>{problem.what}</h2>
      <p>{problem.fix}</p>
      <Findings findings={problem.findings ?? []} />
      {again && <button onClick={again}>Try again</button>}
    </section>
  );
}

/** Every mistake with the way to mend it. */
export function Findings({ findings }: { findings: readonly Finding[] }) {
  if (findings.length === 0) return null;
  return (
    <ul class="findings">
      {findings.map((one) => (
        <li>
          <strong>{one.field}</strong>
          {one.value && ` = ${one.value}`}: {one.reason}. {one.fix}
        </li>
      ))}
    </ul>
  );
}
