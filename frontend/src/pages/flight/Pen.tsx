// Points that are set on the map: a way to be measured, or the edge of a zone.
import type { Signal } from "@preact/signals";
import type { FeatureCollection, Position } from "geojson";
import { collected, lineOf, pointOf } from "../../map/ground";
import { said } from "../../shell/units";
import { measured } from "../../map/moment";

export interface Drawing {
  what: "measure" | "zone";
  points: readonly Position[];
}

export function Pen({ pen, what, name, ending }: { pen: Signal<Drawing | null>; what: Drawing["what"]; name: string; ending: string }) {
  const on = pen.value?.what === what;
  return (
    <button aria-pressed={on} onClick={() => (pen.value = on ? null : { what, points: [] })}>
      {on ? ending : name}
    </button>
  );
}

export function Measure({ points }: { points: readonly Position[] }) {
  if (points.length < 2) return <span class="small">Click {points.length === 0 ? "where it begins" : "the next point"}.</span>;
  const legs = points.slice(1).map((to, index) => measured(points[index] as [number, number], to as [number, number]));
  const whole = legs.reduce((sum, leg) => sum + leg.metres, 0);
  const bearing = String(Math.round(legs.at(-1)?.bearing ?? 0) % 360).padStart(3, "0");
  return (
    <span data-measured={Math.round(whole)}>
      <b>{said("distance", whole)}</b>, last leg towards {bearing}°
    </span>
  );
}

/** A line through the points, closed for a zone, and the points themselves. */
export function shapeOf(drawing: Drawing | null): FeatureCollection {
  if (!drawing || drawing.points.length === 0) return collected([]);
  const { what, points } = drawing;
  const line = what === "zone" && points.length > 2 ? [...points, points[0] as Position] : points;
  return collected([...(line.length > 1 ? [lineOf(line, { what })] : []), ...points.map(([x = 0, y = 0]) => pointOf(x, y, { what }))]);
}
