// Height against time: every flight faint, the nominal one firm. Dragging moves the clock that all views share.
import { axisOf, type Axis } from "../../charts/axes";
import { Chart, lineThrough, type Scales } from "../../charts/Chart";
import { at, shown, zone } from "../../shell/clock";
import { hours } from "../../shell/ClockStrip";
import { look } from "../../shell/Look";
import { said, saidTime, system } from "../../shell/units";
import type { Flown } from "./answers";
import { TONES } from "../../map/ground";
import { momentOf } from "../../map/moment";

export function HeightTime({ flight }: { flight: Flown }) {
  const release = Date.parse(flight.release_utc);
  const ends = flight.ways.map((way) => way.seconds.at(-1) ?? 0).sort((a, b) => a - b);
  const last = 1.04 * Math.max(ends[Math.floor(0.99 * ends.length)] ?? 0, flight.nominal.seconds.at(-1) ?? 3600);
  const top = Math.max(flight.top_msl_m.high, flight.wanted_msl_m, flight.winds.known_top_msl_m > 60_000 ? 0 : flight.winds.known_top_msl_m);
  const x: Axis = {
    from: release,
    to: release + 1000 * last,
    name: "local time",
    ticks: hours(release, release + 1000 * last, 400).map((ms) => ({ value: ms, words: saidTime(ms, zone.value) })),
  };
  const y = axisOf("height", "Height above mean sea level", 0, 1.06 * top, 6);
  const paint = (pen: CanvasRenderingContext2D, scales: Scales) => {
    pen.strokeStyle = TONES[look.value].ink;
    pen.globalAlpha = Math.max(0.05, Math.min(0.3, 60 / Math.max(1, flight.ways.length)));
    pen.lineWidth = 1;
    for (const down of [false, true]) {
      pen.setLineDash(down ? [4, 3] : []);
      for (const way of flight.ways) {
        pen.beginPath();
        const [from, to] = down ? [way.top, way.seconds.length - 1] : [0, way.top];
        for (let index = from; index <= to; index++) {
          const [px, py] = [scales.x(release + 1000 * (way.seconds[index] ?? 0)), scales.y(way.height_msl_m[index] ?? 0)];
          if (index === from) pen.moveTo(px, py);
          else pen.lineTo(px, py);
        }
        pen.stroke();
      }
    }
  };
  return (
    <figure class="height-time">
      <figcaption>
        <h2>Height against time</h2>
      </figcaption>
      <Chart
        label={`Height against time of ${flight.drawn} flights; the nominal flight tops out at ${said("height", Math.max(...flight.nominal.height_msl_m))}`}
        x={x}
        y={y}
        height={300}
        paint={paint}
        painted={`${flight.made_utc} ${flight.drawn} ${system.value}`}
        drag={(ms) => (at.value = Math.round(ms / 1000) * 1000)}
      >
        {(scales) => <Over flight={flight} scales={scales} release={release} />}
      </Chart>
      <p class="small">
        {flight.drawn.toLocaleString("en").replaceAll(",", "\u202f")} of {flight.flights.toLocaleString("en").replaceAll(",", "\u202f")} flights drawn; up solid, down dashed. Drag to move the clock.
      </p>
    </figure>
  );
}

/** What is drawn above the faint lines; it moves with the clock. */
function Over({ flight, scales, release }: { flight: Flown; scales: Scales; release: number }) {
  const { nominal } = flight;
  const points = nominal.seconds.map((seconds, index) => [release + 1000 * seconds, nominal.height_msl_m[index] ?? 0] as const);
  const present = shown.value;
  const inside = scales.x(present) >= scales.left && scales.x(present) <= scales.right;
  const place = momentOf(nominal, (present - release) / 1000);
  const known = flight.winds.known_top_msl_m;
  return (
    <>
      <rect x={scales.left} width={scales.right - scales.left} y={scales.y(flight.ground_msl_m)} height={scales.bottom - scales.y(flight.ground_msl_m)} fill="var(--edge)" fill-opacity="0.5" />
      <path class="firm" d={lineThrough(points.slice(0, nominal.top + 1), scales)} />
      <path class="firm" stroke-dasharray="7 4" d={lineThrough(points.slice(nominal.top), scales)} />
      <path class="wanted" d={`M${scales.left} ${scales.y(flight.wanted_msl_m)}H${scales.right}`} />
      <text class="halo" x={scales.right - 4} y={scales.y(flight.wanted_msl_m) - 4} text-anchor="end">
        wanted
      </text>
      {scales.y(known) > scales.top && (
        <>
          <path class="limit" d={`M${scales.left} ${scales.y(known)}H${scales.right}`} />
          <text class="halo" x={scales.left + 4} y={scales.y(known) - 4}>
            winds end
          </text>
        </>
      )}
      {inside && (
        <g class="chart-now">
          <path d={`M${scales.x(present)} ${scales.bottom}V${scales.top}`} stroke="var(--focus)" stroke-width="2" />
          {place && <circle cx={scales.x(present)} cy={scales.y(place.height)} r="6" fill="var(--sheet)" stroke="var(--focus)" stroke-width="3" />}
        </g>
      )}
    </>
  );
}
