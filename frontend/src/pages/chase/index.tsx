// Page Chase, for a phone in a car: few numbers, very large. The passenger reads it; the driver hears it.
import { useEffect, useRef, useState } from "preact/hooks";
import { get, type Schemas } from "../../api/client";
import { useEvent } from "../../api/events";
import { useAsk } from "../../shell/ask";
import { clockOffsetMs } from "../../api/session";
import { flightTime, now, setAside, setMarks, zone, type Mark } from "../../shell/clock";
import { LookChoice } from "../../shell/Look";
import { Notes } from "../../shell/Notes";
import { address } from "../../shell/route";
import { Sign } from "../../shell/Signs";
import { Empty, Loading, Trouble } from "../../shell/States";
import { recall, remember, said, saidSpan, saidTime, saidShare, say, system } from "../../shell/units";
import type { Car, Chase } from "./answers";
import { ChaseMap } from "./ChaseMap";
import { Phone } from "./Phone";
import "./chase.css";

const STALE_S = 30;
/** To have the payload in reach: below it, it is said beside the distance (own choice). */
const LEAST_CHANCE = 0.1;
/** Of this computer's time: what a rehearsal may be late by is so many times more in the time of its flight. */
const LATE_S = 2;
const CAR = "pappus-car";

export default function ChasePage() {
  const { answer, error, again, ms } = useAsk("chase", (signal) => get("/api/chase", {}, {}, signal), ["chase", "plan"]);
  const [name, setName] = useState(recall(CAR));
  const [state, setState] = useState<Schemas["StateAnswer"] | null>(null);
  const told = useRef(0);
  useEvent("watch", (data) => {
    const newest = (data as { state: Schemas["StateAnswer"] | null } | null)?.state ?? null;
    told.current = Date.now();
    setState(newest);
    if (!newest) again();
  });
  const [early, middle, late] = answer?.touchdown_utc ?? [];
  const rehearsed = answer?.rehearsal ?? false;
  const landed = answer?.landed_utc;
  const [released, burst] = [state?.release_utc, state?.burst_utc];
  useEffect(() => {
    const seen = [["release", released], ["burst", burst], ["touchdown", landed]] as const;
    const own: Mark[] = seen.flatMap(([name, time]) => (time ? [{ name, how: "flown" as const, ms: Date.parse(time) }] : []));
    if (early && middle && late && !landed) own.push({ name: "touchdown", how: "predicted", ms: Date.parse(middle), from: Date.parse(early), to: Date.parse(late) });
    if (rehearsed) setAside({ marks: own, deadlines: [] });
    else setMarks(own);
  }, [early, middle, late, landed, released, burst, rehearsed]);
  useEffect(() => {
    if (!answer || !rehearsed || ms === null) return;
    const [base, from] = [Date.parse(answer.now_utc), ms + clockOffsetMs.value];
    flightTime.value = (present) => base + answer.speed * Math.max(0, present - from);
  }, [answer, ms, rehearsed]);
  // what was rehearsed leaves no mark on the other pages
  useEffect(() => {
    if (!rehearsed) return;
    return () => {
      flightTime.value = null;
      setAside(null);
    };
  }, [rehearsed]);
  void now.value; // ages grow by the clock of this page
  if (!answer) return error ? <Trouble error={error} again={again} /> : <Loading what="Opening the chase" />;
  // the balloon is heard more often than directions are worked out
  const newer = state && state.now_utc > answer.now_utc ? state : null;
  const flightMs = newer && told.current ? Date.parse(newer.now_utc) + answer.speed * (Date.now() - told.current) : Date.parse(answer.now_utc) + answer.speed * (Date.now() - (ms ?? Date.now()));
  const choose = (one: string) => {
    setName(one);
    remember(CAR, one);
  };
  const names = [...new Set([...answer.cars.map((one) => one.name), ...answer.names])];
  const chosen = name !== null && names.includes(name) ? name : names[0];
  const car = answer.cars.find((one) => one.name === chosen);
  if (!car)
    return (
      <>
        {answer.rehearsal && <Rehearsed />}
        <Empty
          title={answer.cars.length > 0 && chosen ? `No directions for ${chosen} yet` : "No directions yet"}
          action={
            <a class="button" href={address("watch")}>
              Open the watch
            </a>
          }
        >
          <p>Because {answer.why_not || "nobody has told where it is"}.</p>
          <p class="small">A car is known by a receiver with the role "vehicle", by its place in the plan, or by a phone that tells where it is.</p>
        </Empty>
        {answer.running && chosen && (
          <div class="chase">
            <Cars names={names} car={chosen} choose={choose} />
            <Phone car={chosen} names={answer.rehearsal ? [] : answer.names} />
          </div>
        )}
        <Safety lines={answer.safety} />
      </>
    );
  const place = newer?.place;
  const shown: Chase = place ? { ...answer, heard_utc: place.time_utc, height_msl_m: place.height_msl_m, place: [place.longitude_deg, place.latitude_deg] } : answer;
  const seen = newer?.vehicles.find((one) => one.name === car.name);
  const here = seen && (car.seen_utc === null || seen.time_utc > car.seen_utc) ? { ...car, seen_utc: seen.time_utc, latitude_deg: seen.latitude_deg, longitude_deg: seen.longitude_deg } : car;
  return <Told answer={shown} car={here} names={names} ms={flightMs} choose={choose} />;
}

function Told({ answer, car, names, ms, choose }: { answer: Chase; car: Car; names: readonly string[]; ms: number; choose: (name: string) => void }) {
  const left = answer.touchdown_utc ? (Date.parse(answer.touchdown_utc[1]) - ms) / 1000 : null;
  const heard = answer.heard_utc ? Math.max(0, (ms - Date.parse(answer.heard_utc)) / 1000) : null;
  const seen = car.seen_utc === null ? Infinity : Math.max(0, (ms - Date.parse(car.seen_utc)) / 1000);
  const made = answer.made_utc ? (ms - Date.parse(answer.made_utc)) / 1000 : null;
  const distance = say("distance", car.distance_m);
  const staleS = STALE_S + (answer.speed > 1 ? LATE_S * answer.speed : 0);
  const late = car.margin_s !== null && car.margin_s < 0;
  return (
    <div class="chase" data-car={car.name}>
      {answer.rehearsal && <Rehearsed />}
      <div class="chase-tools">
        <Cars names={names} car={car.name} choose={choose} />
        <LookChoice />
      </div>
      <dl class="chase-numbers">
        <Huge name={car.by_road ? "To the meeting point" : "Straight to the landing area"} value={distance.number} unit={distance.unit} why={car.why_not}>
          {car.by_road ? "by road" : `no directions: ${car.why_not}`}
          {car.by_road && car.chance !== null && car.chance < LEAST_CHANCE && <Sign state="no-go" words={`payload in reach from there: ${saidShare(car.chance)}`} />}
        </Huge>
        <Huge name="Bearing" value={car.bearing_deg === null ? "–" : `${String(Math.round(car.bearing_deg) % 360).padStart(3, "0")}°`} why="no landing is predicted">
          <Arrow degrees={car.bearing_deg} /> true north up
        </Huge>
        <Huge name="Drive" value={car.drive_s === null ? "–" : String(Math.round(car.drive_s / 60))} unit="min" why={car.why_not}>
          at legal speeds, made slower
        </Huge>
        <Huge name={answer.landed_utc ? "Down" : "Touchdown in"} value={answer.landed_utc ? "down" : left === null ? "–" : left > 0 ? String(Math.round(left / 60)) : "due"} {...(answer.landed_utc || left === null || left <= 0 ? {} : { unit: "min" })} why="no flight lands in the data">
          {answer.landed_utc ? `since ${saidTime(Date.parse(answer.landed_utc), zone.value)}` : answer.touchdown_utc ? `90 %: ${saidTime(Date.parse(answer.touchdown_utc[0]), zone.value)} to ${saidTime(Date.parse(answer.touchdown_utc[2]), zone.value)}` : ""}
        </Huge>
        <Huge name="Margin" value={car.margin_s === null ? "–" : String(Math.floor(car.margin_s / 60)).replace("-", "−")} unit="min" why="no drive time">
          {car.margin_s === null ? "" : late ? "it may land first: do not hurry, it can wait" : "that 9 flights in 10 leave"}
        </Huge>
        <Huge name="Balloon heard" value={heard === null ? "–" : saidSpan(heard).replace(/ [a-z].*/, "")} unit={heard === null ? "" : saidSpan(heard).replace(/^\S+ /, "")} why="no position yet">
          {said("height", answer.height_msl_m)} high
          {heard !== null && heard > staleS && <Sign state="cannot tell" words="old" />}
        </Huge>
      </dl>
      {(!answer.running || seen > staleS || (made !== null && made > staleS)) && (
        <p class="chase-old">
          {!answer.running && <Sign state="cannot tell" words={answer.rehearsal ? "The rehearsal is over: nothing new is heard." : "The watch is not running: nothing new is heard."} />}
          {seen > staleS && <Sign state="cannot tell" words={car.seen_utc === null ? "This car has not told where it is: all counts from its place in the plan." : `This car was last seen ${saidSpan(seen)} ago.`} />}
          {made !== null && made > staleS && <Sign state="cannot tell" words={`Directions are ${saidSpan(made)} old.`} />}
        </p>
      )}
      <Voice car={car} />
      <ChaseMap answer={answer} car={car} />
      <Phone car={car.name} names={answer.rehearsal ? [] : answer.names} />
      {car.antenna_deg && (
        <p class="small">
          Antenna to the balloon: {String(Math.round(car.antenna_deg[0]) % 360).padStart(3, "0")}°, {Math.round(car.antenna_deg[1])}° up. Chance to have the payload in reach from the meeting point: {saidShare(car.chance)}.
        </p>
      )}
      <Notes notes={car.notes} on="these directions" />
      <Safety lines={answer.safety} />
    </div>
  );
}

function Rehearsed() {
  return (
    <p class="chase-rehearsed">
      <b>REHEARSAL</b> no balloon flies: do not drive
    </p>
  );
}

function Cars({ names, car, choose }: { names: readonly string[]; car: string; choose: (name: string) => void }) {
  if (names.length < 2) return <h1>{car}</h1>;
  return (
    <div class="chase-cars" role="group" aria-label="Which car">
      <h1 class="visually-hidden">{car}</h1>
      {names.map((one) => (
        <button aria-pressed={one === car} onClick={() => choose(one)}>
          {one}
        </button>
      ))}
    </div>
  );
}

function Huge({ name, value, unit, why, children }: { name: string; value: string; unit?: string; why: string; children?: preact.ComponentChildren }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>
        <span class="chase-value">{value}</span>
        {value !== "–" && unit && <span class="chase-unit"> {unit}</span>}
        <span class="chase-below small">{value === "–" ? why : children}</span>
      </dd>
    </div>
  );
}

function Arrow({ degrees }: { degrees: number | null }) {
  if (degrees === null) return null;
  return (
    <svg viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">
      <path d="M10 1l6 17-6-4-6 4z" fill="currentColor" transform={`rotate(${degrees} 10 10)`} />
    </svg>
  );
}

/** Speaks what is new, so that nobody reads while driving; each line once, and never one that was dismissed. */
function Voice({ car }: { car: Car }) {
  const [on, setOn] = useState(false);
  const said = useRef(new Set<string>());
  const lines = car.lines[system.value] ?? [];
  const driving = lines.filter((one) => one.kind !== "safety");
  const able = "speechSynthesis" in window;
  useEffect(() => {
    if (!on) return;
    for (const one of lines) {
      if (said.current.has(one.id)) continue;
      said.current.add(one.id);
      const words = new SpeechSynthesisUtterance(one.words);
      words.lang = "en";
      speechSynthesis.speak(words);
    }
  }, [on, lines.map((one) => one.id).join()]);
  useEffect(() => () => (able ? speechSynthesis.cancel() : undefined), []);
  const repeat = () => {
    said.current.clear();
    setOn(false);
    setTimeout(() => setOn(true), 0);
  };
  return (
    <section class="chase-voice" aria-label="What is said">
      <p class="chase-first">{driving[0]?.words ?? "Nothing to say."}</p>
      <div class="row">
        {able && (
          <button aria-pressed={on} onClick={() => (on ? (speechSynthesis.cancel(), setOn(false)) : setOn(true))}>
            {on ? "Stop speaking" : "Speak"}
          </button>
        )}
        {able && on && <button onClick={repeat}>Say it again</button>}
      </div>
      {driving.length > 1 && (
        <details class="small">
          <summary>{driving.length - 1} more</summary>
          <ul>
            {driving.slice(1).map((one) => (
              <li key={one.id}>{one.words}</li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function Safety({ lines }: { lines: readonly string[] }) {
  return (
    <section class="chase-safety" aria-label="Safety">
      <h2>Before you drive on</h2>
      <ul>
        {lines.map((one) => (
          <li>{one}</li>
        ))}
      </ul>
    </section>
  );
}
