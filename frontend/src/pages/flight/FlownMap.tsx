// The map of a release: flights faint, nominal firm, areas, and what lies below; switches, measure and legend beside it.
import { useSignal, useSignalEffect } from "@preact/signals";
import type { FeatureCollection, Position } from "geojson";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { curtain } from "../../map/curtain";
import { drawsMaps, FlightMap, type MapLibre } from "../../map/FlightMap";
import { collected, TONES } from "../../map/ground";
import { boundsOf, LANDING_LAYERS, layer, put, putLanding } from "../../map/landing";
import { may } from "../../api/session";
import { shown } from "../../shell/clock";
import { look } from "../../shell/Look";
import { chosen } from "../window/choice";
import { DrawnMap } from "./DrawnMap";
import { MapLegend } from "./MapLegend";
import { moving, type Moving } from "./moving";
import { Measure, Pen, shapeOf, type Drawing } from "./Pen";
import { DrawnZones, ZoneForm } from "./Zones";
import type { Flown } from "./answers";

/** What can be switched, and the layers that it is. */
const GROUPS: Record<string, readonly string[]> = {
  flights: ["flights-up", "flights-down"],
  "landing areas": LANDING_LAYERS,
  "ends of flights": ["ends"],
  airspace: ["airspace-lines", "airspace-edge"],
  zones: ["permit-edge", "permitted-edge", "keep-out-edge", "keep-out-teeth"],
  "people (built-up)": ["built-up-hatch", "built-up-edge"],
  "roads and rails": ["small-roads", "main-roads", "wide-roads", "railways", "railway-ties"],
  "power lines": ["power-lines"],
  water: ["water", "water-dots", "water-edge", "waterways"],
  places: ["places"],
};
const OFF_AT_FIRST = ["ends of flights"];

export function FlownMap({ flight }: { flight: Flown }) {
  const map = useRef<MapLibre | null>(null);
  const upright = useSignal(false);
  const still = useSignal(false); // everything is on the map
  const over = useRef<Moving | null>(null);
  const off = useSignal<readonly string[]>(OFF_AT_FIRST);
  const pen = useSignal<Drawing | null>(null);
  const ways = useMemo(() => waysOf(flight), [flight]);
  const bounds = useMemo(() => boundsOf(flight.landing), [flight]);
  const able = useMemo(drawsMaps, []);

  const ready = (drawn: MapLibre) => {
    const hue = TONES[look.peek()];
    if (map.current !== drawn) drawn.on("click", (event) => {
      const begun = pen.peek();
      if (begun) pen.value = { ...begun, points: [...begun.points, [event.lngLat.lng, event.lngLat.lat]] };
    });
    map.current = drawn;
    putLanding(drawn, flight.landing, look.peek());
    put(drawn, "flights", ways);
    const faint = Math.max(0.08, Math.min(0.5, 90 / Math.max(1, flight.ways.length)));
    for (const [id, leg, dash] of [["flights-up", "up", [1, 0]], ["flights-down", "down", [4, 3]]] as const)
      layer(drawn, { id, type: "line", source: "flights", filter: ["==", ["get", "leg"], leg], paint: { "line-color": hue.ink, "line-width": 0.8, "line-opacity": faint, "line-dasharray": [...dash] } }, "nominal-ascent");
    over.current?.remove();
    over.current = moving(drawn, flight.ways, flight.nominal);
    over.current.show(secondsOf(flight, shown.peek()), hue.focus);
    put(drawn, "measured", shapeOf(pen.peek()));
    layer(drawn, { id: "measured-line", type: "line", source: "measured", paint: { "line-color": hue.focus, "line-width": 3 } }, "over-symbols");
    layer(drawn, { id: "measured-edge", type: "line", source: "measured", filter: ["==", ["get", "what"], "zone"], paint: { "line-color": TONES[look.peek()].zone.keepOut, "line-width": 3 } }, "over-symbols");
    layer(drawn, { id: "measured-ends", type: "circle", source: "measured", paint: { "circle-radius": 5, "circle-color": hue.focus } }, "over-symbols");
    put(drawn, "curtain", curtain(flight.nominal, flight.ground_msl_m));
    layer(drawn, { id: "curtain", type: "fill-extrusion", source: "curtain", layout: { visibility: "none" }, paint: { "fill-extrusion-color": ["match", ["get", "leg"], "up", hue.focus, hue.ink], "fill-extrusion-height": ["get", "height"], "fill-extrusion-opacity": 0.6 } }, "over-symbols");
    raise(drawn, upright.peek());
    switchLayers(drawn, off.peek());
    drawn.once("idle", () => (still.value = true));
  };

  // the flights of another release are put on the same map
  useEffect(() => {
    if (map.current?.getSource("flights")) ready(map.current);
  }, [flight]);
  useSignalEffect(() => {
    const hidden = off.value;
    if (map.current) switchLayers(map.current, hidden);
  });
  useSignalEffect(() => {
    over.current?.show(secondsOf(flight, shown.value), TONES[look.peek()].focus);
  });
  useEffect(() => () => over.current?.remove(), []);
  useSignalEffect(() => {
    const up = upright.value;
    if (!map.current?.getLayer("curtain")) return;
    raise(map.current, up);
    map.current.jumpTo({ pitch: up ? 68 : 0, ...(up ? {} : { bearing: 0 }) });
  });
  useSignalEffect(() => {
    const drawing = pen.value;
    if (map.current?.getSource("measured")) put(map.current, "measured", shapeOf(drawing));
    if (map.current) map.current.getCanvas().style.cursor = drawing ? "crosshair" : "";
  });

  /** For a hand on the keys: the arrows move the map. */
  const middle = () => {
    const at = map.current?.getCenter();
    if (at && pen.value) pen.value = { ...pen.value, points: [...pen.value.points, [at.lng, at.lat]] };
  };

  return (
    <section class="flight-map" aria-label="Map, layers and legend" data-drawn={still.value}>
      <div class="flight-map-place">{able ? <FlightMap name="Map of the flight" bounds={bounds} ready={ready} /> : <DrawnMap choice={chosen()} />}</div>
      {able && (
        <div class="flight-map-tools">
          <Pen pen={pen} what="measure" name="Measure" ending="End measuring" />
          {may("director") && <Pen pen={pen} what="zone" name="Draw a keep-out zone" ending="Stop drawing" />}
          <button aria-pressed={upright.value} onClick={() => (upright.value = !upright.value)}>
            3-D
          </button>
          {pen.value && <button onClick={middle}>Add the map's middle</button>}
          {pen.value?.what === "measure" && <Measure points={pen.value.points} />}
          {pen.value?.what === "zone" && <ZoneForm pen={pen} />}
          <details>
            <summary class="button">Layers</summary>
            <ul>
              {Object.keys(GROUPS).map((name) => (
                <li>
                  <label>
                    <input type="checkbox" checked={!off.value.includes(name)} onChange={() => (off.value = off.value.includes(name) ? off.value.filter((one) => one !== name) : [...off.value, name])} />
                    {name}
                  </label>
                </li>
              ))}
            </ul>
          </details>
          <MapLegend />
          <DrawnZones />
        </div>
      )}
    </section>
  );
}

/** In 3-D the flight stands on a curtain; blue up, dark down. */
function raise(map: MapLibre, up: boolean): void {
  map.setLayoutProperty("curtain", "visibility", up ? "visible" : "none");
}

function switchLayers(map: MapLibre, off: readonly string[]): void {
  for (const [name, ids] of Object.entries(GROUPS))
    for (const id of ids) if (map.getLayer(id)) map.setLayoutProperty(id, "visibility", off.includes(name) ? "none" : "visible");
}

/** All ways up as one feature, all ways down as another: thousands of features take the map twice as long. */
function waysOf(flight: Flown): FeatureCollection {
  const legs: Record<"up" | "down", Position[][]> = { up: [], down: [] };
  for (const way of flight.ways) {
    const points = way.longitude_deg.map((x, index): Position => [x, way.latitude_deg[index] ?? 0]);
    legs.up.push(points.slice(0, way.top + 1));
    legs.down.push(points.slice(way.top));
  }
  return collected(
    (["up", "down"] as const).map((leg) => ({
      type: "Feature",
      properties: { leg },
      geometry: { type: "MultiLineString", coordinates: legs[leg].filter((line) => line.length > 1) },
    })),
  );
}

function secondsOf(flight: Flown, ms: number): number {
  return (ms - Date.parse(flight.release_utc)) / 1000;
}
