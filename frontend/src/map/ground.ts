// The ground under every map as sources and layers of MapLibre, in the colours of the look.
import type { FeatureCollection, Position } from "geojson";
import type { LayerSpecification, StyleSpecification } from "maplibre-gl";
import regular from "@fontsource/noto-sans/files/noto-sans-latin-400-normal.woff2?url";
import regularMore from "@fontsource/noto-sans/files/noto-sans-latin-ext-400-normal.woff2?url";
import type { Schemas } from "../api/client";
import type { Look } from "../shell/Look";

type Ground = Schemas["MapAnswer"];

export const FONT = ["Noto Sans Regular"];

/** Empty layers in order: a page puts its own before one of them, `map.addLayer(layer, "over-areas")`. */
export const SHELVES = ["over-ground", "over-areas", "over-flights", "over-symbols"] as const;

interface Tones {
  sea: string;
  land: string;
  coast: string;
  border: string;
  ink: string;
  focus: string;
  quiet: string;
  paper: string;
  water: string;
  /** A cut-down that was asked for, and squares to search. */
  cut: string;
  search: string;
  road: readonly [string, string, string];
  zone: { keepOut: string; permitted: string; airspace: string };
}

export const TONES: Record<Look, Tones> = {
  day: {
    sea: "#e3e9ea",
    land: "#fbfaf6",
    coast: "#6f7c80",
    border: "#77736a",
    ink: "#16181a",
    focus: "#0072b2",
    quiet: "#4a4a46",
    paper: "#ffffff",
    water: "#2f6175",
    cut: "#9a3d75",
    search: "#d55e00",
    road: ["#7d5f36", "#a08457", "#c6b596"],
    zone: { keepOut: "#9e4500", permitted: "#00684c", airspace: "#8f3f6b" },
  },
  night: {
    sea: "#0a1214",
    land: "#17191a",
    coast: "#5d6a6d",
    border: "#8b8a82",
    ink: "#d8d2c4",
    focus: "#56b4e9",
    quiet: "#a9a598",
    paper: "#16191a",
    water: "#6fa3b8",
    cut: "#d99bbd",
    search: "#f08a4b",
    road: ["#a98f62", "#7c6a4a", "#544a38"],
    zone: { keepOut: "#f08a4b", permitted: "#3fbf98", airspace: "#d99bbd" },
  },
};

/** What stands under the flights; `page` is the address of this page, for fonts must have a whole address. */
export function groundStyle(ground: Ground, look: Look, page: string): StyleSpecification {
  const tone = TONES[look];
  return {
    version: 8,
    "font-faces": {
      "Noto Sans Regular": [
        { url: new URL(regular, page).href, "unicode-range": ["U+0000-00FF", "U+2000-206F"] },
        { url: new URL(regularMore, page).href, "unicode-range": ["U+0100-02FF"] },
      ],
    },
    sources: {
      land: { type: "geojson", data: polygons(ground.land.map((rings) => ({ rings }))) },
      coast: { type: "geojson", data: lines(ground.coast) },
      borders: { type: "geojson", data: lines(ground.borders) },
      ways: {
        type: "geojson",
        data: collected(Object.entries(ground.lines).flatMap(([kind, parts]) => parts.map((part) => lineOf(part, { kind })))),
      },
      areas: { type: "geojson", data: polygons(ground.areas.map((area) => ({ rings: inward(area.rings), kind: area.kind, name: area.name, limits: area.limits }))) },
      names: { type: "geojson", data: collected(ground.areas.filter((area) => area.name !== "" && area.kind !== "permit area").map(labelOf)) },
      known: { type: "geojson", data: lines(ground.known) },
      places: {
        type: "geojson",
        data: collected(ground.places.map((place, index) => pointOf(place.longitude_deg, place.latitude_deg, { name: place.name, people: place.population, order: index }))),
      },
      sites: { type: "geojson", data: collected(ground.sites.map((site) => pointOf(site.longitude_deg, site.latitude_deg, { name: `site ${site.name}` }))) },
    },
    layers: layers(tone),
  };
}

function layers(tone: Tones): LayerSpecification[] {
  const way = (kind: string) => ["==", ["get", "kind"], kind] as never;
  const wide = (narrow: number, near: number) => ["interpolate", ["exponential", 1.5], ["zoom"], 7, narrow, 13, near] as never;
  const line = (id: string, kind: string, paint: object, minzoom: number): LayerSpecification =>
    ({ id, type: "line", source: "ways", filter: way(kind), minzoom, layout: { "line-cap": "round", "line-join": "round" }, paint }) as LayerSpecification;
  const area = (id: string, kinds: string[], paint: object): LayerSpecification =>
    ({ id, type: "line", source: "areas", filter: ["in", ["get", "kind"], ["literal", kinds]], paint }) as LayerSpecification;
  return [
    { id: "sea", type: "background", paint: { "background-color": tone.sea } },
    { id: "land", type: "fill", source: "land", paint: { "fill-color": tone.land, "fill-antialias": false } },
    { id: "water", type: "fill", source: "areas", filter: way("water"), paint: { "fill-color": tone.sea } },
    { id: "water-dots", type: "fill", source: "areas", filter: ["in", ["get", "kind"], ["literal", ["water", "water or land"]]], paint: { "fill-pattern": "stipple" } },
    { id: "built-up-hatch", type: "fill", source: "areas", filter: way("built-up"), paint: { "fill-pattern": "hatch", "fill-opacity": 0.6 } },
    area("built-up-edge", ["built-up"], { "line-color": tone.quiet, "line-width": 0.8 }),
    area("water-edge", ["water", "water or land"], { "line-color": tone.water, "line-width": 0.8 }),
    { id: "coast", type: "line", source: "coast", paint: { "line-color": tone.coast, "line-width": 1 } },
    { id: "borders", type: "line", source: "borders", paint: { "line-color": tone.border, "line-width": 1.2, "line-dasharray": [6, 2, 1, 2] } },
    line("waterways", "waterway", { "line-color": tone.water, "line-width": wide(0.5, 2) }, 9),
    line("small-roads", "small road", { "line-color": tone.road[2], "line-width": wide(0.3, 3) }, 10),
    line("main-roads", "main road", { "line-color": tone.road[1], "line-width": wide(0.8, 5) }, 6),
    line("wide-roads", "wide road", { "line-color": tone.road[0], "line-width": wide(1.4, 7) }, 5),
    line("railways", "railway", { "line-color": tone.quiet, "line-width": wide(0.6, 2.5) }, 8),
    line("railway-ties", "railway", { "line-color": tone.paper, "line-width": wide(0.3, 1.2), "line-dasharray": [5, 5] }, 9),
    line("power-lines", "power line", { "line-color": tone.ink, "line-width": wide(1.4, 3), "line-dasharray": [0.1, 2.5] }, 8),
    { id: "known", type: "line", source: "known", paint: { "line-color": tone.quiet, "line-width": 1, "line-dasharray": [6, 5] } },
    shelf("over-ground"),
    { id: "airspace-lines", type: "fill", source: "areas", filter: way("airspace"), paint: { "fill-pattern": "ruled", "fill-opacity": 0.35 } },
    area("airspace-edge", ["airspace"], { "line-color": tone.zone.airspace, "line-width": 1.6 }),
    area("permit-edge", ["permit area"], { "line-color": tone.zone.permitted, "line-width": 2.2, "line-dasharray": [5, 2] }),
    area("permitted-edge", ["permitted landing"], { "line-color": tone.zone.permitted, "line-width": 2 }),
    area("keep-out-edge", ["keep-out"], { "line-color": tone.zone.keepOut, "line-width": 2 }),
    {
      id: "keep-out-teeth",
      type: "symbol",
      source: "areas",
      filter: way("keep-out"),
      layout: { "symbol-placement": "line", "symbol-spacing": 16, "icon-image": "tooth", "icon-allow-overlap": true, "icon-ignore-placement": true, "icon-keep-upright": false },
    },
    shelf("over-areas"),
    shelf("over-flights"),
    {
      id: "sites",
      type: "symbol",
      source: "sites",
      layout: { "icon-image": "site", "icon-allow-overlap": true, "text-field": ["get", "name"], "text-font": FONT, "text-size": 14, "text-variable-anchor": ["left", "right", "top"], "text-radial-offset": 1, "text-justify": "auto", "text-optional": true },
      paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 },
    },
    shelf("over-symbols"),
    {
      id: "permit-names",
      type: "symbol",
      source: "areas",
      filter: way("permit area"),
      layout: { "symbol-placement": "line", "symbol-spacing": 600, "text-field": ["get", "name"], "text-font": FONT, "text-size": 12 },
      paint: { "text-color": tone.zone.permitted, "text-halo-color": tone.paper, "text-halo-width": 2 },
    },
    {
      id: "area-names",
      type: "symbol",
      source: "names",
      layout: {
        "text-field": ["concat", ["get", "name"], ["case", ["==", ["get", "limits"], ""], "", "\n"], ["get", "limits"]],
        "text-font": FONT,
        "text-size": 12,
        "text-variable-anchor": ["center", "top", "bottom"],
        "text-radial-offset": 0.5,
      },
      paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 },
    },
    {
      id: "places",
      type: "symbol",
      source: "places",
      filter: ["any", [">=", ["get", "people"], 20_000], [">=", ["zoom"], 8]],
      layout: {
        "icon-image": "town",
        "icon-size": ["interpolate", ["linear"], ["get", "people"], 500, 0.35, 200_000, 0.7],
        "text-field": ["get", "name"],
        "text-font": FONT,
        "text-size": ["interpolate", ["linear"], ["get", "people"], 5_000, 12, 200_000, 14],
        "text-variable-anchor": ["left", "right", "top", "bottom"],
        "text-radial-offset": 0.6,
        "text-justify": "auto",
        "symbol-sort-key": ["get", "order"],
      },
      paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 1.5 },
    },
  ];
}

function shelf(id: (typeof SHELVES)[number]): LayerSpecification {
  return { id, type: "background", layout: { visibility: "none" } };
}

type Features = FeatureCollection["features"];
type Feature = Features[number];

export function collected(features: Features): FeatureCollection {
  return { type: "FeatureCollection", features };
}

export function lineOf(points: readonly Position[], properties: Feature["properties"] = {}): Feature {
  return { type: "Feature", properties, geometry: { type: "LineString", coordinates: [...points] } };
}

export function pointOf(longitude: number, latitude: number, properties: Feature["properties"] = {}): Feature {
  return { type: "Feature", properties, geometry: { type: "Point", coordinates: [longitude, latitude] } };
}

export function lines(parts: readonly (readonly Position[])[]): FeatureCollection {
  return collected(parts.map((part) => lineOf(part)));
}

export function polygons(areas: readonly ({ rings: readonly (readonly Position[])[] } & Record<string, unknown>)[]): FeatureCollection {
  return collected(areas.map(({ rings, ...properties }) => ({ type: "Feature", properties, geometry: { type: "Polygon", coordinates: rings.map((ring) => [...ring]) } })));
}

/** Where the name of an area stands: one point, for names drawn from polygons are repeated in every tile. */
function labelOf(area: Ground["areas"][number]): Feature {
  const outline = area.rings[0] ?? [];
  const middle = (part: 0 | 1) => {
    const values = outline.map((point) => point[part] ?? 0);
    return (Math.min(...values) + Math.max(...values)) / 2;
  };
  return pointOf(middle(0), middle(1), { name: area.name, limits: area.limits });
}

/** Rings with the inside on their right hand, so that teeth drawn along them point in; closed. */
export function inward(rings: readonly (readonly Position[])[]): Position[][] {
  return rings.map((ring, index) => {
    const closed = [...ring];
    const [first, last] = [closed[0], closed.at(-1)];
    if (first && last && (first[0] !== last[0] || first[1] !== last[1])) closed.push(first);
    return clockwise(closed) === (index === 0) ? closed : closed.reverse();
  });
}

function clockwise(ring: readonly Position[]): boolean {
  let doubled = 0;
  for (let index = 1; index < ring.length; index++) {
    const [a, b] = [ring[index - 1], ring[index]];
    doubled += ((b?.[0] ?? 0) - (a?.[0] ?? 0)) * ((b?.[1] ?? 0) + (a?.[1] ?? 0));
  }
  return doubled > 0;
}
