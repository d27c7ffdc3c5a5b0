// Page Window: every release that could be chosen, and the chosen one in full below.
import { useEffect } from "preact/hooks";
import { get, post, type Schemas } from "../../api/client";
import { shareOf, useJob } from "../../api/jobs";
import { may } from "../../api/session";
import { Sign } from "../../shell/Signs";
import { Notes } from "../../shell/Notes";
import { Loading, Trouble } from "../../shell/States";
import { plan } from "../../shell/plan";
import { go } from "../../shell/route";
import { now, zone } from "../../shell/clock";
import { saidSpan, saidTime } from "../../shell/units";
import { Cell } from "./Cell";
import { choiceOf, chosen, keyOf } from "./choice";
import { Matrix } from "./Matrix";
import "./window.css";

type Table = Schemas["WindowTable"];

export default function Window() {
  const { answer, job, error, again } = useJob(`window ${plan.value?.digest ?? ""}`, (signal) => get("/api/window", {}, {}, signal));
  if (error) return <Trouble error={error} again={again} />;
  const table = answer?.window;
  if (!table) return <Loading what="Flying the launch window" job={job} {...shareIn(job)} />;
  return <Flown table={table} again={again} />;
}

function shareIn(job: Schemas["JobAnswer"] | null): { share?: number } {
  const share = shareOf(job);
  return share === undefined ? {} : { share };
}

function Flown({ table, again }: { table: Table; again: () => void }) {
  const choice = chosen();
  const named = Object.keys(choice).length > 0;
  const opened = named ? choice : undefined;
  useEffect(() => {
    if (opened) document.getElementById("opened")?.scrollIntoView({ block: "nearest" });
  }, [named && keyOf(choice)]);
  const best = table.cells[table.best];
  const anew = () => void post("/api/window/again").then(again, again);
  return (
    <>
      <header class="window-head">
        <h1>Launch window</h1>
        <p class="window-counts">
          {(["go", "wait", "no-go"] as const).map((state) => (
            <span data-count={state}>
              <b>{table.counts[state] ?? 0}</b> <Sign state={state} />
            </span>
          ))}
        </p>
        <p class="small">
          {table.cells.length} releases, {table.flights.toLocaleString("en").replaceAll(",", "\u202f")} flights in {table.seconds.toFixed(0)} s · flown{" "}
          {saidTime(Date.parse(table.made_utc), zone.value)}, {saidSpan((now.value - Date.parse(table.made_utc)) / 1000)} ago
          {may("crew") && (
            <button class="window-again" onClick={anew}>
              Fly it again
            </button>
          )}
        </p>
        {best && !named && (
          <button class="first" onClick={() => go("window", choiceOf(best))}>
            Open the best: {best.site}, {saidTime(Date.parse(best.release_utc), zone.value)}, {best.fill}
          </button>
        )}
      </header>
      <Matrix table={table} choice={choice} />
      <Notes notes={table.notes} on="all cells" />
      {opened && <Cell choice={opened} key={keyOf(opened)} />}
    </>
  );
}
