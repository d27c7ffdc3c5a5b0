// Page Briefing: the answer first, then why, what the rules say, what is due, and what this does not know.
import { useEffect } from "preact/hooks";
import { get, type Schemas } from "../../api/client";
import { useJob } from "../../api/jobs";
import { now, setDeadlines, zone } from "../../shell/clock";
import { plan } from "../../shell/plan";
import { address } from "../../shell/route";
import { Sign } from "../../shell/Signs";
import { Loading, Trouble } from "../../shell/States";
import { saidDate, saidPowers, saidSpan, saidTime } from "../../shell/units";
import { chosen, keyOf } from "../window/choice";
import { Answer, Checks } from "../window/Decision";
import { Papers } from "./Papers";
import "../window/window.css";
import "./briefing.css";

type Briefed = Schemas["BriefedAnswer"];

export default function Briefing() {
  const choice = chosen();
  const key = `briefing ${plan.value?.digest ?? ""} ${keyOf(choice)}`;
  return <Asked key={key} ask={key} />;
}

function Asked({ ask }: { ask: string }) {
  const choice = chosen();
  const { answer, job, error, again } = useJob(ask, (signal) => get("/api/briefing", {}, choice, signal));
  if (error) return <Trouble error={error} again={again} />;
  const briefing = answer?.briefing;
  return briefing ? <Shown briefing={briefing} /> : <Loading what="Flying and judging the release" job={job} />;
}

function Shown({ briefing }: { briefing: Briefed }) {
  const choice = chosen();
  const release = Date.parse(briefing.release_utc);
  useEffect(() => {
    setDeadlines(briefing.due.map((one) => ({ name: one.title, ms: Date.parse(one.due_utc) })));
  }, [briefing]);
  return (
    <article class="briefing">
      <header>
        <h1>
          {briefing.site} · {saidDate(release, zone.value)} {saidTime(release, zone.value)} ({saidTime(release)}) · {briefing.fill}
        </h1>
        <p class="small">
          {plan.value?.mission?.about} Flown{" "}
          {saidSpan((now.value - Date.parse(briefing.made_utc)) / 1000)} ago.
        </p>
        <Answer decision={briefing.decision} />
        {briefing.words.map((line) => (
          <p class="briefing-word">{line}</p>
        ))}
        <p class="row no-print">
          <a class="button" href={address("window", choice)}>
            Choose another release
          </a>
          <a class="button" href={address("flight", choice)}>
            See the flight
          </a>
        </p>
      </header>
      <div class="briefing-parts">
        <div>
          <section>
            <h2>Checks</h2>
            <Checks decision={briefing.decision} />
            {briefing.decision.would_change.length > 0 && (
              <>
                <h3>What would change the answer</h3>
                <ol class="changes">
                  {briefing.decision.would_change.map((line) => (
                    <li>{line}</li>
                  ))}
                </ol>
              </>
            )}
          </section>
          <Due briefing={briefing} />
          <Rules briefing={briefing} />
          <Drafts briefing={briefing} />
          <Papers choice={choice} title="Documents" />
        </div>
        <div>
          {briefing.ground.map((table) => (
            <Ground table={table} />
          ))}
          <section>
            <h2>What this does not know</h2>
            <ul class="unknown">
              {briefing.cannot_tell.map((line) => (
                <li>{line}</li>
              ))}
            </ul>
          </section>
        </div>
      </div>
      <p class="small aid">{briefing.aid}</p>
    </article>
  );
}

function Due({ briefing }: { briefing: Briefed }) {
  return (
    <section>
      <h2>Due</h2>
      {briefing.due.length === 0 ? (
        <p class="small">– no deadline follows from the rules of this plan. Local rules may ask for more: ask.</p>
      ) : (
        <ul class="checks">
          {briefing.due.map((one) => {
            const ms = Date.parse(one.due_utc);
            return (
              <li>
                <b>
                  {saidDate(ms, zone.value)} {saidTime(ms, zone.value)} ({saidTime(ms)}): {one.title}
                </b>
                <span>
                  {one.who}; {one.earliest_utc && `not before ${saidTime(Date.parse(one.earliest_utc), zone.value)}; `}
                  {one.why}
                </span>
                <span class="smallest">
                  {one.paragraph}; {one.certainty}
                </span>
              </li>
            );
          })}
        </ul>
      )}
    </section>
  );
}

function Rules({ briefing }: { briefing: Briefed }) {
  const open = briefing.rules.filter((one) => one.state !== "go");
  const met = briefing.rules.filter((one) => one.state === "go");
  return (
    <section>
      <h2>Rules</h2>
      {briefing.rules.length === 0 && <p class="small">– no rule was held against this plan: it cannot tell.</p>}
      <ul class="checks">
        {open.map((one) => (
          <Rule rule={one} />
        ))}
      </ul>
      {met.length > 0 && (
        <details class="checks-met">
          <summary>
            {met.length} of {briefing.rules.length} paragraphs met or not applying
          </summary>
          <ul class="checks">
            {met.map((one) => (
              <Rule rule={one} />
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function Rule({ rule }: { rule: Schemas["RuleAnswer"] }) {
  return (
    <li>
      <Sign state={rule.state} words={`${rule.title}: ${rule.verdict}`} />
      {rule.number && (
        <span>
          <b>{saidPowers(rule.number)}</b>
          {rule.limit && `, limit ${rule.limit}`}
        </span>
      )}
      {rule.why && <span>{saidPowers(rule.why)}</span>}
      {rule.mend && <span>{rule.mend}</span>}
      {rule.permission && <span>Covered by {rule.permission}.</span>}
      <span class="smallest">
        {rule.paragraph}; {rule.certainty}; {rule.text_date}
      </span>
    </li>
  );
}

function Ground({ table }: { table: Schemas["TableAnswer"] }) {
  return (
    <section>
      <h2>{table.title}</h2>
      <div class="briefing-table" tabIndex={0} role="region" aria-label={table.title}>
        <table>
          {table.columns.length > 0 && (
            <thead>
              <tr>
                {table.columns.map((name) => (name ? <th>{name}</th> : <td />))}
              </tr>
            </thead>
          )}
          <tbody>
            {table.rows.map((row) => (
              <tr>
                {row.map((value) => (
                  <td>{saidPowers(value).replace(/ (?=%)/g, "\u00a0")}</td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {table.note && <p class="small">{table.note}</p>}
    </section>
  );
}

function Drafts({ briefing }: { briefing: Briefed }) {
  if (briefing.drafts.length === 0) return null;
  return (
    <section>
      <h2>Draft notices</h2>
      <p class="small draft-none-sent">pappus has sent nothing to anybody. Read each one, fill in what is open, and file it yourself.</p>
      {briefing.drafts.map((one) => (
        <details class="draft">
          <summary>
            <strong class="draft-mark">{briefing.draft_mark}</strong> {one.title}
          </summary>
          <pre>{one.text}</pre>
          {one.blanks.length > 0 && <p class="small">To fill in by hand: {one.blanks.join("; ")}</p>}
        </details>
      ))}
    </section>
  );
}
