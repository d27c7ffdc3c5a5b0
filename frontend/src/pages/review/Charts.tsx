// What was flown beside what was told: height against time, landing error against time, winds against height.
import { axisOf, type Axis } from "../../charts/axes";
import { Chart, lineThrough, type Scales } from "../../charts/Chart";
import { at, shown, zone } from "../../shell/clock";
import { hours } from "../../shell/ClockStrip";
import { said, saidTime } from "../../shell/units";
import { flownAt, type PlanReview, type Review } from "./answers";

type Winds = NonNullable<PlanReview["winds"]>;
type Score = Review["scores"][number];

function clock(from: number, to: number, name: string): Axis {
  return { from, to, name, ticks: hours(from, to, 340).map((value) => ({ value, words: saidTime(value, zone.value) })) };
}

export function HeightBoth({ review, plan }: { review: Review; plan: PlanReview | null }) {
  const flown = review.flown.map(([seconds, , , height]) => [1000 * seconds, height] as const);
  const planned = plan?.planned ?? null;
  const begin = planned ? Date.parse(planned.release_utc) : (flown[0]?.[0] ?? 0);
  const points = planned?.seconds.map((seconds, index) => [begin + 1000 * seconds, planned.height_msl_m[index] ?? null] as const) ?? [];
  const times = [...flown.map((one) => one[0]), ...points.map((one) => one[0])];
  const [from, to] = [Math.min(...times), Math.max(...times, Math.min(...times) + 600_000)];
  const top = Math.max(1000, ...flown.map((one) => one[1] ?? 0), ...points.map((one) => one[1] ?? 0));
  if (times.length === 0) return null;
  return (
    <figure>
      <figcaption>
        <h2>Height, flown against planned</h2>
      </figcaption>
      <Chart label={`Height against time: flown up to ${said("height", review.burst_msl_m ?? review.highest_msl_m)}${planned ? `, planned up to ${said("height", Math.max(...planned.height_msl_m))}` : ""}`} x={clock(from, to, "local time")} y={axisOf("height", "Height above mean sea level", 0, 1.1 * top, 6)} height={240} drag={(ms) => (at.value = Math.round(ms / 1000) * 1000)}>
        {(scales) => (
          <>
            <path class="review-planned" d={lineThrough(points.slice(0, (planned?.top ?? 0) + 1), scales)} />
            <path class="review-planned" stroke-dasharray="6 4" d={lineThrough(points.slice(planned?.top ?? 0), scales)} />
            <path class="review-flown" d={lineThrough(flown, scales)} />
            {review.burst_utc && review.burst_msl_m !== null && (
              <text class="halo" x={scales.x(Date.parse(review.burst_utc))} y={scales.y(review.burst_msl_m) - 8} text-anchor="middle">
                burst
              </text>
            )}
            <Labels flown={flown} planned={points} scales={scales} />
            <Moment review={review} scales={scales} />
          </>
        )}
      </Chart>
    </figure>
  );
}

/** The moment of the clock, and the height that was flown then. */
function Moment({ review, scales }: { review: Review; scales: Scales }) {
  const x = scales.x(shown.value);
  if (x < scales.left || x > scales.right) return null;
  const height = flownAt(review, shown.value)?.height ?? NaN;
  return (
    <g class="chart-now">
      <path d={`M${x} ${scales.bottom}V${scales.top}`} stroke="var(--focus)" stroke-width="2" />
      {Number.isFinite(height) && <circle cx={x} cy={scales.y(height)} r="6" fill="var(--sheet)" stroke="var(--focus)" stroke-width="3" />}
    </g>
  );
}

type Line = readonly (readonly [number, number | null])[];

/** Names beside the lines, on the way up: the one that is higher there to the left. */
function Labels({ flown, planned, scales }: { flown: Line; planned: Line; scales: Scales }) {
  const at = (line: Line, height: number) => line.find((one) => (one[1] ?? 0) >= height)?.[0] ?? null;
  const top = 0.55 * Math.max(...flown.map((one) => one[1] ?? 0));
  const [mine, theirs] = [at(flown, top), at(planned, top)];
  const flownFirst = mine !== null && (theirs === null || mine <= theirs);
  const word = (time: number | null, first: boolean, words: string) =>
    time === null ? null : (
      <text class="halo" x={scales.x(time) + (first ? -8 : 8)} y={scales.y(top) + 4} text-anchor={first ? "end" : "start"}>
        {words}
      </text>
    );
  return (
    <>
      {word(mine, flownFirst, "flown")}
      {word(theirs, !flownFirst, "planned")}
    </>
  );
}

/** Filled: inside the 50 % area; ring: inside 90 %; cross: outside. */
export function ErrorChart({ review }: { review: Review }) {
  const { scores, judged } = review;
  const times = scores.map((one) => Date.parse(one.made_utc));
  const marks = review.moments.map((one) => ({ ms: Date.parse(one.at_utc), words: one.name }));
  const from = Math.min(...times, ...marks.map((one) => one.ms));
  const to = Math.max(...times, judged ? Date.parse(judged.time_utc) : 0, from + 600_000);
  const errors = scores.map((one) => one.error_m ?? 0);
  const burst = review.burst_utc ? Date.parse(review.burst_utc) : null;
  return (
    <figure>
      <figcaption>
        <h2>Each predicted landing, off the {judged?.by}</h2>
      </figcaption>
      <Chart label={`Error of ${scores.length} predicted landings against the time of the prediction; the first ${said("distance", scores[0]?.error_m)}, the last ${said("distance", scores.at(-1)?.error_m)}`} x={clock(from, to, "local time of the prediction")} y={axisOf("distance", "Error", 0, 1.1 * Math.max(...errors, 1000), 5)} height={240}>
        {(scales) => (
          <>
            {burst !== null && (
              <>
                <path class="limit" d={`M${scales.x(burst)} ${scales.bottom}V${scales.top}`} />
                <text class="halo" x={scales.x(burst) + 4} y={scales.top + 12}>
                  burst
                </text>
              </>
            )}
            <path class="review-line" d={lineThrough(scores.map((one, index) => [times[index] ?? 0, one.error_m] as const), scales)} />
            {scores.map((one, index) => one.error_m !== null && <Mark score={one} x={scales.x(times[index] ?? 0)} y={scales.y(one.error_m)} />)}
          </>
        )}
      </Chart>
      <p class="small">Filled: it came down in the 50 % area. Ring: in the 90 % area. Cross: outside. Errors are from the mean of the predicted landings.</p>
    </figure>
  );
}

function Mark({ score, x, y }: { score: Score; x: number; y: number }) {
  if (score.inside["50"]) return <circle cx={x} cy={y} r="4" fill="var(--ink)" />;
  if (score.inside["90"]) return <circle cx={x} cy={y} r="4" fill="var(--sheet)" stroke="var(--ink)" stroke-width="2" />;
  return <path d={`M${x - 4} ${y - 4}l8 8m0 -8l-8 8`} stroke="var(--no-go)" stroke-width="2.5" />;
}

/** Points: measured, up filled, down ring. Line: the forecast on the way up; band: where its error model puts 9 of 10. */
export function WindBoth({ winds }: { winds: Winds }) {
  const seen = winds.measured;
  const up = seen.filter((one) => one.leg === "up" && one.told_u_m_s !== null && one.told_v_m_s !== null);
  const top = 1.05 * Math.max(...seen.map((one) => one.height_msl_m));
  return (
    <>
      <div class="review-winds">
        {(["u", "v"] as const).map((part) => {
          const measured = (one: Winds["measured"][number]) => (part === "u" ? one.wind_u_m_s : one.wind_v_m_s);
          const told = (one: Winds["measured"][number]) => (part === "u" ? one.told_u_m_s : one.told_v_m_s) ?? 0;
          const reach = (one: Winds["measured"][number]) => 1.645 * one.told_sd_m_s;
          const values = [...seen.map(measured), ...up.map((one) => told(one) - reach(one)), ...up.map((one) => told(one) + reach(one))];
          const [low, high] = [Math.min(-5, ...values), Math.max(5, ...values)];
          const name = part === "u" ? "wind towards east" : "wind towards north";
          return (
            <Chart label={`${name}, measured and forecast, against height`} x={axisOf("speed", name, low - 1, high + 1, 6)} y={axisOf("height", "Height, msl", 0, top, 6)} height={320}>
              {(scales) => (
                <>
                  <path class="limit" d={`M${scales.x(0)} ${scales.bottom}V${scales.top}`} />
                  <path class="band" d={around(up, told, reach, scales)} />
                  <path class="firm" d={lineThroughHeights(up, told, scales)} />
                  {seen.map((one) => (
                    <circle class={one.leg === "down" ? "review-down" : "review-up"} cx={scales.x(measured(one))} cy={scales.y(one.height_msl_m)} r="2.5" />
                  ))}
                </>
              )}
            </Chart>
          );
        })}
      </div>
      <p class="small">
        {winds.name}. Line: forecast, where and when the flight was there on its way up; band: holds 9 of 10 true winds by the error model. Points: measured, filled on the way up, rings on the way down.
      </p>
    </>
  );
}

type Value = (one: Winds["measured"][number]) => number;

function lineThroughHeights(rows: Winds["measured"], value: Value, scales: Scales): string {
  return rows.map((one, index) => `${index === 0 ? "M" : "L"}${scales.x(value(one)).toFixed(1)} ${scales.y(one.height_msl_m).toFixed(1)}`).join("");
}

function around(rows: Winds["measured"], value: Value, reach: Value, scales: Scales): string {
  if (rows.length < 2) return "";
  const side = (sign: number) => rows.map((one) => `${scales.x(value(one) + sign * reach(one)).toFixed(1)} ${scales.y(one.height_msl_m).toFixed(1)}`);
  return `M${[...side(-1), ...side(1).reverse()].join("L")}Z`;
}
