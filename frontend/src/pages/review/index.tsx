// Page Review: predicted against flown, from the record of the flight or of one of its rehearsals.
import { useEffect, useState } from "preact/hooks";
import { get } from "../../api/client";
import { useAsk } from "../../shell/ask";
import { setAside, zone, type Mark } from "../../shell/clock";
import { LandingKey, LineKey, MapKey, Swatch } from "../../map/MapKey";
import { address, go, route } from "../../shell/route";
import { Icon } from "../../shell/Signs";
import { Empty, Loading, Trouble } from "../../shell/States";
import { said, saidPlace, saidDate, saidSpan, saidTime } from "../../shell/units";
import type { PlanReview, Review } from "./answers";
import { ErrorChart, HeightBoth, WindBoth } from "./Charts";
import { BESIDE, ReviewMap } from "./ReviewMap";
import { Decisions, Heard, Moments, Warnings, WindScores } from "./Tables";
import "./review.css";

export default function ReviewPage() {
  const flight = route.value.query.flight;
  return <One key={flight ?? ""} flight={flight} />;
}

function One({ flight }: { flight: string | undefined }) {
  const { answer, error, again } = useAsk("review", (signal) => get("/api/review", {}, { flight }, signal));
  if (error) return <Trouble error={error} again={again} />;
  if (!answer) return <Loading what="Reading the record" />;
  if (answer.packets === 0)
    return (
      <>
        <Records review={answer} />
        <Empty
          title="Nothing to review yet"
          action={
            <a class="button" href={address("watch")}>
              Open the watch
            </a>
          }
        >
          <p>Because {answer.why_not || `${answer.record} holds no packet`}.</p>
        </Empty>
      </>
    );
  return <Read review={answer} again={again} />;
}

/** Which record: that of the flight, or of a rehearsal, which is never taken for one. */
function Records({ review, again }: { review: Review; again?: () => void }) {
  return (
    <div class="review-head">
      <h1>Review</h1>
      {review.rehearsal && <strong class="review-rehearsal">REHEARSAL: no balloon flew</strong>}
      {review.records.length > 1 ? (
        <label>
          Record{" "}
          <select value={review.record} onChange={(event) => go("review", { flight: event.currentTarget.value })}>
            {review.records.map((one) => (
              <option value={one.name} selected={one.name === review.record}>
                {one.name}
                {one.rehearsal ? " (rehearsal)" : " (flight)"}
              </option>
            ))}
          </select>
        </label>
      ) : (
        <span class="small">From {review.record}.</span>
      )}
      {again && <button onClick={again}>Read it again</button>}
    </div>
  );
}

function Read({ review, again }: { review: Review; again: () => void }) {
  const plan = useAsk("review plan", (signal) => get("/api/review/plan", {}, { flight: review.record }, signal));
  const [area, setArea] = useState(0);
  const { last } = review;
  const ends = review.judged ?? last;
  useEffect(() => {
    const name = last?.landed ? "touchdown" : "last heard";
    setAside({ marks: marksOf(review, plan.answer, name), deadlines: [], ...(last && { ended: { name, ms: Date.parse(last.time_utc) } }) });
  }, [review, plan.answer]);
  useEffect(() => () => setAside(null), []);
  const drawn = review.areas[Math.min(area, review.areas.length - 1)];
  return (
    <div class="review">
      <Records review={review} again={() => (again(), plan.again())} />
      <Numbers review={review} plan={plan.answer} />
      <div class="review-main">
        <section aria-label="Map of the flown track">
          <ReviewMap review={review} plan={plan.answer} area={drawn ?? null} />
          {drawn && (
            <div class="review-areas">
              <label>
                Landing area as predicted at {saidTime(Date.parse(drawn.made_utc), zone.value)}
                {ends && `, ${saidSpan((Date.parse(ends.time_utc) - Date.parse(drawn.made_utc)) / 1000)} before the end`}
                <input type="range" min={0} max={review.areas.length - 1} value={area} onInput={(event) => setArea(Number(event.currentTarget.value))} />
              </label>
            </div>
          )}
          <MapKey>
            <LineKey name="flown" wide={4} />
            <LineKey name="planned; down dashed" wide={1.6} down />
            <LandingKey levels={[0.5, 0.9]} />
            <Swatch name={`90 % areas of the ${BESIDE} predictions before and after this one, with their times`}>
              <path d="M2 7H46M2 13H46" stroke="var(--ink-2)" stroke-width="1.2" />
            </Swatch>
            <Swatch name="where it was at the moment of the clock">
              <circle cx="24" cy="10" r="6" fill="var(--sheet)" stroke="var(--focus)" stroke-width="3" />
            </Swatch>
            <li class="swatch">
              <Icon symbol="balloon" /> where it was last
            </li>
          </MapKey>
        </section>
        <div class="review-side">
          <HeightBoth review={review} plan={plan.answer} />
          {plan.error !== null && <Trouble error={plan.error} again={plan.again} />}
          {!plan.answer && plan.error === null && <Loading what="Flying the plan again in its winds" />}
          {plan.answer?.why_not && <p class="small">Plan and winds: {plan.answer.why_not}.</p>}
          {plan.answer?.planned && <p class="small">The planned flight is worked out from plan and field pack as they are now, as if released when this one was.</p>}
          {review.scores.length > 0 && <ErrorChart review={review} />}
        </div>
      </div>
      {review.scores.length > 0 ? <Moments review={review} /> : <p>{review.judged ? "No prediction in the record: nothing to score." : `Predictions are not judged: ${review.judged_why_not}.`}</p>}
      {plan.answer?.winds && (
        <section>
          <h2>Winds against the forecast</h2>
          <WindBoth winds={plan.answer.winds} />
          <WindScores winds={plan.answer.winds} />
        </section>
      )}
      <div class="review-parts">
        <Warnings review={review} />
        <Decisions review={review} />
        <Heard review={review} />
      </div>
    </div>
  );
}

/** What was flown, and what the plan would have had: the same moments. */
function marksOf(review: Review, plan: PlanReview | null, end: string): Mark[] {
  const seen = [["release", review.release_utc], ["burst", review.burst_utc], [end, review.last?.time_utc]] as const;
  const flown = seen.flatMap(([name, time]): Mark[] => (time ? [{ name, ms: Date.parse(time), how: "flown" }] : []));
  const planned = plan?.planned;
  if (!planned) return flown;
  const at = (seconds = 0) => Date.parse(planned.release_utc) + 1000 * seconds;
  return [...flown, { name: "burst", ms: at(planned.seconds[planned.top]), how: "planned" }, { name: "touchdown", ms: at(planned.seconds.at(-1)), how: "planned" }];
}

function Numbers({ review, plan }: { review: Review; plan: PlanReview | null }) {
  const { last } = review;
  const first = review.scores[0];
  const planned = plan?.planned ?? null;
  const release = review.release_utc ? Date.parse(review.release_utc) : null;
  const flownS = release !== null && last ? (Date.parse(last.time_utc) - release) / 1000 : null;
  const top = planned ? Math.max(...planned.height_msl_m) : null;
  return (
    <dl class="review-numbers">
      <div>
        <dt class="small">First prediction, off the {review.judged?.by ?? "landing"}</dt>
        <dd class="review-large">{first ? said("distance", first.error_m) : "–"}</dd>
        <dd class="small">{first ? `made ${saidSpan(first.ahead_s)} before` : review.judged ? "no prediction in the record" : "where it came down is not known"}</dd>
      </div>
      <div>
        <dt class="small">{review.burst_msl_m !== null ? "Burst, msl" : "Highest, msl"}</dt>
        <dd class="review-large">{said("height", review.burst_msl_m ?? review.highest_msl_m)}</dd>
        <dd class="small">
          planned {said("height", top)}
          {review.burst_utc && release !== null && `; ${saidSpan((Date.parse(review.burst_utc) - release) / 1000)} after release${planned ? `, planned ${saidSpan(planned.seconds[planned.top] ?? null)}` : ""}`}
        </dd>
      </div>
      <div>
        <dt class="small">{last?.landed ? "Time in the air" : "Heard in the air"}</dt>
        <dd class="review-large">{saidSpan(flownS)}</dd>
        <dd class="small">
          planned {saidSpan(planned?.seconds.at(-1) ?? null)}; released {release === null ? "–" : saidTime(release, zone.value)}
        </dd>
      </div>
      <div>
        <dt class="small">{last?.landed ? "Landed" : "Last position (the landing was not seen)"}</dt>
        <dd class="review-large">{last ? saidTime(Date.parse(last.time_utc), zone.value) : "–"}</dd>
        <dd class="small">{last ? `${saidPlace(last.latitude_deg, last.longitude_deg)}; ${said("shortLength", last.height_msl_m)} msl; ${saidDate(Date.parse(last.time_utc), zone.value)}` : review.why_not}</dd>
      </div>
      <div>
        <dt class="small">Packets</dt>
        <dd class="review-large">{review.packets.toLocaleString("en").replaceAll(",", "\u202f")}</dd>
      </div>
    </dl>
  );
}
