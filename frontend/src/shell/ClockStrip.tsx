// The strip at the foot of every page: one line of time for all of them. Moving it moves map, charts and numbers.
import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { at, deadlines, ended, flightNow, marks, now, saidMoment, shown, span, zone, type Mark } from "./clock";
import { saidDate, saidTime } from "./units";

const STEP_MS = 10_000;

export function ClockStrip() {
  const line = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(600);
  useLayoutEffect(() => {
    const place = line.current;
    if (!place) return;
    const watch = new ResizeObserver(() => setWidth(place.clientWidth));
    watch.observe(place);
    return () => watch.disconnect();
  }, []);
  const between = span.value;
  return (
    <footer class="strip" aria-label="Clock of the flight">
      <Now />
      <div class="strip-line" ref={line}>
        {between === null ? (
          <p class="small">No times yet: the plan and the flight put theirs here.</p>
        ) : (
          <Line width={width} from={between[0]} to={between[1]} />
        )}
      </div>
    </footer>
  );
}

function Now() {
  const moved = at.value !== null;
  const over = ended.value;
  const where = saidMoment(marks.value, shown.value, over !== null);
  const present = over ? over.name : flightNow.value === now.value ? "now" : "rehearsed now";
  return (
    <div class="strip-now" data-own={over !== null || flightNow.value !== now.value}>
      <b>{saidTime(shown.value, zone.value, true)}</b>
      <span class="smallest">
        {saidTime(shown.value)}
        <span class="strip-date"> · {saidDate(shown.value)}</span>
      </span>
      <span class="smallest">{moved ? where : where ? `${present} · ${where}` : present}</span>
      {moved && <button onClick={() => (at.value = null)}>{over ? "to the end" : "back to now"}</button>}
    </div>
  );
}

function Line({ width, from, to }: { width: number; from: number; to: number }) {
  const x = (ms: number) => Math.max(0, Math.min(width, ((ms - from) / (to - from)) * width));
  const present = flightNow.value;
  const labels = spread(marks.value.map((mark) => ({ mark, x: x(mark.ms) })), width);
  return (
    <>
      <svg aria-hidden="true">
        {hours(from, to, width).map((ms) => (
          <g>
            <path d={`M${x(ms)} 28v8`} stroke="var(--rule)" />
            <text x={x(ms)} y="56" text-anchor="middle" style={{ fill: "var(--ink-2)" }}>
              {saidTime(ms, zone.value)}
            </text>
          </g>
        ))}
        <path d={`M0 32H${width}`} stroke="var(--edge)" />
        {present > from && <path d={`M0 32H${x(present)}`} stroke="var(--ink)" stroke-width="3" />}
        {marks.value.map((mark) => (
          <MarkShape mark={mark} x={x(mark.ms)} low={x(mark.from ?? mark.ms)} high={x(mark.to ?? mark.ms)} />
        ))}
        {deadlines.value
          .filter((one) => one.ms > from && one.ms < to)
          .map((one) => (
            <path d={`M${x(one.ms)} 36l5 9h-10z`} fill={one.ms < present ? "var(--edge)" : "var(--no-go)"}>
              <title>{`${one.name}: ${saidTime(one.ms, zone.value)}`}</title>
            </path>
          ))}
        {labels.map(({ mark, x: place, anchor }) => (
          <text x={place} y="14" text-anchor={anchor}>
            {mark.name} {saidTime(mark.ms, zone.value)}
          </text>
        ))}
        <Handle x={x(shown.value)} side={shown.value < from ? -1 : shown.value > to ? 1 : 0} />
      </svg>
      <input
        type="range"
        min={from}
        max={to}
        step={STEP_MS}
        value={shown.value}
        aria-label="Moment that is shown"
        aria-valuetext={`${saidTime(shown.value, zone.value, true)}${at.value === null ? `, ${ended.value?.name ?? "now"}` : ""}; ${saidMoment(marks.value, shown.value, ended.value !== null)}`}
        onInput={(event) => (at.value = Number(event.currentTarget.value))}
        onKeyDown={(event) => {
          if (event.key === "Escape") at.value = null;
        }}
      />
      <span class="strip-focus" />
    </>
  );
}

/** The moment that is shown; when it lies off the strip, an arrow that way. */
function Handle({ x, side }: { x: number; side: -1 | 0 | 1 }) {
  if (side !== 0) return <path d={`M${x + side * 2} 32l${-side * 12} -9v18z`} fill="var(--focus)" />;
  return (
    <>
      <path d={`M${x} 20v24`} stroke="var(--focus)" stroke-width="3" />
      <circle cx={x} cy="32" r="7" fill="var(--sheet)" stroke="var(--focus)" stroke-width="3" />
    </>
  );
}

function MarkShape({ mark, x, low, high }: { mark: Mark; x: number; low: number; high: number }) {
  const band = high > low && <path d={`M${low} 32H${high}`} stroke="var(--ink)" stroke-width="8" stroke-opacity="0.25" />;
  const title = <title>{`${mark.name}, ${mark.how}: ${saidTime(mark.ms, zone.value)}`}</title>;
  if (mark.how === "flown")
    return (
      <g>
        {title}
        <circle cx={x} cy="32" r="5" fill="var(--ink)" />
      </g>
    );
  return (
    <g>
      {title}
      {band}
      <circle cx={x} cy="32" r="5" fill="var(--sheet)" stroke="var(--ink)" stroke-width="2" stroke-dasharray={mark.how === "planned" ? "3 2" : "none"} />
    </g>
  );
}

interface Label {
  mark: Mark;
  x: number;
  anchor: "start" | "middle" | "end";
}

/** What goes before when room is short. */
const MAIN = ["release", "burst", "touchdown"];

/** Labels that do not run into each other: what was flown goes before what is predicted and planned. */
export function spread(placed: readonly { mark: Mark; x: number }[], width: number): Label[] {
  const kinds = { flown: 0, predicted: 1, planned: 2 };
  const worth = (mark: Mark) => kinds[mark.how] + (MAIN.includes(mark.name) ? 0 : 3);
  const taken: [number, number][] = [];
  const chosen: Label[] = [];
  for (const { mark, x } of [...placed].sort((a, b) => worth(a.mark) - worth(b.mark))) {
    if (chosen.some((one) => one.mark.name === mark.name)) continue;
    const half = 3.5 * (mark.name.length + 7);
    const anchor = x < half ? "start" : x > width - half ? "end" : "middle";
    const left = anchor === "start" ? x : anchor === "end" ? x - 2 * half : x - half;
    if (taken.some(([from, to]) => left < to + 8 && left + 2 * half > from - 8)) continue;
    taken.push([left, left + 2 * half]);
    chosen.push({ mark, x, anchor });
  }
  return chosen;
}

/** Round times between two moments, as many as fit. */
export function hours(from: number, to: number, width: number): number[] {
  const steps = [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440].map((minutes) => minutes * 60_000);
  const step = steps.find((one) => (to - from) / one <= width / 64) ?? 86_400_000;
  const times: number[] = [];
  for (let ms = Math.ceil(from / step) * step; ms <= to; ms += step) times.push(ms);
  return times.filter((ms) => (ms - from) / (to - from) > 20 / width && (to - ms) / (to - from) > 20 / width);
}
