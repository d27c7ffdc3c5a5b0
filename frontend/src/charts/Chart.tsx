// A chart with named axes and a light grid. Many lines are painted on a canvas once; what moves is drawn above it.
import type { ComponentChildren } from "preact";
import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { look } from "../shell/Look";
import type { Axis } from "./axes";
import "./chart.css";

export interface Scales {
  x: (value: number) => number;
  y: (value: number) => number;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

interface Given {
  /** What a screen reader hears. */
  label: string;
  x: Axis;
  y: Axis;
  height: number;
  /** Painted under the rest, again only when `painted` changes. */
  paint?: (pen: CanvasRenderingContext2D, scales: Scales) => void;
  painted?: unknown;
  children: (scales: Scales) => ComponentChildren;
  /** Called with the value on the x axis while the pointer is dragged over the chart. */
  drag?: (value: number) => void;
}

const [LEFT, RIGHT, TOP, BOTTOM] = [52, 12, 28, 44];

export function Chart({ label, x, y, height, paint, painted, children, drag }: Given) {
  const place = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const [width, setWidth] = useState(0);
  useLayoutEffect(() => {
    const box = place.current;
    if (!box) return;
    const watch = new ResizeObserver(() => setWidth(box.clientWidth));
    watch.observe(box);
    setWidth(box.clientWidth);
    return () => watch.disconnect();
  }, []);
  const scales: Scales = {
    left: LEFT,
    right: Math.max(LEFT + 1, width - RIGHT),
    top: TOP,
    bottom: height - BOTTOM,
    x: (value) => LEFT + ((value - x.from) / (x.to - x.from)) * (Math.max(LEFT + 1, width - RIGHT) - LEFT),
    y: (value) => height - BOTTOM - ((value - y.from) / (y.to - y.from)) * (height - BOTTOM - TOP),
  };
  const shown = look.value;
  useLayoutEffect(() => {
    const sheet = canvas.current;
    const pen = sheet?.getContext("2d");
    if (!sheet || !pen || !paint || width === 0) return;
    const ratio = window.devicePixelRatio || 1;
    sheet.width = width * ratio;
    sheet.height = height * ratio;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    pen.beginPath();
    pen.rect(scales.left, scales.top, scales.right - scales.left, scales.bottom - scales.top);
    pen.clip();
    paint(pen, scales);
  }, [width, height, painted, shown, x.from, x.to, y.from, y.to]);
  const moved = (event: PointerEvent) => {
    if (!drag || !place.current || (event.type === "pointermove" && event.buttons === 0)) return;
    const at = event.clientX - place.current.getBoundingClientRect().left;
    drag(x.from + (Math.min(1, Math.max(0, (at - scales.left) / (scales.right - scales.left)))) * (x.to - x.from));
  };
  return (
    <div class={`chart${drag ? " drags" : ""}`} ref={place} style={{ height: `${height}px` }} onPointerDown={moved} onPointerMove={moved}>
      {paint && <canvas ref={canvas} aria-hidden="true" />}
      {width > 0 && (
        <svg role="img" aria-label={label} width={width} height={height}>
          <g class="chart-grid">
            {y.ticks.map((one) => (
              <>
                <path d={`M${scales.left} ${scales.y(one.value)}H${scales.right}`} />
                <text x={scales.left - 8} y={scales.y(one.value) + 4} text-anchor="end">
                  {one.words}
                </text>
              </>
            ))}
            {x.ticks.map((one) => (
              <>
                <path d={`M${scales.x(one.value)} ${scales.bottom}V${scales.top}`} />
                <text x={scales.x(one.value)} y={scales.bottom + 16} text-anchor="middle">
                  {one.words}
                </text>
              </>
            ))}
            <text x="0" y="14" class="chart-name">
              {y.name}
            </text>
            <text x={scales.right} y={height - 8} text-anchor="end" class="chart-name">
              {x.name}
            </text>
          </g>
          {children(scales)}
        </svg>
      )}
    </div>
  );
}

/** A line through points; null leaves a gap. */
export function lineThrough(points: readonly (readonly [number, number | null])[], scales: Scales): string {
  let words = "";
  let pen = "M";
  for (const [x, y] of points) {
    if (y === null || !Number.isFinite(y)) {
      pen = "M";
      continue;
    }
    words += `${pen}${scales.x(x).toFixed(1)} ${scales.y(y).toFixed(1)}`;
    pen = "L";
  }
  return words;
}

/** The band between two rows of values. */
export function band(xs: readonly number[], low: readonly (number | null)[], high: readonly (number | null)[], scales: Scales): string {
  const known = xs.map((x, index) => [x, low[index] ?? null, high[index] ?? null] as const).filter((one) => one[1] !== null && one[2] !== null);
  if (known.length < 2) return "";
  const up = known.map(([x, , top]) => `${scales.x(x).toFixed(1)} ${scales.y(top ?? 0).toFixed(1)}`);
  const down = known.toReversed().map(([x, bottom]) => `${scales.x(x).toFixed(1)} ${scales.y(bottom ?? 0).toFixed(1)}`);
  return `M${[...up, ...down].join("L")}Z`;
}
