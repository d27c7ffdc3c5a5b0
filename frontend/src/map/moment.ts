// Where a flight is at a moment: between the points that the desk gave, straight.
import type { Schemas } from "../api/client";

export type Way = Schemas["WayAnswer"];

export interface Place {
  longitude: number;
  latitude: number;
  height: number;
  up: boolean;
}

/** Null before the release and after the last point. */
export function momentOf(way: Pick<Way, "seconds" | "longitude_deg" | "latitude_deg" | "height_msl_m" | "top">, seconds: number): Place | null {
  const times = way.seconds;
  const last = times.length - 1;
  if (last < 1 || seconds < (times[0] ?? 0) || seconds > (times[last] ?? 0)) return null;
  let [low, high] = [0, last];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((times[middle] ?? 0) <= seconds) low = middle;
    else high = middle;
  }
  const [from = 0, to = 0] = [times[low], times[high]];
  const share = to > from ? (seconds - from) / (to - from) : 0;
  const between = (values: readonly number[]) => (values[low] ?? 0) + share * ((values[high] ?? 0) - (values[low] ?? 0));
  return { longitude: between(way.longitude_deg), latitude: between(way.latitude_deg), height: between(way.height_msl_m), up: low < way.top };
}

const EARTH_M = 6_371_008.8; // mean radius, IUGG

/** Great-circle distance and first bearing: to read off a map, not to compute with. */
export function measured(from: readonly [number, number], to: readonly [number, number]): { metres: number; bearing: number } {
  const rad = Math.PI / 180;
  const [a, b, turn] = [from[1] * rad, to[1] * rad, (to[0] - from[0]) * rad];
  const half = Math.sin((b - a) / 2) ** 2 + Math.cos(a) * Math.cos(b) * Math.sin(turn / 2) ** 2;
  const bearing = Math.atan2(Math.sin(turn) * Math.cos(b), Math.cos(a) * Math.sin(b) - Math.sin(a) * Math.cos(b) * Math.cos(turn)) / rad;
  return { metres: 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(half))), bearing: (bearing + 360) % 360 };
}
