// A balloon that is silent or down: where it may be, squares to search, and what a cut-down would do.
import { useState } from "preact/hooks";
import { post } from "../../api/client";
import { may } from "../../api/session";
import { zone } from "../../shell/clock";
import { Trouble } from "../../shell/States";
import { said, saidPlace, saidShare, saidSpan, saidTime } from "../../shell/units";
import { oldS, type State, type Watch } from "./live";
import { Panel, saidArea } from "./Panels";

const FIRST = 8;

/** Ask what a cut-down now would do; nothing here can command one. */
export function CutDown({ watch, state, ms, again }: { watch: Watch; state: State; ms: number; again: () => void }) {
  const [error, setError] = useState<unknown>(null);
  const [busy, setBusy] = useState(false);
  const up = state.phase === "ascent" || state.phase === "float";
  const { cut_down: cut } = watch;
  if (!watch.running || !watch.prediction || (!up && !cut)) return null;
  const ask = () => {
    setBusy(true);
    post("/api/watch/cut-down")
      .then(again, setError)
      .finally(() => setBusy(false));
  };
  const arrival = cut?.arrival_utc;
  const old = cut ? oldS(cut.made_utc, ms) : null;
  return (
    <Panel title="A cut-down now" id="cut-down">
      {cut ? (
        <>
          <p>
            {arrival ? (
              <>
                would be down at <b>{saidTime(Date.parse(arrival[1]), zone.value)}</b>
              </>
            ) : (
              "would not land in the data"
            )}
            , 50 % area {saidArea(cut.area_km2)}
            {old !== null && <b> · as of {saidSpan(old)} ago</b>}
          </p>
          <ul class="watch-chances small">
            {cut.chances
              .filter((one) => one.p > 0 && !one.name.startsWith("cut down"))
              .slice(0, 5)
              .map((one) => (
                <li>
                  <b>{saidShare(one.p)}</b> {one.name}
                </li>
              ))}
          </ul>
        </>
      ) : (
        <p class="small">Where it would come down if the balloon were cut off at this moment.</p>
      )}
      {up && may("crew") && (
        <button disabled={busy} onClick={ask}>
          {busy ? "Working it out" : cut ? "Ask again" : "Ask what it would do"}
        </button>
      )}
      <p class="smallest">Commands nothing: whoever holds the cut-down decides and acts.</p>
      {error !== null && <Trouble error={error} again={() => setError(null)} />}
    </Panel>
  );
}

/** Where a silent balloon may be by now. */
export function Lost({ watch }: { watch: Watch }) {
  const { lost } = watch;
  if (!lost) return null;
  return (
    <Panel title="Not heard" id="lost">
      <p>
        Last position at {saidTime(Date.parse(lost.heard_utc), zone.value, true)}. Down by now: <b>{saidShare(lost.down.p)}</b>
        {lost.height_msl_m && lost.down.p < 0.95 && (
          <>
            , else near {said("height", lost.height_msl_m[1])} (90 %: {said("height", lost.height_msl_m[0])} to {said("height", lost.height_msl_m[2])})
          </>
        )}
        .
      </p>
      <p class="small">The map draws where it may be now as a dotted outline; it grows with the silence.</p>
    </Panel>
  );
}

/** Squares, the likeliest first. */
export function Search({ watch, look }: { watch: Watch; look: (place: [number, number], edge_m: number) => void }) {
  const { search } = watch;
  if (!search) return null;
  return (
    <Panel title="Where to search" id="search">
      <p class="small">
        Last heard at {said("shortLength", search.heard_msl_m)} msl, {saidTime(Date.parse(search.heard_utc), zone.value, true)}, {saidPlace(search.heard_deg[0], search.heard_deg[1], 5)}. Squares of {said("shortLength", search.edge_m)}, the likeliest first.
      </p>
      <table class="watch-search">
        <thead>
          <tr>
            <th scope="col">Middle</th>
            <th scope="col" class="number">
              Chance
            </th>
            <th scope="col" class="number">
              Up to here
            </th>
          </tr>
        </thead>
        <tbody>
          {search.squares.slice(0, FIRST).map((one) => (
            <tr>
              <td>
                <button class="plain" onClick={() => look([one.longitude_deg, one.latitude_deg], search.edge_m)}>
                  {saidPlace(one.latitude_deg, one.longitude_deg)}
                </button>
              </td>
              <td class="number">{saidShare(one.chance)}</td>
              <td class="number">{saidShare(one.up_to_here)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {search.squares.length > FIRST && <p class="small">{search.squares.length - FIRST} more on the map.</p>}
      {search.unknown.p > 0 && (
        <p class="small">
          {saidShare(search.unknown.p)} {search.unknown.name}: none of these squares.
        </p>
      )}
      {search.notes.map((note) => (
        <p class="small">{note}</p>
      ))}
      <p class="small">Ask before you enter land. Leave a payload on a line, mast or rail to those who own it, and cut no gas envelope open near flame.</p>
    </Panel>
  );
}
