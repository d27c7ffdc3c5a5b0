// What stands beside the map: warnings, touchdown, stations and the decision log.
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { post } from "../../api/client";
import { may } from "../../api/session";
import { zone } from "../../shell/clock";
import { Notes } from "../../shell/Notes";
import { Sign } from "../../shell/Signs";
import { Trouble } from "../../shell/States";
import { said, saidShare, saidSpan, saidTime, saidWarning } from "../../shell/units";
import { ageS, dueOf, isOld, oldS, type State, type Warning, type Watch } from "./live";

interface Given {
  watch: Watch;
  state: State | null;
  ms: number;
}

export function Panel({ title, children, id }: { title: string; children: ComponentChildren; id: string }) {
  return (
    <section class="watch-panel" aria-labelledby={`${id}-title`} data-panel={id}>
      <h2 id={`${id}-title`}>{title}</h2>
      {children}
    </section>
  );
}

export function Warnings({ state, again }: { state: State; again: () => void }) {
  const known = state.warnings.filter((one) => one.known);
  const unknown = state.warnings.filter((one) => !one.known);
  return (
    <Panel title={known.length === 0 ? "No warning stands" : `${known.length} ${known.length === 1 ? "warning" : "warnings"}`} id="warnings">
      {known.length > 0 && (
        <ul class="watch-warnings">
          {known.map((one) => (
            <Stands key={`${one.kind} ${one.subject}`} warning={one} again={again} />
          ))}
        </ul>
      )}
      {unknown.length > 0 && (
        <details>
          <summary>
            <Sign state="cannot tell" words={`${unknown.length} cannot be told: no all-clear`} />
          </summary>
          <ul class="small">
            {unknown.map((one) => (
              <li>
                <b>{saidWarning(one)}</b> {one.words}
              </li>
            ))}
          </ul>
        </details>
      )}
    </Panel>
  );
}

function Stands({ warning, again }: { warning: Warning; again: () => void }) {
  const [error, setError] = useState<unknown>(null);
  const take = () => void post("/api/watch/acknowledge", { kind: warning.kind, subject: warning.subject }).then(again, setError);
  return (
    <li data-warning={warning.kind} data-taken={warning.taken_by !== null}>
      <p>
        <svg viewBox="0 0 44 44" width="20" height="20" aria-hidden="true">
          <path d="M22 4l19 34H3zM22 16v11M22 31v3" fill="none" stroke="currentColor" stroke-width="4" />
        </svg>{" "}
        <b>{saidWarning(warning)}</b>{" "}
        <span class="small">since {saidTime(Date.parse(warning.since_utc), zone.value)}</span>
      </p>
      <p>{warning.words}</p>
      {warning.what_to_do && <p>{warning.what_to_do}</p>}
      {warning.taken_by !== null ? (
        <p class="small">
          Noted by {warning.taken_by} at {saidTime(Date.parse(warning.taken_utc ?? ""), zone.value, true)}
        </p>
      ) : (
        may("crew") && <button onClick={take}>Take note</button>
      )}
      {error !== null && <Trouble error={error} />}
    </li>
  );
}

export function Landing({ watch, state, ms }: Given) {
  const { prediction } = watch;
  const title = state?.landed_utc ? "Down" : "Touchdown";
  if (!prediction)
    return (
      <Panel title={title} id="landing">
        <p>
          <b>–</b> <span class="small">No landing area: {watch.prediction_why_not}.</span>
        </p>
      </Panel>
    );
  const old = oldS(prediction.made_utc, ms);
  const arrival = prediction.arrival_utc;
  const left = arrival ? (Date.parse(arrival[1]) - ms) / 1000 : null;
  return (
    <Panel title={title} id="landing">
      {state?.landed_utc ? (
        <p class="watch-large">
          {saidTime(Date.parse(state.landed_utc), zone.value)} <span class="small">{saidSpan(ageS(state.landed_utc, ms))} ago</span>
        </p>
      ) : arrival && left !== null ? (
        <p class="watch-large">
          {left > 0 ? `in ${saidSpan(left)}` : "due"}{" "}
          <span class="small">
            {saidTime(Date.parse(arrival[1]), zone.value)}, 90 %: {saidTime(Date.parse(arrival[0]), zone.value)} to {saidTime(Date.parse(arrival[2]), zone.value)}
          </span>
        </p>
      ) : (
        <p>
          – <span class="small">no flight lands in the data</span>
        </p>
      )}
      <p class="small">
        50 % area {saidArea(prediction.area_km2)} · {prediction.flights} flights
        {old !== null && <b> · {saidSpan(old)} old</b>}
      </p>
      <p class="small">Winds: {prediction.winds}.</p>
      {watch.prediction_why_not && <p class="small">No newer area: {watch.prediction_why_not}.</p>}
      <ul class="watch-chances small">
        {prediction.chances
          .filter((one) => one.p > 0)
          .map((one) => (
            <li>
              <b>{saidShare(one.p)}</b> {one.name}
            </li>
          ))}
      </ul>
      {watch.earlier.length > 0 && <History watch={watch} />}
      <Notes notes={prediction.notes} on="this area" />
    </Panel>
  );
}

/** What the rules want told: the next first. pappus files nothing. */
export function Reports({ watch, state, ms }: Given) {
  const coming = dueOf(watch).filter((one) => Date.parse(one.due_utc) >= ms);
  const past = dueOf(watch).length - coming.length;
  const [first] = coming;
  return (
    <Panel title="Next report" id="report">
      {first ? (
        <>
          <p>
            <b>{saidTime(Date.parse(first.due_utc), zone.value)}</b> in {saidSpan((Date.parse(first.due_utc) - ms) / 1000)}: {first.title} <span class="small">to {first.who}</span>
          </p>
          {coming.length > 1 && (
            <ul class="watch-chances small">
              {coming.slice(1, 4).map((one) => (
                <li>
                  {saidTime(Date.parse(one.due_utc), zone.value)} {one.title}
                </li>
              ))}
            </ul>
          )}
        </>
      ) : (
        <p>
          – <span class="small">{watch.due.length > 0 ? "nothing more is due" : (state?.report_why_not ?? "")}</span>
        </p>
      )}
      <p class="smallest">
        {past > 0 && `${past} ${past === 1 ? "time has" : "times have"} passed. `}By the rules that the plan names and the flight as predicted; pappus files nothing.
      </p>
    </Panel>
  );
}

/** The landing areas of before: how large each was, and how far its middle lay from that of now. */
function History({ watch }: { watch: Watch }) {
  return (
    <details class="small" data-history>
      <summary>How the area moved</summary>
      <table class="watch-history">
        <thead>
          <tr>
            <th scope="col">At</th>
            <th scope="col" class="number">
              50 % area
            </th>
            <th scope="col" class="number">
              Off that of now
            </th>
          </tr>
        </thead>
        <tbody>
          {watch.earlier.toReversed().map((one) => (
            <tr>
              <td>{saidTime(Date.parse(one.made_utc), zone.value)}</td>
              <td class="number">{saidArea(one.area_km2 ?? null)}</td>
              <td class="number">{said("distance", one.moved_m)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}

/** A small area is not none. */
export function saidArea(km2: number | null): string {
  return km2 !== null && km2 > 0 && km2 < 1 ? `under ${said("area", 1e6)}` : said("area", km2 === null ? null : km2 * 1e6);
}

export function Stations({ state, ms }: { state: State; ms: number }) {
  return (
    <Panel title="Who hears" id="stations">
      <table class="watch-stations">
        <thead>
          <tr>
            <th scope="col">Station</th>
            <th scope="col">Heard</th>
            <th scope="col">Packets</th>
          </tr>
        </thead>
        <tbody>
          {state.stations.map((one) => {
            const age = ageS(one.heard_utc, ms);
            return (
              <tr data-station={one.name} data-old={isOld(age)}>
                <th scope="row">
                  {one.name}
                  <span class="small">
                    {one.role === "ground station" ? "" : ` ${one.role}`}
                    {one.phase === "connected" ? "" : ` ${one.phase}`}
                    {one.retry_in_s !== null && `, again in ${saidSpan(one.retry_in_s)}`}
                    {one.wrong && `, ${one.wrong}`}
                  </span>
                </th>
                <td>{age === null ? "– nothing yet" : isOld(age) ? <b>{saidSpan(age)} ago</b> : `${saidSpan(age)} ago`}</td>
                <td>{one.packets}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </Panel>
  );
}

export function Log({ watch, again }: { watch: Watch; again: () => void }) {
  const [words, setWords] = useState("");
  const [error, setError] = useState<unknown>(null);
  const write = (event: Event) => {
    event.preventDefault();
    if (!words.trim()) return;
    post("/api/watch/note", { words: words.trim() }).then(
      () => {
        setWords("");
        setError(null);
        again();
      },
      setError,
    );
  };
  const lines = watch.log.toReversed();
  return (
    <Panel title="Decision log" id="log">
      {may("crew") && (
        <form class="watch-note" onSubmit={write}>
          <input aria-label="A line for the log" placeholder="What was decided" maxLength={500} value={words} onInput={(event) => setWords(event.currentTarget.value)} />
          <button disabled={!words.trim()}>Write</button>
        </form>
      )}
      {error !== null && <Trouble error={error} />}
      <ul class="watch-log small">
        {lines.slice(0, 5).map(line)}
      </ul>
      {lines.length > 5 && (
        <details class="small">
          <summary>{lines.length - 5} older</summary>
          <ul class="watch-log">{lines.slice(5).map(line)}</ul>
        </details>
      )}
      {lines.length === 0 && <p class="small">Nothing yet.</p>}
    </Panel>
  );
}

function line(one: Watch["log"][number]) {
  return (
    <li>
      {saidTime(Date.parse(one.made_utc), zone.value, true)} <b>{one.by}</b>: {one.what === "note" ? one.words : `${one.what}${one.words ? `: ${one.words}` : ""}`}
    </li>
  );
}
