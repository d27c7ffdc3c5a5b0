// The map and the chart of a watched flight: flown thick, predicted thin, planned firm and thin; areas of before in grey.
import type { Feature, FeatureCollection, Position } from "geojson";
import { useEffect, useRef } from "preact/hooks";
import { axisOf, type Axis } from "../../charts/axes";
import { Chart, lineThrough } from "../../charts/Chart";
import { FlightMap, type MapLibre } from "../../map/FlightMap";
import { collected, FONT, lineOf, pointOf, TONES } from "../../map/ground";
import { boundsOf, layer, put, putLanding } from "../../map/landing";
import { zone } from "../../shell/clock";
import { hours } from "../../shell/ClockStrip";
import { look } from "../../shell/Look";
import { said, saidSpan, saidTime } from "../../shell/units";
import { oldS, type State, type Watch } from "./live";

interface Given {
  watch: Watch;
  state: State | null;
  ms: number;
}

/** A square to look at, by its middle. */
export interface Followed {
  place: [number, number];
  edge_m: number;
}

const NOTHING = collected([]);
/** So many earlier areas are drawn; the panel of the touchdown lists the rest. */
export const EARLIER = 3;
/** The older, the fainter. */
const FADED: ["match", ["get", string], number, number, number, number, number] = ["match", ["get", "back"], 1, 0.75, 2, 0.5, 0.3];

export function WatchMap({ watch, state, ms, follow }: Given & { follow: Followed | null }) {
  const map = useRef<MapLibre | null>(null);
  const framed = useRef("");
  const latest = useRef({ watch, state, ms });
  latest.current = { watch, state, ms };
  const draw = () => {
    const drawn = map.current;
    if (!drawn?.isStyleLoaded() && !drawn?.getSource("flown")) return;
    if (drawn) fill(drawn, latest.current);
  };
  const ready = (drawn: MapLibre) => {
    map.current = drawn;
    const now = latest.current;
    const tone = TONES[look.peek()];
    fill(drawn, now);
    layer(drawn, { id: "earlier-line", type: "line", source: "earlier", paint: { "line-color": tone.quiet, "line-width": 1.2, "line-opacity": FADED } }, "over-ground");
    layer(drawn, { id: "earlier-word", type: "symbol", source: "earlier", layout: { "symbol-placement": "line", "text-field": ["get", "time"], "text-font": FONT, "text-size": 12, "symbol-spacing": 400 }, paint: { "text-color": tone.quiet, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-areas");
    for (const [leg, dash] of [["up", [1, 0]], ["down", [4, 3]]] as const) {
      layer(drawn, { id: `ways-${leg}`, type: "line", source: "landing", filter: ["all", ["==", ["get", "kind"], "predicted flight"], ["==", ["get", "leg"], leg]], paint: { "line-color": tone.ink, "line-width": 0.8, "line-opacity": 0.3, "line-dasharray": [...dash] } }, "over-flights");
      layer(drawn, { id: `planned-${leg}`, type: "line", source: "planned", filter: ["==", ["get", "leg"], leg], paint: { "line-color": tone.ink, "line-width": 1.6, "line-dasharray": [...dash] } }, "over-flights");
    }
    for (const [id, hue] of [["cut", tone.cut], ["lost", tone.ink]] as const) {
      layer(drawn, { id: `${id}-line`, type: "line", source: id, paint: { "line-color": hue, "line-width": 2, "line-dasharray": id === "cut" ? [6, 2] : [1, 2] } }, "over-areas");
      layer(drawn, { id: `${id}-word`, type: "symbol", source: id, layout: { "symbol-placement": "line", "text-field": ["concat", ["get", "words"], " ", ["to-string", ["*", 100, ["get", "probability"]]], " %"], "text-font": FONT, "text-size": 12, "symbol-spacing": 300 }, paint: { "text-color": hue, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-symbols");
    }
    layer(drawn, { id: "search-squares", type: "fill", source: "search", paint: { "fill-color": tone.search, "fill-opacity": ["step", ["get", "up_to_here"], 0.6, 0.5, 0.35, 0.9, 0.15] } }, "over-areas");
    layer(drawn, { id: "flown-line", type: "line", source: "flown", paint: { "line-color": tone.ink, "line-width": 4 } }, "over-flights");
    layer(drawn, { id: "things", type: "symbol", source: "things", layout: { "icon-image": ["get", "symbol"], "icon-size": 1.2, "icon-allow-overlap": true, "text-field": ["get", "words"], "text-font": FONT, "text-size": 14, "text-anchor": "left", "text-offset": [1, 0], "text-optional": true }, paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-symbols");
    frame();
  };
  const frame = () => {
    const box = boundsNow(latest.current);
    const flight = latest.current.watch.record;
    if (!map.current || framed.current === flight || !box) return;
    framed.current = flight;
    map.current.fitBounds(box, { padding: 48, duration: 0, maxZoom: 12 });
  };
  useEffect(() => {
    draw();
    frame();
  }, [watch, state, Math.floor(ms / 10_000)]);
  useEffect(() => {
    if (follow) map.current?.easeTo({ center: follow.place, zoom: zoomFor(follow), duration: 400 });
  }, [follow]);
  return <FlightMap name="Map of the watched flight" ready={ready} />;
}

/** So near that the square is some 28 pixels wide. */
function zoomFor({ place, edge_m }: Followed): number {
  const widest = 78_271.517 * Math.cos((place[1] * Math.PI) / 180); // metres to a pixel at zoom 0: the equator over 512
  return Math.min(18, Math.log2((28 * widest) / edge_m));
}

/** Everything that moves, put on the map anew. */
function fill(map: MapLibre, { watch, state, ms }: Given): void {
  put(map, "earlier", earlierOf(watch));
  if (watch.prediction) putLanding(map, watch.prediction.landing, look.peek());
  else put(map, "landing", NOTHING);
  put(map, "cut", outlines(watch.cut_down?.landing, `cut-down at ${saidTime(Date.parse(watch.cut_down?.made_utc ?? ""), zone.peek())}`));
  put(map, "lost", outlines(watch.lost?.area, "may be here now"));
  put(map, "search", squaresOf(watch));
  put(map, "planned", plannedOf(watch));
  put(map, "flown", watch.flown.length > 1 ? collected([lineOf(flownOf(watch, state))]) : NOTHING);
  put(map, "things", thingsOf(watch, state, ms));
}

function flownOf(watch: Watch, state: State | null): Position[] {
  const line: Position[] = watch.flown.map(([, longitude, latitude]) => [longitude, latitude]);
  if (state?.place) line.push([state.place.longitude_deg, state.place.latitude_deg]);
  return line;
}

function plannedOf({ planned }: Watch): FeatureCollection {
  if (!planned) return NOTHING;
  const points: Position[] = planned.longitude_deg.map((longitude, index) => [longitude, planned.latitude_deg[index] ?? 0]);
  return collected([lineOf(points.slice(0, planned.top + 1), { leg: "up" }), lineOf(points.slice(planned.top), { leg: "down" })]);
}

/** The 90 % areas of the last predictions before this one as outlines with their times; all of them crowd the map. */
function earlierOf(watch: Watch): FeatureCollection {
  return collected(
    watch.earlier.slice(-EARLIER).flatMap((one, index, all) => {
      const features = (one.landing as unknown as FeatureCollection).features;
      return features
        .filter((area) => area.geometry !== null && area.properties?.probability === 0.9)
        .map((area): Feature => ({ ...area, properties: { time: saidTime(Date.parse(one.made_utc), zone.peek()), back: all.length - index } }));
    }),
  );
}

/** The 50 and 90 % areas of another landing. */
function outlines(landing: Record<string, unknown> | undefined, words: string): FeatureCollection {
  const features = (landing as unknown as FeatureCollection | undefined)?.features ?? [];
  const wanted = features.filter((one) => one.geometry !== null && [0.5, 0.9].includes(Number(one.properties?.probability)));
  return collected(wanted.map((one): Feature => ({ ...one, properties: { probability: one.properties?.probability as number, words } })));
}

function squaresOf({ search }: Watch): FeatureCollection {
  return collected(
    (search?.squares ?? []).map(
      (one): Feature => ({
        type: "Feature",
        properties: { up_to_here: one.up_to_here },
        geometry: { type: "Polygon", coordinates: [[...one.corners, one.corners[0] ?? [0, 0]]] },
      }),
    ),
  );
}

function thingsOf(watch: Watch, state: State | null, ms: number): FeatureCollection {
  if (!state) return NOTHING;
  const score = watch.rehearsal?.score;
  const truth = score ? [pointOf(score.longitude_deg, score.latitude_deg, { symbol: "site", words: "true touchdown" })] : [];
  const aged = (name: string, time: string) => {
    const age = oldS(time, ms);
    return age === null ? name : `${name}\n${saidSpan(age)} old`;
  };
  const cars = state.vehicles.map((one) => pointOf(one.longitude_deg, one.latitude_deg, { symbol: "vehicle", words: aged(one.name, one.time_utc) }));
  const { place } = state;
  return collected(place ? [...truth, ...cars, pointOf(place.longitude_deg, place.latitude_deg, { symbol: "balloon", words: aged(said("height", place.height_msl_m), place.time_utc) })] : [...truth, ...cars]);
}

function boundsNow({ watch, state }: Given): [number, number, number, number] | null {
  const parts: [number, number, number, number][] = [];
  if (watch.prediction) parts.push(boundsOf(watch.prediction.landing));
  const place = state?.place;
  if (place) parts.push([place.longitude_deg - 0.02, place.latitude_deg - 0.02, place.longitude_deg + 0.02, place.latitude_deg + 0.02]);
  const whole = parts.reduce<[number, number, number, number]>((a, b) => [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3])], [180, 90, -180, -90]);
  return watch.prediction && whole[0] <= whole[2] ? whole : null;
}

/** Height against time: flown against plan, with the touchdown as it is predicted. */
export function HeightAgainstPlan({ watch, state, ms }: Given) {
  const { planned } = watch;
  const begin = planned ? Date.parse(planned.release_utc) : (watch.flown[0]?.[0] ?? ms / 1000) * 1000;
  const arrival = watch.prediction?.arrival_utc;
  const ends = [planned ? begin + 1000 * (planned.seconds.at(-1) ?? 0) : ms, ms, arrival ? Date.parse(arrival[2]) : 0];
  const [from, to] = [Math.min(begin, (watch.flown[0]?.[0] ?? Infinity) * 1000), Math.max(...ends, begin + 600_000)];
  const heights = [...(planned?.height_msl_m ?? []), ...watch.flown.map((one) => one[3] ?? 0), 1000];
  const x: Axis = { from, to, name: "local time", ticks: hours(from, to, 400).map((value) => ({ value, words: saidTime(value, zone.value) })) };
  const y = axisOf("height", "Height above mean sea level", 0, 1.08 * Math.max(...heights), 5);
  const flown = watch.flown.map(([seconds, , , height]) => [1000 * seconds, height] as const);
  if (state?.rates) flown.push([Date.parse(state.rates.time_utc), state.rates.height_msl_m]);
  const plannedPoints = planned ? planned.seconds.map((seconds, index) => [begin + 1000 * seconds, planned.height_msl_m[index] ?? null] as const) : [];
  const last = flown.at(-1);
  const difference = last && planned && last[1] !== null ? last[1] - heightAt(planned, (last[0] - begin) / 1000) : null;
  return (
    <figure class="watch-chart">
      <figcaption class="small">
        Height: flown thick, planned thin.{" "}
        {difference !== null && Number.isFinite(difference) && (
          <b>
            {said(Math.abs(difference) < 1000 ? "shortLength" : "height", Math.abs(difference))} {difference < 0 ? "below" : "above"} plan
          </b>
        )}
        {!planned && <span>No planned flight: {watch.prediction_why_not}</span>}
      </figcaption>
      <Chart label="Height against time, flown and planned" x={x} y={y} height={190}>
        {(scales) => (
          <>
            <path class="watch-planned" d={lineThrough(plannedPoints.slice(0, (planned?.top ?? 0) + 1), scales)} />
            <path class="watch-planned" stroke-dasharray="6 4" d={lineThrough(plannedPoints.slice(planned?.top ?? 0), scales)} />
            <path class="watch-flown" d={lineThrough(flown, scales)} />
            {arrival && !state?.landed_utc && (
              <>
                <rect x={scales.x(Date.parse(arrival[0]))} width={Math.max(1, scales.x(Date.parse(arrival[2])) - scales.x(Date.parse(arrival[0])))} y={scales.bottom - 6} height="6" fill="var(--ink)" fill-opacity="0.35" />
                <text class="halo" x={Math.min(scales.x(Date.parse(arrival[1])), scales.right - 32)} y={scales.bottom - 10} text-anchor="middle">
                  touchdown
                </text>
              </>
            )}
            <path d={`M${scales.x(ms)} ${scales.bottom}V${scales.top}`} stroke="var(--focus)" stroke-width="2" />
          </>
        )}
      </Chart>
    </figure>
  );
}

function heightAt(planned: NonNullable<Watch["planned"]>, seconds: number): number {
  const index = planned.seconds.findIndex((one) => one >= seconds);
  if (index <= 0) return NaN;
  const [t0 = 0, t1 = 1, h0 = NaN, h1 = NaN] = [planned.seconds[index - 1], planned.seconds[index], planned.height_msl_m[index - 1], planned.height_msl_m[index]];
  return h0 + ((seconds - t0) / Math.max(1, t1 - t0)) * (h1 - h0);
}
