// Winds that the flight measured, on the forecast with its error: towards the east and towards the north against height.
import { axisOf } from "../../charts/axes";
import { Chart, type Scales } from "../../charts/Chart";
import { said } from "../../shell/units";
import type { Watch } from "./live";

type Winds = NonNullable<Watch["winds"]>;
type Component = "wind_u_m_s" | "wind_v_m_s";

/** So many standard deviations to both sides hold 90 % of a normal error. */
const NINETY = 1.645;
const PARTS: readonly [Component, string][] = [
  ["wind_u_m_s", "towards east"],
  ["wind_v_m_s", "towards north"],
];

export function WindsSeen({ winds }: { winds: Winds }) {
  const heights = [...winds.height_msl_m, ...winds.measured.map((one) => one.high_msl_m), 5000];
  const y = axisOf("height", "Height, msl", 0, Math.max(...heights), 5);
  const off = winds.rms_off_m_s;
  return (
    <figure class="watch-chart" data-panel="winds">
      <figcaption class="small">
        Wind: measured as dots with their 90 % error{winds.measured_itself ? "" : ", forecast as a line, its 90 % error as a band"}.{" "}
        {off !== null && !winds.measured_itself && (
          <b>
            {said("speed", off)} off the forecast, {said("speed", winds.expected_rms_m_s)} expected
          </b>
        )}
        {winds.measured.length === 0 && <b>Nothing measured yet.</b>}
        {winds.measured_itself && <b> There is no forecast: the landing area stands on these winds.</b>}
      </figcaption>
      <div class="watch-winds">
        {PARTS.map(([component, name]) => (
          <Part winds={winds} component={component} name={name} y={y} />
        ))}
      </div>
      <p class="smallest">
        {winds.measured_itself ? "" : `${winds.name}, mean along the planned ascent. `}Filled on the way up, open on the way down.
      </p>
    </figure>
  );
}

function Part({ winds, component, name, y }: { winds: Winds; component: Component; name: string; y: ReturnType<typeof axisOf> }) {
  const forecast = winds[component];
  const ends = [
    ...forecast.flatMap((value, index) => [value - NINETY * (winds.sd_m_s[index] ?? 0), value + NINETY * (winds.sd_m_s[index] ?? 0)]),
    ...winds.measured.map((one) => one[component]),
    -5,
    5,
  ];
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  const x = axisOf("speed", name, low - 0.04 * (high - low), high + 0.04 * (high - low), 5);
  const side = (scales: Scales, sign: number) =>
    winds.height_msl_m.map((height, index) => `${scales.x((forecast[index] ?? 0) + sign * NINETY * (winds.sd_m_s[index] ?? 0)).toFixed(1)} ${scales.y(height).toFixed(1)}`);
  return (
    <Chart label={`Wind ${name} against height, ${winds.measured.length} layers measured`} x={x} y={y} height={230}>
      {(scales) => (
        <>
          <path d={`M${scales.x(0)} ${scales.bottom}V${scales.top}`} stroke="var(--edge)" />
          {forecast.length > 1 && (
            <>
              <path d={`M${[...side(scales, -1), ...side(scales, 1).reverse()].join("L")}Z`} fill="var(--okabe-sky)" fill-opacity="0.3" />
              <path d={`M${side(scales, 0).join("L")}`} fill="none" stroke="var(--ink)" stroke-width="1.2" />
            </>
          )}
          {winds.measured.map((one) => {
            const [px, py] = [scales.x(one[component]), scales.y(0.5 * (one.low_msl_m + one.high_msl_m))];
            const reach = scales.x(NINETY * one.sd_m_s) - scales.x(0);
            return (
              <>
                <path d={`M${Math.max(scales.left, px - reach)} ${py}H${Math.min(scales.right, px + reach)}`} stroke="var(--ink)" stroke-opacity="0.5" />
                <circle cx={px} cy={py} r="2.5" fill={one.leg === "up" ? "var(--ink)" : "var(--sheet)"} stroke="var(--ink)" stroke-width="1.2" />
              </>
            );
          })}
        </>
      )}
    </Chart>
  );
}
