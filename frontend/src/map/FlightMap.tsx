// The map of a page: it draws the ground, and the page puts its own sources and layers on it when it is ready.
import { useSignalEffect } from "@preact/signals";
import type { Map as MapLibre } from "maplibre-gl";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { get, type Schemas } from "../api/client";
import { hear } from "../api/events";
import { look } from "../shell/Look";
import { Notes } from "../shell/Notes";
import { address } from "../shell/route";
import { system } from "../shell/units";
import { Loading, Trouble } from "../shell/States";
import "maplibre-gl/dist/maplibre-gl.css";
import "./map.css";

export type { MapLibre };
type Ground = Schemas["MapAnswer"];

interface Given {
  /** What a screen reader calls it. */
  name: string;
  /** Called when the ground is drawn, and again after the look or the ground changed: put everything on anew. */
  ready: (map: MapLibre, ground: Ground) => void;
  /** West, south, east and north to begin with; else the sites and 100 km around. */
  bounds?: [number, number, number, number];
}

export function FlightMap({ name, ready, bounds }: Given) {
  const place = useRef<HTMLDivElement>(null);
  const held = useRef<{ map: MapLibre; ground: Ground; scale: { setUnit: (unit: "metric" | "imperial") => void } } | null>(null);
  const latest = useRef(ready);
  latest.current = ready;
  const [ground, setGround] = useState<Ground | null>(null);
  const [error, setError] = useState<unknown>(null);
  const [drawn, setDrawn] = useState(false);
  const able = useMemo(drawsMaps, []);

  const dress = async (map: MapLibre, on: Ground) => {
    const [{ groundStyle }, { addImages }] = await Promise.all([import("./ground"), import("./images")]);
    const shown = look.peek();
    map.setStyle(groundStyle(on, shown, location.href), { diff: false });
    await new Promise<void>((done) => void map.once("style.load", () => done()));
    await addImages(map, shown);
    latest.current(map, on);
    setDrawn(true);
  };

  useEffect(() => {
    let gone = false;
    const load = () => get("/api/map").then((answer) => !gone && setGround(answer), setError);
    void load();
    const stop = hear("plan", () => void load());
    return () => {
      gone = true;
      stop();
    };
  }, []);

  useEffect(() => {
    if (!able || !ground || !place.current) return;
    if (held.current) {
      held.current.ground = ground;
      void dress(held.current.map, ground);
      return;
    }
    void begin(place.current, ground, bounds).then(({ map, scale }) => {
      held.current = { map, ground, scale };
      return dress(map, ground);
    }, setError);
  }, [ground]);

  useEffect(() => () => held.current?.map.remove(), []);

  useSignalEffect(() => {
    void look.value;
    if (held.current) void dress(held.current.map, held.current.ground);
  });
  useSignalEffect(() => {
    held.current?.scale.setUnit(system.value === "metric" ? "metric" : "imperial");
  });

  if (!able) return <NoMap />;
  if (error) return <Trouble error={error} again={() => location.reload()} />;
  return (
    <div class="map" data-ready={drawn}>
      <div class="map-place" ref={place} role="application" aria-label={name} />
      {!drawn && <Loading what="Drawing the ground" />}
      <Notes notes={ground?.notes ?? []} on="this map" look="map-notes" />
      <p class="map-thanks smallest">{ground?.attributions.join(" · ")}</p>
    </div>
  );
}

/** Maps are drawn with WebGL 2. */
export function drawsMaps(): boolean {
  return document.createElement("canvas").getContext("webgl2") !== null;
}

/** A browser without WebGL 2 draws no map; page Flight shows one that the desk has drawn. */
function NoMap() {
  return (
    <section class="state map-none" data-state="error" role="alert">
      <h2>This browser draws no maps (it has no WebGL 2)</h2>
      <p>
        Use another browser, or the map that the desk draws: <a href={address("flight")}>page Flight</a> shows it. All numbers and charts work here too.
      </p>
    </section>
  );
}

async function begin(place: HTMLDivElement, ground: Ground, bounds?: [number, number, number, number]) {
  const [library, { default: worker }] = await Promise.all([import("maplibre-gl"), import("maplibre-gl/dist/maplibre-gl-worker.mjs?url")]);
  library.setWorkerUrl(worker);
  const scale = new library.ScaleControl({ maxWidth: 140, unit: system.peek() === "metric" ? "metric" : "imperial" });
  const map = new library.Map({
    container: place,
    style: { version: 8, sources: {}, layers: [] },
    bounds: bounds ?? around(ground),
    fitBoundsOptions: { padding: 40 },
    attributionControl: false,
    fadeDuration: 0,
    maxPitch: 80,
  });
  map.addControl(new library.NavigationControl({ visualizePitch: true }), "top-right");
  map.addControl(scale, "bottom-left");
  return { map, scale };
}

/** The sites and 100 km around. */
export function around(ground: Ground): [number, number, number, number] {
  const [latitudes, longitudes] = [ground.sites.map((site) => site.latitude_deg), ground.sites.map((site) => site.longitude_deg)];
  const wide = 0.9 / Math.max(0.2, Math.cos((Math.max(...latitudes.map(Math.abs)) * Math.PI) / 180));
  return [Math.min(...longitudes) - wide, Math.min(...latitudes) - 0.9, Math.max(...longitudes) + wide, Math.max(...latitudes) + 0.9];
}
