// Page Watch: the flight day on one screen.
import { useState } from "preact/hooks";
import { post } from "../../api/client";
import { may } from "../../api/session";
import { TONES } from "../../map/ground";
import { GroundKey, LandingKey, LineKey, Swatch } from "../../map/MapKey";
import { Amount } from "../../shell/Amount";
import { zone } from "../../shell/clock";
import { look } from "../../shell/Look";
import { plan } from "../../shell/plan";
import { address } from "../../shell/route";
import { Sign, Legend } from "../../shell/Signs";
import { Empty, Loading, Trouble } from "../../shell/States";
import { saidSpan, saidTime } from "../../shell/units";
import { EARLIER, type Followed, HeightAgainstPlan, WatchMap } from "./Ahead";
import { ageS, isOld, oldS, phaseOf, useLive, type State, type Watch } from "./live";
import { Landing, Log, Reports, Stations, Warnings } from "./Panels";
import { Banner, Failed, ScorePanel, StartRehearsal } from "./Rehearsal";
import { CutDown, Lost, Search } from "./Search";
import { WindsSeen } from "./Winds";
import "./watch.css";

export default function WatchPage() {
  const { watch, state, ms, error, again } = useLive();
  const [follow, setFollow] = useState<Followed | null>(null);
  if (!watch) return error ? <Trouble error={error} again={again} /> : <Loading what="Opening the watch" />;
  const { rehearsal } = watch;
  if (!watch.running && !rehearsal) return <NotRunning watch={watch} again={again} />;
  if (rehearsal && !watch.running && !state)
    return (
      <div class="watch rehearsed">
        <Banner rehearsal={rehearsal} again={again} />
        {rehearsal.state === "preparing" ? <Loading what={`Preparing the rehearsal: ${rehearsal.step}`} /> : <Failed rehearsal={rehearsal} />}
      </div>
    );
  return (
    <div class={rehearsal ? "watch rehearsed" : "watch"} data-running={watch.running}>
      {rehearsal && <Banner rehearsal={rehearsal} again={again} />}
      {error !== null && <Trouble error={error} again={again} />}
      <Head state={state} ms={ms} />
      {state?.replay && <Loading what="Reading the record again" share={state.replay.packets ? state.replay.done / state.replay.packets : 1} />}
      {rehearsal?.score && <ScorePanel score={rehearsal.score} speed={rehearsal.speed} record={rehearsal.record} />}
      <div class="watch-parts">
        <div class="watch-left">
          <div class="watch-map">
            <WatchMap watch={watch} state={state} ms={ms} follow={follow} />
          </div>
          <HeightAgainstPlan watch={watch} state={state} ms={ms} />
          {watch.winds ? <WindsSeen winds={watch.winds} /> : <p class="small">No winds to compare yet: {watch.prediction_why_not}.</p>}
        </div>
        <div class="watch-right">
          {state && <Warnings state={state} again={again} />}
          <Lost watch={watch} />
          <Landing watch={watch} state={state} ms={ms} />
          <Search watch={watch} look={(place, edge_m) => setFollow({ place, edge_m })} />
          {state && <CutDown watch={watch} state={state} ms={ms} again={again} />}
        </div>
        <div class="watch-right">
          <Reports watch={watch} state={state} ms={ms} />
          {state && <Stations state={state} ms={ms} />}
          <Log watch={watch} again={again} />
          <p class="row">
            <Legend extra={<MapWords />} />
            {may("director") && watch.running && !rehearsal && <End again={again} />}
          </p>
        </div>
      </div>
    </div>
  );
}

/** What the map of this page draws beside the symbols. */
function MapWords() {
  const tone = TONES[look.value];
  return (
    <>
      <LandingKey levels={[0.5, 0.9]} />
      <Swatch name={`90 % areas of the last ${EARLIER} predictions before that, each with its time, the older the fainter; "How the area moved" lists all`}>
        <path d="M2 4H46" stroke={tone.quiet} stroke-width="1.5" />
        <path d="M2 10H46" stroke={tone.quiet} stroke-width="1.5" stroke-opacity="0.6" />
        <path d="M2 16H46" stroke={tone.quiet} stroke-width="1.5" stroke-opacity="0.4" />
      </Swatch>
      <LineKey name="flown" wide={4} />
      <LineKey name="planned; down dashed" wide={1.6} down />
      <Swatch name="some of the predicted flights">
        <path d="M2 5H46M2 10H46M2 15H46" stroke={tone.ink} stroke-opacity="0.4" stroke-dasharray="5 3" />
      </Swatch>
      <Swatch name="a cut-down at the moment that was asked, 50 and 90 %">
        <path d="M2 10H46" stroke={tone.cut} stroke-width="2" stroke-dasharray="10 4" />
      </Swatch>
      <Swatch name="where a silent balloon may be now, 50 and 90 %">
        <path d="M2 10H46" stroke={tone.ink} stroke-width="2" stroke-dasharray="2 4" />
      </Swatch>
      <Swatch name="squares to search, the stronger the likelier">
        <path d="M4 2h13v16h-13z" fill={tone.search} fill-opacity="0.6" />
        <path d="M17 2h13v16h-13z" fill={tone.search} fill-opacity="0.35" />
        <path d="M30 2h13v16h-13z" fill={tone.search} fill-opacity="0.15" />
      </Swatch>
      <GroundKey />
    </>
  );
}

function Head({ state, ms }: { state: State | null; ms: number }) {
  if (!state) return <Loading what="Waiting for the first look" />;
  const { place, rates } = state;
  const age = ageS(place?.time_utc, ms);
  const stale = isOld(age);
  const phase = phaseOf(state, ms);
  return (
    <header class="watch-head" data-stale={stale}>
      <div>
        <p class="small">
          {saidTime(ms, zone.value, true)} ({saidTime(ms)})
        </p>
        <p class="watch-phase" data-phase={state.phase}>
          {phase.said}
        </p>
        <p class="small">{phase.was}{state.phase_since_utc ? `since ${saidTime(Date.parse(state.phase_since_utc), zone.value)}` : place ? "phase not known since when" : state.packets > 0 ? "packets are heard, and no place in them was believed" : "nothing heard yet"}</p>
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
          {rates && rates.course_deg !== null && (rates.speed_m_s ?? 0) > 0.5 && <span class="small">towards {String(Math.round(rates.course_deg ?? 0) % 360).padStart(3, "0")}°</span>}
        </Number>
        <Number name="Battery">
          {state.box && state.box.battery_v !== null ? (
            <span class="amount">
              {state.box.battery_v.toFixed(2)}
              <span class="unit">V</span>
              {oldS(state.box.told_utc, ms) !== null && <span class="unit age">· {saidSpan(oldS(state.box.told_utc, ms))}</span>}
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
        <StartRehearsal watch={watch} again={again} />
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
              <button class="first" onClick={() => void post("/api/watch/start", { site }).then(again, setError)}>
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
      <StartRehearsal watch={watch} again={again} />
      {watch.log.length > 0 && <Log watch={watch} again={again} />}
    </>
  );
}
