// A rehearsal on the page: how it is started, the mark that it is one, and how it went.
import { useState } from "preact/hooks";
import { post } from "../../api/client";
import { may } from "../../api/session";
import { zone } from "../../shell/clock";
import { Notes } from "../../shell/Notes";
import { address } from "../../shell/route";
import { Sign, type State as SignState } from "../../shell/Signs";
import { Empty, Trouble } from "../../shell/States";
import { said, saidSpan, saidTime, saidWarning } from "../../shell/units";
import type { Rehearsal, Watch } from "./live";

type Score = NonNullable<Rehearsal["score"]>;

/** Stands above everything for as long as anything on the page is rehearsed. */
export function Banner({ rehearsal, again }: { rehearsal: Rehearsal; again: () => void }) {
  const [error, setError] = useState<unknown>(null);
  const [busy, setBusy] = useState(false);
  const ask = (path: "/api/watch/rehearsal/stop" | "/api/watch/rehearsal/away") => {
    setBusy(true);
    post(path).then(again, setError).finally(() => setBusy(false));
  };
  const runs = rehearsal.state === "running" || rehearsal.state === "preparing";
  return (
    <div class="rehearsal-banner" role="status" data-rehearsal={rehearsal.state}>
      <b>REHEARSAL</b>
      <span>
        no balloon flies · {words(rehearsal)} · site {rehearsal.site} · {rehearsal.speed}× · kept in {rehearsal.record}
      </span>
      {rehearsal.state === "running" && (
        <progress max="1" value={rehearsal.done} aria-label="Share of the rehearsal">
          {Math.round(100 * rehearsal.done)} %
        </progress>
      )}
      {may("director") &&
        (runs ? (
          <button disabled={busy} onClick={() => ask("/api/watch/rehearsal/stop")}>
            {busy ? "Stopping" : "Stop the rehearsal"}
          </button>
        ) : (
          <button disabled={busy} onClick={() => ask("/api/watch/rehearsal/away")}>
            Put it away
          </button>
        ))}
      {error !== null && <Trouble error={error} again={() => setError(null)} />}
    </div>
  );
}

function words(rehearsal: Rehearsal): string {
  switch (rehearsal.state) {
    case "preparing":
      return rehearsal.step;
    case "running":
      return `${Math.round(100 * rehearsal.done)} % done`;
    case "over":
      return "it is over";
    case "stopped":
      return "it was stopped early";
    default:
      return `it failed: ${rehearsal.why_not}`;
  }
}

export function Failed({ rehearsal }: { rehearsal: Rehearsal }) {
  return (
    <Empty title={rehearsal.state === "stopped" ? "The rehearsal was stopped before it began" : "The rehearsal failed"}>
      <p>{rehearsal.why_not}</p>
    </Empty>
  );
}

type Choice = "none" | "drawn" | "named";
const CHOICES: Record<Choice, string> = { none: "no fault", drawn: "drawn: none, one or two, told at the end", named: "chosen" };

/** Start one; for directors. */
export function StartRehearsal({ watch, again }: { watch: Watch; again: () => void }) {
  const [site, setSite] = useState(watch.sites[0] ?? "");
  const [speed, setSpeed] = useState("50");
  const [choice, setChoice] = useState<Choice>("drawn");
  const [faults, setFaults] = useState<readonly string[]>([]);
  const [seed, setSeed] = useState("");
  const [error, setError] = useState<unknown>(null);
  const [busy, setBusy] = useState(false);
  const start = (event: Event) => {
    event.preventDefault();
    setBusy(true);
    const body = { site, speed: Number(speed), drawn: choice === "drawn", faults: choice === "named" ? [...faults] : [], seed: seed === "" ? null : Number(seed) };
    post("/api/watch/rehearsal", body)
      .then(again, setError)
      .finally(() => setBusy(false));
  };
  if (error !== null) return <Trouble error={error} again={() => setError(null)} />;
  const minutes = (3.5 * 60) / Math.max(1, Number(speed));
  return (
    <section class="watch-panel rehearsal-start" data-panel="rehearsal">
      <h2>Rehearse the day</h2>
      <p>A simulated flight of this plan sends real packets to receivers on this laptop. The crew works as on the day, and is told at the end how it went. The record is a file of its own.</p>
      {!may("director") ? (
        <p>The flight director starts it.</p>
      ) : (
        <form onSubmit={start}>
          <div class="row">
            <label>
              Site{" "}
              <select value={site} onChange={(event) => setSite(event.currentTarget.value)}>
                {watch.sites.map((one) => (
                  <option>{one}</option>
                ))}
              </select>
            </label>
            <label>
              Times as fast as life, 1 to 200 <input type="number" min="1" max="200" step="1" required value={speed} onInput={(event) => setSpeed(event.currentTarget.value)} />
            </label>
            <label>
              Number of the flight <input type="number" min="0" max="2147483647" step="1" placeholder="any" value={seed} onInput={(event) => setSeed(event.currentTarget.value)} />
            </label>
          </div>
          <p class="small">A flight of three and a half hours takes {saidSpan(60 * minutes)}. The same number gives the same flight.</p>
          <fieldset>
            <legend>What goes wrong</legend>
            {(Object.keys(CHOICES) as Choice[]).map((one) => (
              <label>
                <input type="radio" name="faults" checked={choice === one} onChange={() => setChoice(one)} /> {CHOICES[one]}
              </label>
            ))}
          </fieldset>
          {choice === "named" && (
            <fieldset class="rehearsal-faults">
              <legend>Faults</legend>
              {watch.fault_kinds.map((one) => (
                <label>
                  <input type="checkbox" checked={faults.includes(one)} onChange={(event) => setFaults(event.currentTarget.checked ? [...faults, one] : faults.filter((other) => other !== one))} /> {one.replaceAll("-", " ")}
                </label>
              ))}
            </fieldset>
          )}
          <button class="first" disabled={busy || (choice === "named" && faults.length === 0)}>
            Start the rehearsal
          </button>
        </form>
      )}
    </section>
  );
}

/** How crew and tool did. */
export function ScorePanel({ score, speed, record }: { score: Score; speed: number; record: string }) {
  const missed = score.due.filter((one) => one.raised_utc === null);
  const nobody = score.warnings.filter((one) => one.taken_by === null);
  return (
    <section class="watch-panel rehearsal-score" data-panel="score" aria-labelledby="score-title">
      <h2 id="score-title">How it went</h2>
      <p>
        Faults: <b>{score.faults.length === 0 ? "none" : score.faults.map((one) => one.replaceAll("-", " ")).join(", ")}</b>. Top {said("height", score.top_msl_m)} at {saidTime(Date.parse(score.burst_utc), zone.value)}, true touchdown at {saidTime(Date.parse(score.landed_utc), zone.value)}.
      </p>
      <div class="rehearsal-tables">
        <table>
          <caption>Landing as predicted at</caption>
          <thead>
            <tr>
              <th scope="col">Moment</th>
              <th scope="col" class="number">
                Off the touchdown
              </th>
              <th scope="col">In the 90 % area</th>
            </tr>
          </thead>
          <tbody>
            {score.landings.map((one) => (
              <tr>
                <th scope="row">{one.moment.replace(" - ", " − ")}</th>
                <td class="number">{said("distance", one.error_m)}</td>
                <td>
                  <Sign state={one.in_90 ? "go" : "no-go"} words={one.in_90 ? "yes" : "no"} />
                </td>
              </tr>
            ))}
          </tbody>
        </table>
        <Judged
          caption={`The tool: warnings that were called for${score.due.length > 0 ? `, ${score.due.length - missed.length} of ${score.due.length} in time` : ""}`}
          none="none was called for"
          rows={score.due.map((one) => ({ name: one.kind, ...byTheTool(one) }))}
        />
        <Judged
          caption={`The crew: warnings raised${score.warnings.length > 0 ? `, ${score.warnings.length - nobody.length} of ${score.warnings.length} taken note of` : ""}`}
          none="none was raised"
          rows={score.warnings.map((one) => ({ name: saidWarning(one), small: `${saidTime(Date.parse(one.raised_utc), zone.value)}${one.false_alarm ? " false alarm" : ""}`, ...byTheCrew(one, speed) }))}
        />
      </div>
      <p class="small">
        Packets: {score.packets_sent} reached the receivers, {score.packets_kept} are kept.
      </p>
      <Notes notes={score.notes} />
      <p>
        <a class="button" href={address("review", { flight: record })}>
          Open the review
        </a>
      </p>
    </section>
  );
}

interface Row {
  name: string;
  small?: string;
  state: SignState;
  words: string;
}

/** Warnings, each with what became of it. */
function Judged({ caption, none, rows }: { caption: string; none: string; rows: readonly Row[] }) {
  return (
    <table>
      <caption>{caption}</caption>
      <tbody>
        {rows.map((one) => (
          <tr>
            <th scope="row">
              {one.name}
              {one.small && <span class="small"> {one.small}</span>}
            </th>
            <td>
              <Sign state={one.state} words={one.words} />
            </td>
          </tr>
        ))}
        {rows.length === 0 && (
          <tr>
            <td>{none}</td>
          </tr>
        )}
      </tbody>
    </table>
  );
}

function byTheTool(one: Score["due"][number]): { state: SignState; words: string } {
  if (one.raised_utc !== null) return { state: "go", words: `${saidSpan((Date.parse(one.due_utc) - Date.parse(one.raised_utc)) / 1000)} before the latest moment` };
  if (one.not_known) return { state: "cannot tell", words: "not warned of, but told as not known" };
  return { state: "no-go", words: one.blind ? "missed, tracker not heard whole" : "missed" };
}

function byTheCrew(one: Score["warnings"][number], speed: number): { state: SignState; words: string } {
  if (one.taken_by === null) return { state: "wait", words: "nobody took note" };
  const flown = speed > 1 ? ` of your time, ${saidSpan(one.taken_after_s)} of the flight` : "";
  return { state: "go", words: `${one.taken_by} after ${saidSpan(one.taken_really_s)}${flown}` };
}
