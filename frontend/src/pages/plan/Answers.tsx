// What the fill does: the reading on the scale first, then climb, burst and gas, then what a wrong reading costs.
import type { Schemas } from "../../api/client";
import { Amount, range } from "../../shell/Amount";
import { Sign } from "../../shell/Signs";
import { said, say, system } from "../../shell/units";
import { plan } from "../../shell/plan";
import { answer, findings, trying } from "./draft";

type Fill = Schemas["FillAnswer"];

export function Answers() {
  const fill = answer.value?.fill;
  const before = fill ? null : plan.value?.fill;
  return (
    <section class={`plan-answers${trying.value ? " old" : ""}`} aria-label="What the fill does" aria-busy={trying.value}>
      {fill ? (
        <Filled fill={fill} />
      ) : (
        <>
          <NoFill stands={Boolean(before)} />
          {before && (
            <div class="old">
              <Filled fill={before} />
            </div>
          )}
        </>
      )}
    </section>
  );
}

function NoFill({ stands }: { stands: boolean }) {
  const many = findings.value.length;
  const trouble = answer.value?.fill_problem;
  return (
    <div role="status" class="no-fill">
      <h2>{trouble ? "No fill does this" : "No answer"}</h2>
      <p>
        {trouble ?? (many > 0 ? `${many === 1 ? "One value" : `${many} values`} cannot be used; the reason stands beside the field.` : "Asking the desk.")}
        {stands && " Below is the saved plan."}
      </p>
    </div>
  );
}

function Filled({ fill }: { fill: Fill }) {
  const lift = say("lift", fill.scale_lift_n);
  return (
    <>
      <p class="small">Read on the scale at the neck, before the train is tied on</p>
      <p class="plan-lift" data-answer="lift">
        {lift.number}
        <span class="unit"> {lift.unit}</span>
      </p>
      <p class="small">
        ±{said("lift", fill.scale_sd_n)} · {fill.scale_lift_n.toFixed(2)} N · site {fill.site}, {fill.air}
      </p>
      <div class="plan-main">
        <dl class="plan-numbers">
          <Row name="Climb, first 5 km" mark="climb">
            <Amount quantity="climb" si={fill.climb_m_s} />
            {fill.climb_m_s < fill.least_climb_m_s && <span class="small">below the plan's least, {said("climb", fill.least_climb_m_s)}: it goes far</span>}
          </Row>
          <Row name="Burst, msl" mark="burst">
            <Amount quantity="height" si={fill.burst_msl_m} />
            <span class="small">8 of 10 between {range("height", fill.burst_low_msl_m, fill.burst_high_msl_m)}, early bursts apart</span>
            <Reach fill={fill} />
          </Row>
          <Row name="Free lift" mark="free-lift">
            <Amount quantity="lift" si={fill.free_lift_n} />
          </Row>
          <Row name={`Gas: ${fill.gas}, ${(100 * fill.purity).toFixed(1)} % pure`} mark="gas">
            <Amount quantity="volume" si={fill.volume_m3} />
            <span class="small">
              at the site, {say("mass", fill.gas_mass_kg, "metric").number} g; balloon {said("diameter", fill.diameter_m)} wide
            </span>
          </Row>
          <Row name="Cylinders to bring" mark="cylinders">
            {fill.cylinders === null || fill.cylinder_share === null ? (
              <span class="small">– the plan names no cylinder</span>
            ) : (
              <>
                <span class="amount">{fill.cylinders}</span>
                <span class="small">and a spare; {fill.cylinder_share.toFixed(2)} used</span>
              </>
            )}
          </Row>
        </dl>
        <Gauge fill={fill} />
      </div>
      <Readings fill={fill} />
      <details>
        <summary>Assumed: {fill.assumptions.length}</summary>
        <ul>
          {fill.assumptions.map((one) => (
            <li>{one}</li>
          ))}
        </ul>
      </details>
      <section class="cautions" aria-label="Cautions">
        <h3>Cautions</h3>
        <ul>
          {fill.cautions.map((one) => (
            <li>{one}</li>
          ))}
        </ul>
      </section>
    </>
  );
}

function Row({ name, mark, children }: { name: string; mark: string; children: preact.ComponentChildren }) {
  return (
    <div data-answer={mark}>
      <dt class="small">{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}

function Reach({ fill }: { fill: Fill }) {
  const wanted = said("height", fill.wanted_msl_m);
  if (fill.burst_low_msl_m >= fill.wanted_msl_m) return <Sign state="go" words={`the low end too passes the wanted ${wanted}`} />;
  if (fill.burst_msl_m >= fill.wanted_msl_m) return <Sign state="wait" words={`the low end misses the wanted ${wanted}`} />;
  return <Sign state="no-go" words={`the middle misses the wanted ${wanted}`} />;
}

/** Heights are vertical: the wanted one, and where such balloons burst. */
function Gauge({ fill }: { fill: Fill }) {
  const step = system.value === "metric" ? 10_000 : 9144; // 30 000 ft
  const top = Math.max(fill.burst_high_msl_m, fill.wanted_msl_m, 10_000) * 1.05;
  const y = (height: number) => 204 - (height / top) * 192;
  const ticks = Array.from({ length: Math.floor(top / step) + 1 }, (_, index) => index * step);
  const [wanted, burst] = [y(fill.wanted_msl_m), y(fill.burst_msl_m)];
  const apart = Math.abs(wanted - burst) < 14 ? (wanted < burst ? -1 : 1) * (14 - Math.abs(wanted - burst)) / 2 : 0;
  return (
    <svg class="gauge" viewBox="0 0 220 216" role="img" aria-label={`Burst at ${said("height", fill.burst_msl_m)}, wanted ${said("height", fill.wanted_msl_m)}`}>
      {ticks.map((height) => (
        <>
          <path d={`M52 ${y(height)}H60`} stroke="var(--edge)" />
          <text x="46" y={y(height) + 4} text-anchor="end">
            {say("height", height).number}
          </text>
        </>
      ))}
      <text x="46" y={y(0) - 8} text-anchor="end" class="unit">
        {say("height", 0).unit}
      </text>
      <path d={`M60 ${y(0)}V${y(top)}`} stroke="var(--edge)" />
      <rect x="68" width="28" y={y(fill.burst_high_msl_m)} height={y(fill.burst_low_msl_m) - y(fill.burst_high_msl_m)} fill="var(--okabe-sky)" stroke="var(--ink)" />
      <path d={`M68 ${burst}h28`} stroke="var(--ink)" stroke-width="3" />
      <path d={`M60 ${wanted}h48`} stroke="var(--ink)" stroke-width="2" stroke-dasharray="6 3" />
      <text x="112" y={wanted + 4 + apart}>
        wanted {say("height", fill.wanted_msl_m).number}
      </text>
      <text x="112" y={burst + 4 - apart} font-weight="600">
        burst {say("height", fill.burst_msl_m).number}
      </text>
    </svg>
  );
}

function Readings({ fill }: { fill: Fill }) {
  const here = { scale_lift_n: fill.scale_lift_n, climb_m_s: fill.climb_m_s, burst_msl_m: fill.burst_msl_m, landing_shift_m: 0, shift_bearing_deg: null };
  const moves = fill.less.landing_shift_m !== null || fill.more.landing_shift_m !== null;
  return (
    <table class="readings">
      <caption>If the scale reads</caption>
      <thead>
        <tr>
          <th class="number">{say("lift", 0).unit}</th>
          <th class="number">climb {say("climb", 0).unit}</th>
          <th class="number">burst {say("height", 0).unit}</th>
          <th>landing moves</th>
        </tr>
      </thead>
      <tbody>
        {[fill.less, here, fill.more].map((one) => (
          <tr class={one === here ? "here" : ""}>
            <td class="number">{say("lift", one.scale_lift_n).number}</td>
            <td class="number">{one.climb_m_s === null ? "–" : say("climb", one.climb_m_s).number}</td>
            <td class="number">{say("height", one.burst_msl_m).number}</td>
            <td>{one === here ? "as planned" : moves ? shift(one) : "– no winds are packed"}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function shift(one: Schemas["ConsequenceAnswer"]): string {
  const towards = one.shift_bearing_deg === null ? "" : ` to ${String(Math.round(one.shift_bearing_deg)).padStart(3, "0")}°`;
  return `${said("distance", one.landing_shift_m)}${towards}`;
}
