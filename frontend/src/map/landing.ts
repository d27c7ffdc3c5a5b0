// The landing on the map: areas of one hue in three steps, told apart by their outlines too, and the nominal flight.
import type { FeatureCollection, Position } from "geojson";
import type { LayerSpecification, Map as MapLibre } from "maplibre-gl";
import type { Look } from "../shell/Look";
import { FONT, TONES } from "./ground";

export type Landing = Record<string, unknown>;

const HUE: Record<Look, string> = { day: "#0072b2", night: "#56b4e9" };
/** Chance inside, opacity of the fill, dashes of the outline. */
export const LEVELS = [
  { level: 0.95, fill: 0.1, dash: [0.5, 2.5] },
  { level: 0.9, fill: 0.12, dash: [4, 2] },
  { level: 0.5, fill: 0.16, dash: [1, 0] },
] as const;

export const LANDING_LAYERS = LEVELS.flatMap(({ level }) => [`landing-${level}`, `landing-edge-${level}`, `landing-word-${level}`]);

/** Puts areas, nominal flight and top on the map; the ends of all flights stay hidden until `ends` is switched on. */
export function putLanding(map: MapLibre, landing: Landing, look: Look): void {
  const data = landing as unknown as FeatureCollection;
  const shown: FeatureCollection = { ...data, features: data.features.filter((one) => one.geometry !== null) };
  put(map, "landing", shown);
  const hue = HUE[look];
  const is = (kind: string) => ["==", ["get", "kind"], kind];
  for (const { level, fill, dash } of LEVELS) {
    const filter = ["all", is("landing area"), ["==", ["get", "probability"], level]] as never;
    layer(map, { id: `landing-${level}`, type: "fill", source: "landing", filter, paint: { "fill-color": hue, "fill-opacity": fill } }, "over-ground");
    layer(map, { id: `landing-edge-${level}`, type: "line", source: "landing", filter, paint: { "line-color": hue, "line-width": 2, "line-dasharray": [...dash] } }, "over-areas");
    layer(
      map,
      {
        id: `landing-word-${level}`,
        type: "symbol",
        source: "landing",
        filter,
        layout: { "symbol-placement": "line", "text-field": `${100 * level} %`, "text-font": FONT, "text-size": 12, "symbol-spacing": 260 },
        paint: { "text-color": hue, "text-halo-color": TONES[look].paper, "text-halo-width": 2 },
      },
      "over-symbols",
    );
  }
  layer(map, { id: "ends", type: "circle", source: "landing", filter: is("ends of flights") as never, layout: { visibility: "none" }, paint: { "circle-radius": 1.5, "circle-color": TONES[look].ink, "circle-opacity": 0.5 } }, "over-flights");
  for (const [leg, dash] of [["ascent", [1, 0]], ["descent", [3, 1.5]]] as const) {
    const filter = ["all", is("nominal flight"), leg === "ascent" ? ["==", ["get", "leg"], "up"] : ["!=", ["get", "leg"], "up"]] as never;
    layer(map, { id: `nominal-${leg}`, type: "line", source: "landing", filter, paint: { "line-color": TONES[look].ink, "line-width": 2.5, "line-dasharray": [...dash] } }, "over-flights");
  }
}

/** West, south, east and north of everything in it. */
export function boundsOf(landing: Landing): [number, number, number, number] {
  const box: [number, number, number, number] = [180, 90, -180, -90];
  const grow = (place: unknown): void => {
    if (!Array.isArray(place)) return;
    if (typeof place[0] !== "number") return place.forEach(grow);
    const [x = 0, y = 0] = place as Position;
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  };
  for (const feature of (landing as unknown as FeatureCollection).features) {
    if (feature.properties?.kind === "ends of flights") continue;
    if (feature.geometry && feature.geometry.type !== "GeometryCollection") grow(feature.geometry.coordinates);
  }
  const room = 0.06 * Math.max(box[2] - box[0], box[3] - box[1]); // for the name of the site at the edge
  return [box[0] - room, box[1] - room, box[2] + room, box[3] + room];
}

/** A source with these data, new or as it was. */
export function put(map: MapLibre, id: string, data: FeatureCollection): void {
  const source = map.getSource(id) as { setData?: (data: FeatureCollection) => void } | undefined;
  if (source?.setData) source.setData(data);
  else map.addSource(id, { type: "geojson", data, tolerance: 0.75, buffer: 16 });
}

export function layer(map: MapLibre, one: LayerSpecification, before: string): void {
  if (!map.getLayer(one.id)) map.addLayer(one, before);
}
