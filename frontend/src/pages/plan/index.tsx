// Page Plan: the train and the fill on the left, what they do in the middle, the train to scale on the right.
import { post } from "../../api/client";
import { may } from "../../api/session";
import { loadPlan, plan, planError, take } from "../../shell/plan";
import { Empty, Findings, Loading, Trouble } from "../../shell/States";
import { answer, discard, edits, error, findings, notice, save, saving, trying } from "./draft";
import { Answers } from "./Answers";
import { Form } from "./Form";
import { TrainDrawing } from "./TrainDrawing";
import "./plan.css";

export default function Plan() {
  const loaded = plan.value;
  if (!loaded) return planError.value ? <Trouble error={planError.value} again={() => void loadPlan()} /> : <Loading what="Reading the plan" />;
  if (!loaded.exists) return <NoPlan file={loaded.file} />;
  if (Object.keys(loaded.tables).length === 0) return <Unreadable />;
  const train = answer.value?.train ?? loaded.train;
  return (
    <>
      <header class="plan-head">
        <h1>{loaded.mission?.name ?? loaded.file}</h1>
        {loaded.mission?.about && <p class="small">{loaded.mission.about}</p>}
      </header>
      <SaveBar />
      <Elsewhere />
      <div class="plan">
        <Form />
        <Answers />
        {train && <TrainDrawing train={train} />}
      </div>
    </>
  );
}

function NoPlan({ file }: { file: string }) {
  const write = () => {
    post("/api/plan/example").then(take, (failure: unknown) => {
      planError.value = failure;
    });
  };
  return (
    <Empty
      title={`There is no ${file} yet`}
      action={
        may("director") && (
          <button class="first" onClick={write}>
            Write an example plan
          </button>
        )
      }
    >
      <p>A plan is one text file. Begin with the example, an invented flight with a comment at every key, and change it into yours.</p>
    </Empty>
  );
}

function Unreadable() {
  return (
    <section class="state" role="alert">
      <h2>{plan.value?.file} cannot be read</h2>
      <Findings findings={findings.value} />
      <p>Mend it in an editor; this page shows it again by itself after a new try.</p>
      <button onClick={() => void loadPlan()}>Try again</button>
    </section>
  );
}

function SaveBar() {
  const many = edits.value.size;
  if (many === 0 && !notice.value && !error.value) return null;
  const broken = findings.value.length > 0;
  return (
    <div class="save-bar" role="status">
      {error.value !== null && <Trouble error={error.value} />}
      {notice.value && <p>{notice.value}</p>}
      {many > 0 && (
        <div class="row">
          <strong>
            {many === 1 ? "One change" : `${many} changes`} not saved{broken && "; a plan with mistakes is not saved"}
          </strong>
          {may("director") ? (
            <button class="first" disabled={broken || trying.value || saving.value} onClick={() => void save()}>
              Save into {plan.value?.file}
            </button>
          ) : (
            <span class="small">Only the director saves.</span>
          )}
          <button onClick={discard}>Discard</button>
        </div>
      )}
    </div>
  );
}

/** Mistakes whose field is not on this page. */
function Elsewhere() {
  const shown = new Set([...document.querySelectorAll<HTMLElement>("[data-path]")].map((one) => one.dataset.path));
  const rest = findings.value.filter((one) => one.field !== "fill" && !shown.has(one.field));
  if (rest.length === 0 || shown.size === 0) return null;
  return (
    <section role="alert" class="plan-elsewhere">
      <h3>Also wrong in the file</h3>
      <Findings findings={rest} />
    </section>
  );
}
