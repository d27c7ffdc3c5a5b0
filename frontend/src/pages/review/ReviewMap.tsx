// The flown track over the planned one, with the landing area of one prediction and the outlines of the others.
import type { Feature, FeatureCollection, Position } from "geojson";
import { useSignalEffect } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { FlightMap, type MapLibre } from "../../map/FlightMap";
import { collected, FONT, lineOf, pointOf, TONES } from "../../map/ground";
import { boundsOf, layer, put, putLanding } from "../../map/landing";
import { at, zone } from "../../shell/clock";
import { look } from "../../shell/Look";
import { said, saidTime } from "../../shell/units";
import { flownAt, type PlanReview, type Review } from "./answers";

/** So many areas before and after the chosen one are drawn. */
export const BESIDE = 2;

type Area = Review["areas"][number];

interface Given {
  review: Review;
  plan: PlanReview | null;
  area: Area | null;
}

export function ReviewMap(given: Given) {
  const map = useRef<MapLibre | null>(null);
  const latest = useRef(given);
  latest.current = given;
  const ready = (drawn: MapLibre) => {
    map.current = drawn;
    const tone = TONES[look.peek()];
    fill(drawn, latest.current);
    layer(drawn, { id: "others-line", type: "line", source: "others", paint: { "line-color": tone.quiet, "line-width": 1.2, "line-opacity": ["match", ["get", "away"], 1, 0.75, 0.4] } }, "over-ground");
    layer(drawn, { id: "others-word", type: "symbol", source: "others", layout: { "symbol-placement": "line", "text-field": ["get", "time"], "text-font": FONT, "text-size": 12, "symbol-spacing": 400 }, paint: { "text-color": tone.quiet, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-areas");
    for (const [leg, dash] of [["up", [1, 0]], ["down", [4, 3]]] as const)
      layer(drawn, { id: `planned-${leg}`, type: "line", source: "planned", filter: ["==", ["get", "leg"], leg], paint: { "line-color": tone.ink, "line-width": 1.6, "line-dasharray": [...dash] } }, "over-flights");
    layer(drawn, { id: "flown-line", type: "line", source: "flown", paint: { "line-color": tone.ink, "line-width": 4 } }, "over-flights");
    layer(drawn, { id: "ended", type: "symbol", source: "ended", layout: { "icon-image": "balloon", "icon-allow-overlap": true, "text-field": ["get", "words"], "text-font": FONT, "text-size": 14, "text-anchor": "left", "text-offset": [1, 0], "text-optional": true }, paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-symbols");
    layer(drawn, { id: "moment", type: "circle", source: "moment", paint: { "circle-radius": 7, "circle-color": tone.paper, "circle-stroke-color": tone.focus, "circle-stroke-width": 3 } }, "over-symbols");
    layer(drawn, { id: "moment-word", type: "symbol", source: "moment", layout: { "text-field": ["get", "words"], "text-font": FONT, "text-size": 14, "text-anchor": "left", "text-offset": [1, 0], "text-allow-overlap": true }, paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-symbols");
  };
  useEffect(() => {
    if (map.current?.getSource("flown")) fill(map.current, given);
  }, [given.review, given.plan, given.area]);
  useSignalEffect(() => {
    const data = momentOf(latest.current.review, at.value);
    if (map.current?.getSource("moment")) put(map.current, "moment", data);
  });
  return (
    <div class="review-map">
      <FlightMap name="Flown and planned track" bounds={boundsFor(given)} ready={ready} />
    </div>
  );
}

function fill(map: MapLibre, { review, plan, area }: Given): void {
  if (area) putLanding(map, area.landing, look.peek());
  put(map, "others", othersOf(review, area));
  const planned = plan?.planned;
  const points: Position[] = planned?.longitude_deg.map((longitude, index) => [longitude, planned.latitude_deg[index] ?? 0]) ?? [];
  put(map, "planned", collected(planned ? [lineOf(points.slice(0, planned.top + 1), { leg: "up" }), lineOf(points.slice(planned.top), { leg: "down" })] : []));
  const flown = flownOf(review);
  put(map, "flown", collected(flown.length > 1 ? [lineOf(flown)] : []));
  const { last, judged } = review;
  const ended = last ? [pointOf(last.longitude_deg, last.latitude_deg, { words: last.landed ? "landed" : "last heard" })] : [];
  if (judged && last && !last.landed && judged.by !== "last position heard") ended.push(pointOf(judged.longitude_deg, judged.latitude_deg, { words: judged.by }));
  put(map, "ended", collected(ended));
  put(map, "moment", momentOf(review, at.peek()));
}

/** The balloon at the moment that the clock is moved to. */
function momentOf(review: Review, ms: number | null): FeatureCollection {
  const place = ms === null ? null : flownAt(review, ms);
  return collected(place ? [pointOf(place.longitude, place.latitude, { words: said("height", place.height) })] : []);
}

function flownOf(review: Review): Position[] {
  return review.flown.map(([, longitude, latitude]) => [longitude, latitude]);
}

/** The 90 % areas of the predictions next to the chosen one, with their times; all of them crowd the map. */
function othersOf(review: Review, chosen: Area | null): FeatureCollection {
  return collected(
    review.areas
      .map((one, index) => ({ ...one, away: Math.abs(index - (chosen ? review.areas.indexOf(chosen) : 0)) }))
      .filter(({ away }) => away > 0 && away <= BESIDE)
      .flatMap((one) =>
        (one.landing as unknown as FeatureCollection).features
          .filter((area) => area.geometry !== null && area.properties?.probability === 0.9)
          .map((area): Feature => ({ ...area, properties: { time: saidTime(Date.parse(one.made_utc), zone.peek()), away: one.away } })),
      ),
  );
}

function boundsFor({ review }: Given): [number, number, number, number] {
  const tracks = collected(review.flown.length > 1 ? [lineOf(flownOf(review))] : []);
  const first = review.areas[0]?.landing as unknown as FeatureCollection | undefined;
  const box = boundsOf({ type: "FeatureCollection", features: [...tracks.features, ...(first?.features ?? [])] });
  const { last } = review;
  if (box[0] <= box[2]) return box;
  const [x, y] = last ? [last.longitude_deg, last.latitude_deg] : [0, 0];
  return [x - 0.5, y - 0.5, x + 0.5, y + 0.5];
}
