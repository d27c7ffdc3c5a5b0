// A flight in 3-D: a curtain from the ground up to the flight, of thin upright strips; heights are not exaggerated.
import type { FeatureCollection, Position } from "geojson";
import { collected } from "./ground";

const HALF_WIDTH_M = 90;
const METRES_PER_DEGREE = 111_195; // of the mean sphere

interface Line {
  longitude_deg: readonly number[];
  latitude_deg: readonly number[];
  height_msl_m: readonly number[];
  top: number;
}

/** One strip for each piece of the flight, as high as its middle above the ground. */
export function curtain(line: Line, ground_msl_m: number): FeatureCollection {
  return collected(
    line.longitude_deg.slice(1).flatMap((toX, index) => {
      const [fromX = 0, fromY = 0, toY = 0] = [line.longitude_deg[index], line.latitude_deg[index], line.latitude_deg[index + 1]];
      const narrow = Math.cos((fromY * Math.PI) / 180);
      const [east, north] = [(toX - fromX) * narrow, toY - fromY];
      const length = Math.hypot(east, north);
      if (length === 0) return [];
      const half = HALF_WIDTH_M / METRES_PER_DEGREE / length;
      const [x, y] = [(-north * half) / narrow, east * half];
      const ring: Position[] = [
        [fromX + x, fromY + y],
        [toX + x, toY + y],
        [toX - x, toY - y],
        [fromX - x, fromY - y],
        [fromX + x, fromY + y],
      ];
      const middle = 0.5 * ((line.height_msl_m[index] ?? 0) + (line.height_msl_m[index + 1] ?? 0));
      return [
        {
          type: "Feature" as const,
          properties: { leg: index < line.top ? "up" : "down", height: Math.max(1, middle - ground_msl_m) },
          geometry: { type: "Polygon" as const, coordinates: [ring] },
        },
      ];
    }),
  );
}
