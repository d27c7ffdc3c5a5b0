// Page Review: predicted against flown, from the record of the flight.
import { get, type Schemas } from "../../api/client";
import { useAsk } from "../../shell/ask";
import { axisOf, type Axis } from "../../charts/axes";
import { Chart, lineThrough } from "../../charts/Chart";
import { zone } from "../../shell/clock";
import { address } from "../../shell/route";
import { Empty, Loading, Trouble } from "../../shell/States";
import { said, saidSpan, saidTime } from "../../shell/units";
import "./review.css";

type Review = Schemas["ReviewAnswer"];
type Score = Schemas["ScoreAnswer"];

export default function ReviewPage() {
  const { answer, error, again } = useAsk("review", (signal) => get("/api/review", {}, {}, signal));
  if (error) return <Trouble error={error} again={again} />;
  if (!answer) return <Loading what="Reading the record" />;
  if (answer.packets === 0)
    return (
      <Empty
        title="Nothing to review yet"
        action={
          <a class="button" href={address("watch")}>
            Open the watch
          </a>
        }
      >
        <p>{answer.why_not || `${answer.record} holds no packet`}.</p>
      </Empty>
    );
  return <Read review={answer} again={again} />;
}

function Read({ review, again }: { review: Review; again: () => void }) {
  const { last } = review;
  const first = review.scores[0];
  const warnings = Object.entries(review.warnings);
  return (
    <div class="review">
      <p class="row">
        <span class="small">From {review.record}.</span>
        <button onClick={again}>Read it again</button>
      </p>
      <dl class="review-numbers">
        <div>
          <dt class="small">{last?.landed ? "Landing error of the first prediction" : "First prediction, off the last position heard"}</dt>
          <dd class="review-large">{first ? said("distance", first.error_m) : "–"}</dd>
          <dd class="small">{first ? `made ${saidSpan(first.ahead_s)} before` : "no prediction in the record"}</dd>
        </div>
        <div>
          <dt class="small">Highest, msl</dt>
          <dd class="review-large">{said("height", review.highest_msl_m)}</dd>
        </div>
        <div>
          <dt class="small">{last?.landed ? "Landed" : "Last position (the landing was not seen)"}</dt>
          <dd class="review-large">{last ? saidTime(Date.parse(last.time_utc), zone.value) : "–"}</dd>
          <dd class="small">{last ? `${last.latitude_deg.toFixed(4)}, ${last.longitude_deg.toFixed(4)}; ${said("shortLength", last.height_msl_m)} msl` : review.why_not}</dd>
        </div>
        <div>
          <dt class="small">Packets</dt>
          <dd class="review-large">{review.packets.toLocaleString("en").replaceAll(",", "\u202f")}</dd>
        </div>
      </dl>
      {review.scores.length > 0 && <Scores scores={review.scores} stale={review.stale} landed={last?.landed ?? false} />}
      <div class="review-parts">
        <section>
          <h2>Who heard</h2>
          <table>
            <thead>
              <tr>
                <th scope="col">Receiver</th>
                <th scope="col">Packets</th>
                <th scope="col">First</th>
                <th scope="col">Last</th>
              </tr>
            </thead>
            <tbody>
              {review.heard.map((one) => (
                <tr>
                  <th scope="row">{one.receiver}</th>
                  <td>{one.packets}</td>
                  <td>{saidTime(Date.parse(one.first_utc), zone.value)}</td>
                  <td>{saidTime(Date.parse(one.last_utc), zone.value)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </section>
        <section>
          <h2>Warnings</h2>
          {warnings.length === 0 ? (
            <p>None was raised.</p>
          ) : (
            <ul>
              {warnings.map(([kind, count]) => (
                <li>
                  {kind}: {count === 1 ? "once" : `${count} times`}
                </li>
              ))}
            </ul>
          )}
        </section>
        <section>
          <h2>Decisions</h2>
          {review.log.length === 0 ? (
            <p>None was written down.</p>
          ) : (
            <ul>
              {review.log.map((one) => (
                <li>
                  {saidTime(Date.parse(one.made_utc), zone.value, true)} <b>{one.by}</b>: {one.what === "note" ? one.words : `${one.what}${one.words ? `: ${one.words}` : ""}`}
                </li>
              ))}
            </ul>
          )}
        </section>
      </div>
    </div>
  );
}

function Scores({ scores, stale, landed }: { scores: readonly Score[]; stale: number; landed: boolean }) {
  const levels = Object.keys(scores[0]?.inside ?? {});
  const first = scores[0];
  const errors = scores.map((one) => one.error_m ?? 0);
  const times = scores.map((one) => Date.parse(one.made_utc));
  const x: Axis = { from: Math.min(...times), to: Math.max(...times, Math.min(...times) + 60_000), name: "local time of the prediction", ticks: [] };
  const ticks = [0.05, 0.35, 0.65, 0.95].map((share) => x.from + share * (x.to - x.from)).map((value) => ({ value, words: saidTime(value, zone.value) }));
  const y = axisOf("distance", "Off the last position", 0, 1.1 * Math.max(...errors, 1000), 5);
  return (
    <section>
      <h2>{landed ? "Predicted landing against the landing" : "Predicted landing against the last position heard"}</h2>
      <ul>
        {levels.map((level) => (
          <li>
            Inside the {level} % area: {scores.filter((one) => one.inside[level]).length} of {scores.length} predictions
          </li>
        ))}
        {first?.arrival_error_s !== null && first && (
          <li>
            First prediction of the time: {saidSpan(Math.abs(first.arrival_error_s ?? 0))} too {(first.arrival_error_s ?? 0) > 0 ? "early" : "late"}
          </li>
        )}
        {stale > 0 && <li>{stale} predictions rest on packets that were joined by others since; a replay would give them anew.</li>}
      </ul>
      <p class="small">Predictions of one flight are not independent: the counts say nothing of the next flight. Errors are from the mean of the predicted landings.</p>
      <Chart label="Landing error of each prediction against its time" x={{ ...x, ticks }} y={y} height={240}>
        {(scales) => (
          <>
            <path class="review-line" d={lineThrough(scores.map((one, index) => [times[index] ?? 0, one.error_m] as const), scales)} />
            {scores.map((one, index) => one.error_m !== null && <circle cx={scales.x(times[index] ?? 0)} cy={scales.y(one.error_m)} r="3" fill="var(--ink)" />)}
          </>
        )}
      </Chart>
    </section>
  );
}
