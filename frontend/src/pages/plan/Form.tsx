// The flight train and the fill as fields; each writes into the draft.
import { may } from "../../api/session";
import { say } from "../../shell/units";
import { answer, changeAll, count, edits, findings, isOut, takeOut, valueAt, type Value } from "./draft";
import { Field } from "./Field";

const WAYS = [
  ["climb", "Mean climb of the first 5 km", "5 m/s"],
  ["scale_lift", "Lift read on the scale", "2150 gf"],
  ["free_lift", "Free lift", "1150 gf"],
  ["volume", "Gas volume at the site", "3.3 m3"],
  ["height", "Height to reach with a chance", "30 km"],
] as const;
type Way = (typeof WAYS)[number][0];

export function Form() {
  return (
    <form class="plan-form" onSubmit={(event) => event.preventDefault()} aria-label="Flight train and fill">
      <Fill />
      <fieldset>
        <legend>Balloon and gas</legend>
        <div class="fields">
          <Field path="balloon.mass" label="Mass, empty" example="1200 g" />
          <Field path="balloon.burst_diameter" label="Burst diameter, maker's sheet" example="8.6 m" otherwise="a power law of the mass" />
          <Field path="balloon.burst_scatter" label="Scatter of that diameter" example="6 %" otherwise="6 %, or 8 % without a sheet" />
          <Field path="gas.kind" label="Gas" example="helium" choices={["helium", "hydrogen"]} />
          <Field path="gas.purity" label="Purity" example="99 %" otherwise="99 %" />
        </div>
        {valueAt("gas.cylinder") !== undefined && (
          <div class="fields">
            <Field path="gas.cylinder.volume" label="Cylinder, water volume" example="50 L" />
            <Field path="gas.cylinder.pressure" label="Pressure, absolute" example="200 bar" />
            <Field path="gas.cylinder.temperature" label="Temperature" example="15 °C" />
            <Field path="gas.cylinder.residual" label="Left inside" example="3 bar" />
          </div>
        )}
      </fieldset>
      <fieldset>
        <legend>Canopy</legend>
        <div class="fields">
          <Field path="canopy.mass" label="Mass with lines" example="190 g" />
          <Field path="canopy.area" label="Cloth area" example="1.5 m2" />
          <Field path="canopy.drag_coefficient" label="Drag coefficient on it" example="0.8" kind="number" />
        </div>
      </fieldset>
      <Blocks kind="package" title="Boxes" one="box">
        {(path) => (
          <>
            <Field path={`${path}.name`} label="Name" example="camera" />
            <Field path={`${path}.mass`} label="Mass, ready" example="560 g" />
            {[1, 2, 3].map((edge) => (
              <Field path={`${path}.edges[${edge}]`} label={`Edge ${edge}`} example="20 cm" as="edge" />
            ))}
          </>
        )}
      </Blocks>
      <Blocks kind="line" title="Lines, from the neck down" one="line">
        {(path) => (
          <>
            <Field path={`${path}.name`} label="From where to where" example="neck to canopy" />
            <Field path={`${path}.length`} label="Length" example="10 m" />
            <Field path={`${path}.mass`} label="Mass" example="20 g" />
            <Field path={`${path}.breaking_force`} label="Parts at" example="200 N" otherwise="not known" />
          </>
        )}
      </Blocks>
      <fieldset>
        <legend>Wanted height, site and release</legend>
        <div class="fields">
          <Field path="mission.wanted_height" label="Wanted height, msl" example="31 km" as="height" />
          <Field path="site[1].height" label={`Ground of site ${String(valueAt("site[1].name") ?? "")}, msl`} example="225 m" />
          <Field path="site[1].pressure" label="Air pressure read there" example="987 hPa" otherwise="from the winds" />
          <Field path="site[1].temperature" label="Air temperature read there" example="21 °C" otherwise="from the winds" />
          <Field path="window.release" wide label="Release, UTC" example="2027-02-13T12:30:00Z" otherwise="when the window opens" />
        </div>
      </fieldset>
    </form>
  );
}

function Fill() {
  const way = WAYS.find(([name]) => (valueAt(`fill.${name}`) ?? null) !== null)?.[0] ?? "climb";
  const [, label, example] = WAYS.find(([name]) => name === way) ?? WAYS[0];
  const wrong = findings.value.filter((one) => one.field === "fill");
  return (
    <fieldset>
      <legend>Fill</legend>
      <div class="fields">
        <div class="field wide">
          <label for="fill-way">The crew goes by</label>
          <select id="fill-way" value={way} disabled={!may("crew")} onChange={(event) => choose(way, event.currentTarget.value as Way)}>
            {WAYS.map(([name, words]) => (
              <option value={name}>{words}</option>
            ))}
          </select>
          <div class="field-more" />
        </div>
        <Field path={`fill.${way}`} label={label} example={example} {...(way === "height" ? { as: "height" as const } : {})} />
        {way === "height" && <Field path="fill.chance" label="Chance" example="80 %" />}
        <Field path="fill.scale_scatter" label="Scatter of the scale" example="30 gf" otherwise="0.5 N" />
      </div>
      {wrong.map((one) => (
        <p class="field-wrong" role="alert">
          {one.reason}. {one.fix}
        </p>
      ))}
    </fieldset>
  );
}

/** Another way of saying the same fill: the value is what the present fill gives. */
function choose(from: Way, to: Way): void {
  const fill = answer.value?.fill;
  const text = (number: string, unit: string) => `${number.replaceAll(/\s/g, "")} ${unit}`;
  const lift = (newton: number) => text(say("lift", newton, "metric").number, "gf");
  const values: Record<Way, Value> = {
    climb: fill ? text(fill.climb_m_s.toFixed(2), "m/s") : "5 m/s",
    scale_lift: fill ? lift(fill.scale_lift_n) : "2150 gf",
    free_lift: fill ? lift(fill.free_lift_n) : "1150 gf",
    volume: fill ? text(fill.volume_m3.toFixed(3), "m3") : "3.3 m3",
    height: fill ? text((fill.burst_low_msl_m / 1000).toFixed(1), "km") : "30 km",
  };
  changeAll([
    [`fill.${from}`, null],
    ["fill.chance", to === "height" ? "80 %" : null],
    [`fill.${to}`, values[to]],
  ]);
}

interface BlocksGiven {
  kind: string;
  title: string;
  one: string;
  children: (path: string) => preact.ComponentChildren;
}

function Blocks({ kind, title, one, children }: BlocksGiven) {
  const total = count(kind);
  const numbers = Array.from({ length: total }, (_, index) => index + 1);
  return (
    <fieldset>
      <legend>{title}</legend>
      {numbers.map((number) => (
        <div class={`block${isOut(kind, number) ? " out" : ""}`} key={number}>
          {isOut(kind, number) ? (
            <p class="small">
              {String(valueAt(`${kind}[${number}].name`) ?? "")} is taken out.{" "}
              <button
                type="button"
                onClick={() => {
                  const next = new Map(edits.value);
                  next.delete(`${kind}[${number}]`);
                  edits.value = next;
                }}
              >
                Put it back
              </button>
            </p>
          ) : (
            <>
              <div class="fields">{children(`${kind}[${number}]`)}</div>
              {may("crew") && total > 1 && (
                <button type="button" class="quiet" onClick={() => takeOut(kind, number)}>
                  Take {String(valueAt(`${kind}[${number}].name`) ?? `this ${one}`)} out
                </button>
              )}
            </>
          )}
        </div>
      ))}
      {may("crew") && total < 20 && (
        <button type="button" class="quiet" onClick={() => changeAll([[`${kind}[${total + 1}].name`, `${one} ${total + 1}`]])}>
          Add a {one}
        </button>
      )}
    </fieldset>
  );
}
