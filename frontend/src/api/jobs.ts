// Heavy work on the desk: asked for once, followed by its events, and its answer taken when it is done.
import { useEffect, useState } from "preact/hooks";
import { useAsk } from "../shell/ask";
import { Refusal, type Schemas } from "./client";
import { useEvent } from "./events";

type Job = Schemas["JobAnswer"];

export interface Followed<Value> {
  answer: Value | null;
  job: Job | null;
  error: unknown;
  again: () => void;
}

const LOOK_AGAIN_MS = 4000; // an event may have been missed

/** What `ask` gives once its job is done; until then the job tells how far it is. */
export function useJob<Value extends { job: Job }>(key: string, ask: (signal: AbortSignal) => Promise<Value>): Followed<Value> {
  const asked = useAsk(key, ask, ["plan"]);
  const [heard, setHeard] = useState<Job | null>(null);
  const given = asked.answer?.job ?? null;
  const job = given && heard && heard.key === given.key && heard.kind === given.kind && given.state !== "done" ? heard : given;
  useEvent("job", (data) => {
    const news = data as Job | null;
    if (news === null || (asked.error !== null && news.state === "done")) return asked.again(); // somebody else had it computed
    if (!given || news.kind !== given.kind || news.key !== given.key || given.state === "done") return;
    setHeard(news);
    if (news.state === "done") asked.again();
  });
  const open = job !== null && (job.state === "waiting" || job.state === "running" || (job.state === "done" && given?.state !== "done"));
  useEffect(() => {
    if (!open) return;
    const timer = setInterval(asked.again, LOOK_AGAIN_MS);
    return () => clearInterval(timer);
  }, [open, key]);
  const failed = job?.state === "failed";
  const error = failed ? new Refusal({ status: 422, what: "It could not be computed", fix: "Nothing is lost. Mend what is named and try again.", findings: job.findings }) : asked.error;
  return {
    answer: given?.state === "done" ? asked.answer : null,
    job,
    error: error ?? null,
    again: () => {
      setHeard(null);
      asked.again();
    },
  };
}

/** "9 of 66 cells flown" as a share; undefined where the step counts nothing. */
export function shareOf(job: Job | null): number | undefined {
  const parts = /^(\d+) of (\d+) /.exec(job?.step ?? "");
  return parts ? Number(parts[1]) / Number(parts[2]) : undefined;
}
