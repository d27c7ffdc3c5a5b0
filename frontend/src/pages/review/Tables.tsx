// The scores and the record in words and numbers.
import type { ComponentChildren } from "preact";
import { zone } from "../../shell/clock";
import { said, saidSpan, saidTime, saidWarning, say } from "../../shell/units";
import type { PlanReview, Review } from "./answers";

type Winds = NonNullable<PlanReview["winds"]>;

function Table({ name, heads, children }: { name: string; heads: readonly string[]; children: ComponentChildren }) {
  return (
    <div class="review-table" tabIndex={0} role="region" aria-label={name}>
      <table>
        <thead>
          <tr>
            {heads.map((one) => (
              <th scope="col">{one}</th>
            ))}
          </tr>
        </thead>
        <tbody>{children}</tbody>
      </table>
    </div>
  );
}

export function Moments({ review }: { review: Review }) {
  const { scores, stale } = review;
  const levels = Object.keys(scores[0]?.inside ?? {}).sort((a, b) => Number(a) - Number(b));
  return (
    <section>
      <h2>Predicted landing against the {review.judged?.by}</h2>
      <Table name="Landing errors at the moments of the flight" heads={["Moment", "Prediction of", "Off", ...levels.map((one) => `In ${one} %`), "50 % area", "Touchdown told"]}>
        {review.moments.map(({ name, at_utc, score }) => (
          <tr data-moment={name}>
            <th scope="row">
              {name.replace(" - ", " − ")} <span class="small">{saidTime(Date.parse(at_utc), zone.value)}</span>
            </th>
            <td>{score ? saidTime(Date.parse(score.made_utc), zone.value) : "none yet"}</td>
            <td>{said("distance", score?.error_m)}</td>
            {levels.map((one) => (
              <td>{score ? (score.inside[one] ? "yes" : "no") : "–"}</td>
            ))}
            <td>{said("area", score?.area_km2 == null ? null : score.area_km2 * 1e6)}</td>
            <td>{score?.arrival_error_s == null ? "–" : `${saidSpan(Math.abs(score.arrival_error_s))} too ${score.arrival_error_s > 0 ? "early" : "late"}`}</td>
          </tr>
        ))}
      </Table>
      <p class="small">
        Each moment is judged by the last prediction before it.{" "}
        {levels.map((one) => `In the ${one} % area: ${scores.filter((score) => score.inside[one]).length} of ${scores.length} predictions. `).join("")}
        Predictions of one flight are not independent: the counts say nothing of the next flight.
        {stale > 0 && ` ${stale} predictions rest on packets that were joined by others since; a replay would give them anew.`}
      </p>
    </section>
  );
}

export function WindScores({ winds }: { winds: Winds }) {
  const { unit } = say("speed", 0);
  const speed = (value: number) => {
    const { number } = say("speed", Math.abs(value));
    return `${value < 0 ? "−" : "+"}${number}`;
  };
  const rows = winds.total ? [...winds.scores, winds.total] : winds.scores;
  if (rows.length === 0) return <p class="small">No measured layer lies in the forecast.</p>;
  return (
    <Table name="Measured less forecast wind by height" heads={["Height, msl", "Layers", `Bias to east, ${unit}`, `Bias to north, ${unit}`, `Rms, ${unit}`, `Rms expected, ${unit}`]}>
      {rows.map((one) => (
        <tr>
          <th scope="row">{one === winds.total ? "whole flight" : `${say("height", one.low_msl_m).number} to ${said("height", one.high_msl_m)}`}</th>
          <td>{one.layers}</td>
          <td>{speed(one.bias_u_m_s)}</td>
          <td>{speed(one.bias_v_m_s)}</td>
          <td>{say("speed", one.rms_m_s).number}</td>
          <td>{say("speed", one.expected_m_s).number}</td>
        </tr>
      ))}
    </Table>
  );
}

export function Warnings({ review }: { review: Review }) {
  return (
    <section>
      <h2>Warnings</h2>
      {review.warnings.length === 0 ? (
        <p>None was raised.</p>
      ) : (
        <ul class="review-list">
          {review.warnings.map((one) => (
            <li data-taken={one.taken_by !== null}>
              {saidTime(Date.parse(one.raised_utc), zone.value, true)}{" "}
              <b>{saidWarning(one)}</b> {one.words}
              <br />
              <span class="small">
                {one.taken_by !== null && one.taken_utc ? `noted by ${one.taken_by} after ${saidSpan((Date.parse(one.taken_utc) - Date.parse(one.raised_utc)) / 1000)}` : "nobody took note"}
              </span>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

export function Decisions({ review }: { review: Review }) {
  return (
    <section>
      <h2>Decisions</h2>
      {review.log.length === 0 ? (
        <p>None was written down.</p>
      ) : (
        <ul class="review-list">
          {review.log.map((one) => (
            <li>
              {saidTime(Date.parse(one.made_utc), zone.value, true)} <b>{one.by}</b>: {one.what === "note" ? one.words : `${one.what}${one.words ? `: ${one.words}` : ""}`}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

export function Heard({ review }: { review: Review }) {
  return (
    <section>
      <h2>Who heard</h2>
      <Table name="Who heard" heads={["Receiver", "Packets", "First", "Last"]}>
        {review.heard.map((one) => (
          <tr>
            <th scope="row">{one.receiver}</th>
            <td>{one.packets}</td>
            <td>{saidTime(Date.parse(one.first_utc), zone.value)}</td>
            <td>{saidTime(Date.parse(one.last_utc), zone.value)}</td>
          </tr>
        ))}
      </Table>
    </section>
  );
}
