// The wind over the release against height: each member of the forecast thin, their mean firm, its error a band.
import type { Schemas } from "../../api/client";
import { axisOf, type Axis } from "../../charts/axes";
import { Chart, type Scales } from "../../charts/Chart";

type Winds = Schemas["WindsAnswer"];

/** The circle of so many standard deviations holds 90 % of a normal error of two like components. */
const NINETY = Math.sqrt(-2 * Math.log(0.1));
const COMPASS: Axis = {
  from: 0,
  to: 360,
  name: "wind from",
  ticks: [0, 90, 180, 270, 360].map((value) => ({ value, words: `${"N E S W N".split(" ")[value / 90] ?? ""}` })),
};

export function WindProfile({ winds }: { winds: Winds }) {
  const heights = winds.height_msl_m;
  const reach = winds.sd_m_s.map((sd) => NINETY * sd);
  const fastest = Math.max(10, ...winds.mean_speed_m_s.map((speed, index) => speed + (reach[index] ?? 0)), ...winds.speed_m_s.flat());
  const y = axisOf("height", "Height, msl", 0, Math.max(...heights), 6);
  const speed = axisOf("speed", "wind speed", 0, 1.04 * fastest, 5);
  const upTo = (values: readonly number[], scales: Scales) =>
    heights.map((height, index) => `${index === 0 ? "M" : "L"}${scales.x(values[index] ?? 0).toFixed(1)} ${scales.y(height).toFixed(1)}`).join("");
  const around = (scales: Scales) => {
    const row = (sign: number) => heights.map((height, index) => `${scales.x(Math.max(0, (winds.mean_speed_m_s[index] ?? 0) + sign * (reach[index] ?? 0))).toFixed(1)} ${scales.y(height).toFixed(1)}`);
    return `M${[...row(-1), ...row(1).reverse()].join("L")}Z`;
  };
  return (
    <figure class="wind">
      <figcaption>
        <h2>Wind over the release</h2>
      </figcaption>
      <div class="wind-parts">
        <Chart label="Wind speed against height" x={speed} y={y} height={300}>
          {(scales) => (
            <>
              <path class="band" d={around(scales)} />
              {winds.speed_m_s.map((member) => (
                <path class="thin" d={upTo(member, scales)} />
              ))}
              <path class="firm" d={upTo(winds.mean_speed_m_s, scales)} />
              <Top winds={winds} scales={scales} />
            </>
          )}
        </Chart>
        <Chart label="Direction the wind comes from against height" x={COMPASS} y={y} height={300}>
          {(scales) => (
            <>
              {winds.from_deg.map((member) => (
                <path class="thin" d={turning(member, heights, scales)} />
              ))}
              <Top winds={winds} scales={scales} />
            </>
          )}
        </Chart>
      </div>
      <p class="small">
        {winds.name}: {winds.speed_m_s.length === 1 ? "one member" : `${winds.speed_m_s.length} members, thin; firm: their mean`}; the band holds the true wind with 90 %.
      </p>
    </figure>
  );
}

function Top({ winds, scales }: { winds: Winds; scales: Scales }) {
  const y = scales.y(winds.known_top_msl_m);
  if (y <= scales.top) return null;
  return (
    <>
      <path class="limit" d={`M${scales.left} ${y}H${scales.right}`} />
      <text class="halo" x={scales.right - 4} y={y - 4} text-anchor="end">
        winds end
      </text>
    </>
  );
}

/** A line that does not run back across the chart where the wind turns over north. */
function turning(member: readonly number[], heights: readonly number[], scales: Scales): string {
  return heights
    .map((height, index) => {
      const [from = 0, before] = [member[index], member[index - 1]];
      const pen = before === undefined || Math.abs(from - before) > 180 ? "M" : "L";
      return `${pen}${scales.x(from).toFixed(1)} ${scales.y(height).toFixed(1)}`;
    })
    .join("");
}
