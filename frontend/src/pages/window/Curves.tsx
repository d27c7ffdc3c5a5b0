// What is still open once a cell is chosen: how late it leaves, and what the scale reads.
import { get, type Schemas } from "../../api/client";
import { useJob } from "../../api/jobs";
import { axisOf, round, type Axis } from "../../charts/axes";
import { band, Chart, lineThrough } from "../../charts/Chart";
import { Loading, Trouble } from "../../shell/States";
import { plan } from "../../shell/plan";
import { STATE_PATHS } from "../../shell/Signs";
import { said, saidSpan } from "../../shell/units";
import { keyOf, type Choice } from "./choice";

type Curve = (number | null)[][];

export function Curves({ choice }: { choice: Choice }) {
  const { answer, job, error, again } = useJob(`curves ${plan.value?.digest ?? ""} ${keyOf(choice)}`, (signal) => get("/api/window/curves", {}, choice, signal));
  if (error) return <Trouble error={error} again={again} />;
  if (!answer) return <Loading what="Other delays and other lifts" job={job} />;
  return (
    <>
      {answer.delay && <Delay delay={answer.delay} />}
      {answer.lift && <Lift lift={answer.lift} />}
    </>
  );
}

function Delay({ delay }: { delay: Schemas["DelayAnswer"] }) {
  const last = delay.delay_s.at(-1) ?? 1;
  const x: Axis = { from: 0, to: last, name: "Release later by, min", ticks: round(0, last / 60, 6).map((one) => ({ value: one * 60, words: String(one) })) };
  const y = axisOf("distance", "Landings from the middle of those as chosen", 0, 1.05 * most(delay.moved_m), 5);
  const turn = delay.states.findIndex((state) => state !== delay.states[0]);
  return (
    <figure>
      <figcaption>
        <h3>If the release is late</h3>
        <p class="small">
          {turn > 0 ? `From ${saidSpan(delay.delay_s[turn])} on: ${delay.states[turn]}${delay.reasons[turn] ? `, ${delay.reasons[turn]}` : ""}.` : `The answer stays the same for ${saidSpan(last)}.`}
          {delay.leaves_after_s !== null && ` After ${saidSpan(delay.leaves_after_s)} the landings leave ${delay.permitted || "what the plan accepts"}.`}
        </p>
      </figcaption>
      <Chart label="Distance of the landings against delay of the release" x={x} y={y} height={220}>
        {(scales) => (
          <>
            <Bands xs={delay.delay_s} rows={delay.moved_m} scales={scales} />
            {delay.delay_s.map((seconds, index) => (
              <g class={`sign-${(delay.states[index] ?? "cannot tell").replace(" ", "-")}`} transform={`translate(${scales.x(seconds) - 6} ${scales.top - 12}) scale(0.6)`}>
                {STATE_PATHS[delay.states[index] ?? "cannot tell"]}
              </g>
            ))}
          </>
        )}
      </Chart>
    </figure>
  );
}

function Lift({ lift }: { lift: Schemas["LiftAnswer"] }) {
  const [first = 0, last = 1] = [lift.lift_n[0], lift.lift_n.at(-1)];
  const x = axisOf("lift", "Read on the scale", first, last, 6);
  const tops = lift.burst_msl_m.flat().filter((one) => one !== null);
  const heights = axisOf("height", "Burst above mean sea level", Math.min(...tops, lift.wanted_msl_m) - 500, Math.max(...tops, lift.wanted_msl_m) + 500, 5);
  const moved = axisOf("distance", "Landings from the middle of those as chosen", 0, 1.05 * most(lift.moved_m), 5);
  const planned = (scales: { x: (value: number) => number; top: number; bottom: number }) => (
    <>
      <rect
        x={scales.x(lift.planned_lift_n - lift.tolerance_n)}
        width={Math.max(1, scales.x(lift.planned_lift_n + lift.tolerance_n) - scales.x(lift.planned_lift_n - lift.tolerance_n))}
        y={scales.top}
        height={scales.bottom - scales.top}
        fill="var(--ink)"
        fill-opacity="0.08"
      />
      <path class="limit" d={`M${scales.x(lift.planned_lift_n)} ${scales.bottom}V${scales.top}`} />
    </>
  );
  return (
    <figure>
      <figcaption>
        <h3>If the scale reads otherwise</h3>
        <p class="small">
          Planned {said("lift", lift.planned_lift_n)}; the grey strip is twice the spread of the scale. Bands hold 90 % and 50 % of the flights.
        </p>
      </figcaption>
      <Chart label="Burst height against lift on the scale" x={x} y={heights} height={200}>
        {(scales) => (
          <>
            {planned(scales)}
            <Bands xs={lift.lift_n} rows={lift.burst_msl_m} scales={scales} />
            <path class="wanted" d={`M${scales.left} ${scales.y(lift.wanted_msl_m)}H${scales.right}`} />
            <text class="halo" x={scales.right - 4} y={scales.y(lift.wanted_msl_m) - 4} text-anchor="end">
              wanted
            </text>
          </>
        )}
      </Chart>
      <Chart label="Distance of the landings against lift on the scale" x={x} y={moved} height={200}>
        {(scales) => (
          <>
            {planned(scales)}
            <Bands xs={lift.lift_n} rows={lift.moved_m} scales={scales} />
          </>
        )}
      </Chart>
    </figure>
  );
}

/** 5 to 95 %, 25 to 75 %, and the middle. */
function Bands({ xs, rows, scales }: { xs: readonly number[]; rows: Curve; scales: Parameters<typeof lineThrough>[1] }) {
  const column = (index: number) => rows.map((row) => row[index] ?? null);
  return (
    <>
      <path class="band" d={band(xs, column(0), column(4), scales)} />
      <path class="band" d={band(xs, column(1), column(3), scales)} />
      <path class="firm" d={lineThrough(xs.map((x, index) => [x, column(2)[index] ?? null] as const), scales)} />
    </>
  );
}

function most(rows: Curve): number {
  return Math.max(1, ...rows.flat().filter((one) => one !== null));
}
