// One cell in full: the decision, what would change it, where it comes down, what a delay or another lift does.
import { get, type Schemas } from "../../api/client";
import { useJob } from "../../api/jobs";
import { FlightMap } from "../../map/FlightMap";
import { LandingKey, LineKey, MapKey } from "../../map/MapKey";
import { boundsOf, putLanding } from "../../map/landing";
import { Amount, range } from "../../shell/Amount";
import { zone } from "../../shell/clock";
import { look } from "../../shell/Look";
import { plan } from "../../shell/plan";
import { address } from "../../shell/route";
import { Sign } from "../../shell/Signs";
import { Loading, Trouble } from "../../shell/States";
import { saidShare, saidSpan, saidTime } from "../../shell/units";
import { choiceOf, keyOf, type Choice } from "./choice";
import { Curves } from "./Curves";
import { Answer, Checks } from "./Decision";

type Opened = Schemas["OpenedAnswer"];
type One = Schemas["CellAnswer"];

export function Cell({ choice }: { choice: Choice }) {
  const { answer, job, error, again } = useJob(`${plan.value?.digest ?? ""} ${keyOf(choice)}`, (signal) => get("/api/window/cell", {}, choice, signal));
  const opened = answer?.opened;
  return (
    <section id="opened" class="opened" aria-label="The cell that is open">
      <h2>
        {choice.site} · {saidTime(Date.parse(choice.release ?? ""), zone.value)} ({saidTime(Date.parse(choice.release ?? ""))}) · {choice.fill}
        {choice.balloon !== "as planned" && ` · ${choice.balloon}`}
      </h2>
      {error ? <Trouble error={error} again={again} /> : opened ? <Open opened={opened} choice={choice} /> : <Loading what="Opening the cell" job={job} />}
    </section>
  );
}

function Open({ opened, choice }: { opened: Opened; choice: Choice }) {
  const { cell, decision } = opened;
  return (
    <>
      <Answer decision={decision} />
      <p class="row opened-ways">
        <a class="button" href={address("flight", choice)}>
          See the flight
        </a>
        <a class="button" href={address("briefing", choice)}>
          Read the briefing
        </a>
      </p>
      <div class="opened-parts">
        <div>
          {opened.why_not.length > 0 && (
            <ul class="checks">
              {opened.why_not.map((why) => (
                <li>{why}</li>
              ))}
            </ul>
          )}
          <Numbers cell={cell} near={opened.near} />
          <h3>Checks</h3>
          <Checks decision={decision} />
          {decision.would_change.length > 0 && (
            <>
              <h3>What would change the answer</h3>
              <ol class="changes">
                {decision.would_change.map((line) => (
                  <li>{line}</li>
                ))}
              </ol>
            </>
          )}
          <Others own={cell} others={opened.others} />
        </div>
        <div>
          {cell.flights > 0 && (
            <>
              <h3>Where it comes down</h3>
              <div class="opened-map">
                <FlightMap name="Landing area" bounds={boundsOf(opened.landing)} ready={(map) => putLanding(map, opened.landing, look.peek())} />
              </div>
              <MapKey>
                <LineKey name="nominal flight; down dashed" wide={2.5} down />
                <LandingKey levels={[0.5, 0.9, 0.95]} />
              </MapKey>
              <Curves choice={choice} />
            </>
          )}
        </div>
      </div>
    </>
  );
}

function Numbers({ cell, near }: { cell: One; near: string | null }) {
  const planZone = zone.value;
  const arrival = (seconds: number) => saidTime(Date.parse(cell.release_utc) + 1000 * seconds, planZone);
  return (
    <dl class="numbers">
      <Row name="Reaches the wanted height">
        {cell.reaches ? (
          <span class="amount">
            {saidShare(cell.reaches.p)}
            <span class="other">
              {saidShare(cell.reaches.low)} to {saidShare(cell.reaches.high)}
            </span>
          </span>
        ) : (
          <span class="amount">
            – <span class="other">not flown</span>
          </span>
        )}
      </Row>
      <Row name="Top, msl">
        <Amount quantity="height" si={cell.top_msl_m?.middle} why="not flown" />
        {cell.top_msl_m && <span class="small">{range("height", cell.top_msl_m.low, cell.top_msl_m.high)}</span>}
      </Row>
      <Row name="Touchdown">
        {cell.arrival_s ? (
          <span class="amount">
            {arrival(cell.arrival_s.middle)}
            <span class="other">
              {arrival(cell.arrival_s.low)} to {arrival(cell.arrival_s.high)}; {saidSpan(cell.arrival_s.middle)} aloft
            </span>
          </span>
        ) : (
          <span class="amount">–</span>
        )}
      </Row>
      <Row name="Drift">
        <Amount quantity="distance" si={cell.drift_m?.middle} why="not flown" />
        {cell.drift_m && <span class="small">{range("distance", cell.drift_m.low, cell.drift_m.high)}</span>}
      </Row>
      <Row name="Flights">
        <span class="amount">
          {cell.flights.toLocaleString("en").replaceAll(",", "\u202f")}
          <span class="other">{cell.unknown === 0 ? "all land in the data" : `${cell.unknown} unknown`}</span>
        </span>
      </Row>
      {near && (
        <Row name="Lands near">
          <span>{near}</span>
        </Row>
      )}
    </dl>
  );
}

function Row({ name, children }: { name: string; children: preact.ComponentChildren }) {
  return (
    <div>
      <dt class="small">{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}

function Others({ own, others }: { own: One; others: readonly One[] }) {
  if (others.length === 0) return null;
  return (
    <>
      <h3>Better, with the least other choices</h3>
      <ul class="others">
        {others.slice(0, 5).map((one) => (
          <li>
            <a class="button" href={address("window", choiceOf(one))}>
              <Sign state={one.state} />
              {differing(own, one)}
            </a>
          </li>
        ))}
      </ul>
    </>
  );
}

function differing(own: One, other: One): string {
  const words = [];
  if (own.release_utc !== other.release_utc) words.push(saidTime(Date.parse(other.release_utc), zone.value));
  if (own.site !== other.site) words.push(`site ${other.site}`);
  if (own.fill !== other.fill) words.push(`fill ${other.fill}`);
  if (own.balloon !== other.balloon) words.push(`balloon ${other.balloon}`);
  return words.join(", ");
}
