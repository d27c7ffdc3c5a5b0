// Page Watch: the flight day on one screen.
import { useState } from "preact/hooks";
import { post } from "../../api/client";
import { may } from "../../api/session";
import { Amount } from "../../shell/Amount";
import { zone } from "../../shell/clock";
import { plan } from "../../shell/plan";
import { address } from "../../shell/route";
import { Sign, Legend } from "../../shell/Signs";
import { Empty, Loading, Trouble } from "../../shell/States";
import { saidSpan, saidTime } from "../../shell/units";
import { HeightAgainstPlan, WatchMap } from "./Ahead";
import { ageS, oldS, STALE_S, useLive, type State, type Watch } from "./live";
import { Landing, Log, Stations, Warnings } from "./Panels";
import "./watch.css";

export default function WatchPage() {
  const { watch, state, ms, error, again } = useLive();
  if (!watch) return error ? <Trouble error={error} again={again} /> : <Loading what="Opening the watch" />;
  if (!watch.running) return <NotRunning watch={watch} again={again} />;
  return (
    <div class="watch" data-running="true">
      {error !== null && <Trouble error={error} again={again} />}
      <Head state={state} ms={ms} />
      {state?.replay && <Loading what="Reading the record again" share={state.replay.packets ? state.replay.done / state.replay.packets : 1} />}
      <div class="watch-parts">
        <div class="watch-left">
          <div class="watch-map">
            <WatchMap watch={watch} state={state} ms={ms} />
          </div>
          <HeightAgainstPlan watch={watch} state={state} ms={ms} />
        </div>
        <div class="watch-right">
          {state && <Warnings state={state} again={again} />}
          <Landing watch={watch} state={state} ms={ms} />
        </div>
        <div class="watch-right">
          {state && <Report state={state} ms={ms} />}
          {state && <Stations state={state} ms={ms} />}
          <Log watch={watch} again={again} />
          <p class="row">
            <Legend />
            {may("director") && <End again={again} />}
          </p>
        </div>
      </div>
    </div>
  );
}

function Head({ state, ms }: { state: State | null; ms: number }) {
  if (!state) return <Loading what="Waiting for the first look" />;
  const { place, rates } = state;
  const age = ageS(place?.time_utc, ms);
  const stale = age === null || age > STALE_S;
  return (
    <header class="watch-head" data-stale={stale}>
      <div>
        <p class="small">
          {saidTime(ms, zone.value, true)} ({saidTime(ms)})
        </p>
        <p class="watch-phase" data-phase={state.phase}>
          {place ? state.phase : "no position"}
        </p>
        <p class="small">{state.phase_since_utc ? `since ${saidTime(Date.parse(state.phase_since_utc), zone.value)}` : place ? "phase not known since when" : state.packets > 0 ? "packets are heard, and no place in them was believed" : "nothing heard yet"}</p>
      </div>
      <dl class="watch-numbers">
        <Number name="Heard">
          <span class="amount">{age === null ? "–" : saidSpan(age)}</span>
          {stale && <Sign state="cannot tell" words={age === null ? "no position" : "old: all numbers are from then"} />}
        </Number>
        <Number name="Height, msl">
          <Amount quantity="height" si={rates?.height_msl_m} why="no packet tells it" ageS={oldS(rates?.time_utc, ms)} />
        </Number>
        <Number name="Climb">
          <Amount quantity="climb" si={rates?.climb_m_s ?? null} {...(rates ? { spread: rates.climb_sd_m_s } : {})} why="one fix is not enough" ageS={oldS(rates?.time_utc, ms)} />
        </Number>
        <Number name="Drift">
          <Amount quantity="speed" si={rates?.speed_m_s ?? null} why="one fix is not enough" ageS={oldS(rates?.time_utc, ms)} />
          {rates?.course_deg !== null && rates && <span class="small">towards {String(Math.round(rates.course_deg ?? 0) % 360).padStart(3, "0")}°</span>}
        </Number>
        <Number name="Battery">
          {state.box && state.box.battery_v !== null ? (
            <span class="amount">
              {state.box.battery_v.toFixed(2)}
              <span class="unit">V</span>
              {oldS(state.box.told_utc, ms) !== null && <span class="unit">· {saidSpan(oldS(state.box.told_utc, ms))}</span>}
            </span>
          ) : (
            <span class="amount">
              – <span class="other">not told</span>
            </span>
          )}
        </Number>
      </dl>
      {(!state.safe || state.troubles.length > 0) && (
        <p class="watch-trouble">
          <Sign state="no-go" words={state.troubles.join(" ")} />
        </p>
      )}
      {state.notes.length > 0 && (
        <details class="small watch-notes">
          <summary>{state.notes.length === 1 ? state.notes[0] : `${state.notes.length} notes: ${state.notes[0]}`}</summary>
          <ul>
            {state.notes.slice(1).map((note) => (
              <li>{note}</li>
            ))}
          </ul>
        </details>
      )}
    </header>
  );
}

function Number({ name, children }: { name: string; children: preact.ComponentChildren }) {
  return (
    <div>
      <dt class="small">{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}

function Report({ state, ms }: { state: State; ms: number }) {
  const due = state.report_due_utc ? Date.parse(state.report_due_utc) : null;
  return (
    <section class="watch-panel" data-panel="report">
      <h2>Next report</h2>
      {due === null ? (
        <p>
          – <span class="small">{state.report_why_not}</span>
        </p>
      ) : (
        <p>
          <b>{saidTime(due, zone.value)}</b> {due > ms ? `in ${saidSpan((due - ms) / 1000)}` : `due ${saidSpan((ms - due) / 1000)} ago`} <span class="small">descent report, as the burst is predicted; pappus files nothing</span>
        </p>
      )}
    </section>
  );
}

function End({ again }: { again: () => void }) {
  const [sure, setSure] = useState(false);
  const [error, setError] = useState<unknown>(null);
  if (error !== null) return <Trouble error={error} again={() => setError(null)} />;
  if (!sure) return <button onClick={() => setSure(true)}>End the watch</button>;
  return (
    <>
      <button onClick={() => void post("/api/watch/stop").then(again, setError)}>End it: nothing more is heard</button>
      <button onClick={() => setSure(false)}>Go on watching</button>
    </>
  );
}

function NotRunning({ watch, again }: { watch: Watch; again: () => void }) {
  const [site, setSite] = useState(watch.sites[0] ?? "");
  const [error, setError] = useState<unknown>(null);
  if (error !== null) return <Trouble error={error} again={() => setError(null)} />;
  if (watch.receivers.length === 0)
    return (
      <>
        <Empty
          title="The plan names no receivers"
          action={
            <a class="button" href={address("plan")}>
              Open the plan
            </a>
          }
        >
          <p>
            The watch hears what receivers on this laptop or in its network hear. Write one block for each into {plan.value?.file ?? "the plan file"}:
          </p>
          <pre>{'[[receiver]]\nname = "hill"\nrole = "ground station"\nkind = "nmea"\naddress = "tcp://127.0.0.1:8001"'}</pre>
          <p class="small">The watch can begin as soon as the file is saved.</p>
        </Empty>
        {watch.log.length > 0 && <Log watch={watch} again={again} />}
      </>
    );
  return (
    <>
      <Empty
        title="The watch is not running"
        action={
          may("director") ? (
            <div class="row">
              <label>
                Site{" "}
                <select value={site} onChange={(event) => setSite(event.currentTarget.value)}>
                  {watch.sites.map((one) => (
                    <option>{one}</option>
                  ))}
                </select>
              </label>
              <button class="primary" onClick={() => void post("/api/watch/start", { site }).then(again, setError)}>
                Start the watch
              </button>
            </div>
          ) : (
            <p>The flight director starts it.</p>
          )
        }
      >
        <p>
          It hears {watch.receivers.join(", ")}, and keeps every packet in {watch.record}. Started again it goes on from there.
        </p>
      </Empty>
      {watch.log.length > 0 && <Log watch={watch} again={again} />}
    </>
  );
}
