// A map that follows the car: its way, the balloon as last heard, and the landing area.
import { useEffect, useRef, useState } from "preact/hooks";
import { FlightMap, type MapLibre } from "../../map/FlightMap";
import { collected, FONT, lineOf, pointOf, TONES } from "../../map/ground";
import { boundsOf, layer, put, putLanding } from "../../map/landing";
import { LandingKey, LineKey, MapKey } from "../../map/MapKey";
import { look } from "../../shell/Look";
import { Icon } from "../../shell/Signs";
import type { Car, Chase } from "./answers";

export function ChaseMap({ answer, car }: { answer: Chase; car: Car }) {
  const map = useRef<MapLibre | null>(null);
  const latest = useRef({ answer, car });
  latest.current = { answer, car };
  const framed = useRef("");
  const last = useRef<[number, number] | null>(null);
  const dressed = useRef<MapLibre | null>(null);
  const [following, setFollowing] = useState(true);
  const [centre, setCentre] = useState("");
  const followed = useRef(following);
  followed.current = following;
  const fill = (drawn: MapLibre) => {
    const { answer: all, car: own } = latest.current;
    if (all.landing) putLanding(drawn, all.landing, look.peek());
    put(drawn, "way", own.way.length > 1 ? collected([lineOf(own.way)]) : collected([]));
    const others = all.cars.filter((one) => one.name !== own.name).map((one) => pointOf(one.longitude_deg, one.latitude_deg, { symbol: "vehicle", words: one.name }));
    const balloon = all.place ? [pointOf(all.place[0], all.place[1], { symbol: "balloon", words: "" })] : [];
    put(drawn, "things", collected([...others, ...balloon, pointOf(own.longitude_deg, own.latitude_deg, { symbol: "own vehicle", words: own.name })]));
  };
  const ready = (drawn: MapLibre) => {
    map.current = drawn;
    if (dressed.current !== drawn) {
      dressed.current = drawn;
      drawn.on("dragstart", () => setFollowing(false)); // who looks elsewhere is not pulled back
      drawn.on("moveend", () => setCentre(`${drawn.getCenter().lng.toFixed(4)} ${drawn.getCenter().lat.toFixed(4)}`));
    }
    const tone = TONES[look.peek()];
    fill(drawn);
    layer(drawn, { id: "way-line", type: "line", source: "way", paint: { "line-color": tone.ink, "line-width": 5, "line-opacity": 0.75 } }, "over-flights");
    layer(drawn, { id: "things", type: "symbol", source: "things", layout: { "icon-image": ["get", "symbol"], "icon-size": 1.3, "icon-allow-overlap": true, "text-field": ["get", "words"], "text-font": FONT, "text-size": 14, "text-anchor": "left", "text-offset": [1, 0], "text-optional": true }, paint: { "text-color": tone.ink, "text-halo-color": tone.paper, "text-halo-width": 2 } }, "over-symbols");
    follow(true);
  };
  /** All of the way, the balloon and the landing area at first; once the car moves, it stays in the middle. */
  const follow = (whole: boolean) => {
    const drawn = map.current;
    const own = latest.current.car;
    if (!drawn) return;
    const moved = last.current?.[0] !== own.longitude_deg || last.current[1] !== own.latitude_deg;
    last.current = [own.longitude_deg, own.latitude_deg];
    if (whole && framed.current !== own.name) {
      framed.current = own.name;
      const { landing, place } = latest.current.answer;
      const points: [number, number][] = [...own.way, [own.longitude_deg, own.latitude_deg]];
      if (place) points.push([place[0], place[1]]);
      if (landing) {
        const [west, south, east, north] = boundsOf(landing);
        points.push([west, south], [east, north]);
      }
      const [xs, ys] = [points.map((one) => one[0]), points.map((one) => one[1])];
      drawn.fitBounds([Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)], { padding: 56, duration: 0, maxZoom: 13 });
    } else if (followed.current && moved) drawn.easeTo({ center: [own.longitude_deg, own.latitude_deg], duration: 400 });
  };
  useEffect(() => {
    if (!map.current?.getSource("things")) return;
    fill(map.current);
    follow(framed.current !== car.name);
  }, [answer.now_utc, answer.heard_utc, car.name, car.latitude_deg, car.longitude_deg]);
  const back = () => {
    const own = latest.current.car;
    setFollowing(true);
    map.current?.easeTo({ center: [own.longitude_deg, own.latitude_deg], duration: 400 });
  };
  return (
    <>
      <div class="chase-map" data-following={following} data-centre={centre}>
        <FlightMap name="Map of the chase" ready={ready} />
        {!following && (
          <button class="chase-follow" onClick={back}>
            Follow the car
          </button>
        )}
      </div>
      <MapKey>
        <li class="swatch">
          <Icon symbol="own vehicle" /> your car
        </li>
        <li class="swatch">
          <Icon symbol="vehicle" /> another car
        </li>
        <li class="swatch">
          <Icon symbol="balloon" /> balloon, as last heard
        </li>
        <LineKey name="your way to the meeting point" wide={5} />
        <LandingKey levels={[0.5, 0.9]} />
      </MapKey>
    </>
  );
}
