// Page Flight: one release on the map and against the clock. The map leads; charts hang on the same moment.
import { useEffect } from "preact/hooks";
import { get } from "../../api/client";
import { useJob } from "../../api/jobs";
import { setMarks, shown, zone } from "../../shell/clock";
import { plan } from "../../shell/plan";
import { address } from "../../shell/route";
import { Loading, Trouble } from "../../shell/States";
import { said, saidSpan, saidTime } from "../../shell/units";
import { chosen, keyOf } from "../window/choice";
import { Answer } from "../window/Decision";
import { Papers } from "../briefing/Papers";
import type { Flown } from "./answers";
import { HeightTime } from "./HeightTime";
import { FlownMap } from "./FlownMap";
import { momentOf } from "../../map/moment";
import { WindProfile } from "./WindProfile";
import "../window/window.css";
import "./flight.css";

void import("maplibre-gl"); // on its way while the desk is asked for the flight

export default function Flight() {
  const choice = chosen();
  const key = `${plan.value?.digest ?? ""} ${keyOf(choice)}`;
  return <Asked key={key} ask={key} />;
}

function Asked({ ask }: { ask: string }) {
  const choice = chosen();
  const { answer, job, error, again } = useJob(ask, (signal) => get("/api/flight", {}, choice, signal));
  if (error) return <Trouble error={error} again={again} />;
  const flight = answer?.flight;
  return flight ? <Shown flight={flight} /> : <Loading what="Flying the release" job={job} />;
}

function Shown({ flight }: { flight: Flown }) {
  const choice = chosen();
  useEffect(() => {
    setMarks(
      flight.moments.map((one) => ({
        name: one.name,
        ms: Date.parse(one.time_utc),
        how: "predicted" as const,
        ...(one.from_utc && one.to_utc ? { from: Date.parse(one.from_utc), to: Date.parse(one.to_utc) } : {}),
      })),
    );
  }, [flight]);
  return (
    <>
      <header class="flight-head">
        <h1>
          {flight.site} · {saidTime(Date.parse(flight.release_utc), zone.value)} · {flight.fill}
        </h1>
        <Answer decision={flight.decision} />
        <a class="button" href={address("window", choice)}>
          Choose another release
        </a>
        <a class="button" href={address("briefing", choice)}>
          Briefing
        </a>
      </header>
      <div class="flight">
        <FlownMap flight={flight} />
        <div class="flight-side">
          <p class="flight-words">{flight.words[0]}</p>
          <Now flight={flight} />
          <HeightTime flight={flight} />
          <WindProfile winds={flight.winds} />
        </div>
      </div>
      <Papers choice={choice} title="Take it along" />
    </>
  );
}

/** Where the nominal flight is at the moment that the strip shows. */
function Now({ flight }: { flight: Flown }) {
  const release = Date.parse(flight.release_utc);
  const seconds = (shown.value - release) / 1000;
  const place = momentOf(flight.nominal, seconds);
  return (
    <p class="flight-now" data-moment={Math.round(seconds)}>
      <b>{saidTime(shown.value, zone.value, true)}</b>{" "}
      {place
        ? `nominal flight at ${said("height", place.height)}, ${place.up ? "climbing" : "coming down"}, ${saidSpan(seconds)} after release`
        : seconds < 0
          ? `${saidSpan(-seconds)} before release. Drag the chart or the strip below to see the flight move.`
          : "after the nominal flight has come down"}
    </p>
  );
}
