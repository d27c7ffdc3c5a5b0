// The changes that are not saved yet, and what the plan would say with them.
import { computed, effect, signal } from "@preact/signals";
import { post, put, Refusal, type Schemas } from "../../api/client";
import { me } from "../../api/session";
import { loadPlan, plan, take, type PlanAnswer } from "../../shell/plan";

export type Value = Schemas["EditAsked"]["value"];

/** In the order in which they are applied. */
export const edits = signal<ReadonlyMap<string, Value>>(new Map());
/** What the desk said to the draft; null while nothing was changed or nothing was said yet. */
export const tried = signal<PlanAnswer | null>(null);
export const trying = signal(false);
export const saving = signal(false);
export const error = signal<unknown>(null);
export const notice = signal("");

/** What is shown: the draft's answer, or that of the saved plan. */
export const answer = computed(() => (edits.value.size > 0 ? (tried.value ?? plan.value) : plan.value));
export const findings = computed(() => answer.value?.findings ?? []);

/** The value at a path of the saved file: `package[2].edges[1]`. */
export function savedAt(tables: Record<string, unknown>, path: string): unknown {
  let place: unknown = tables;
  for (const part of path.split(".")) {
    const [name = "", ...numbers] = part.replaceAll("]", "").split("[");
    place = isTable(place) ? place[name] : undefined;
    for (const number of numbers) place = Array.isArray(place) ? (place as unknown[])[Number(number) - 1] : undefined;
  }
  return place;
}

/** What a field shows: the change, else what the file has. */
export function valueAt(path: string): unknown {
  if (edits.value.has(path)) return edits.value.get(path);
  return savedAt(plan.value?.tables ?? {}, path);
}

/** A change of one key; one that changes nothing is forgotten. */
export function change(path: string, value: Value): void {
  const next = new Map(edits.value);
  next.delete(path);
  const before = savedAt(plan.value?.tables ?? {}, path);
  if ((before ?? null) !== value) next.set(path, value);
  edits.value = next;
}

export function changeAll(changes: Iterable<readonly [string, Value]>): void {
  for (const [path, value] of changes) change(path, value);
}

export function discard(): void {
  edits.value = new Map();
  notice.value = "";
  error.value = null;
}

/** How many blocks of a kind there are, with those just added. */
export function count(kind: string): number {
  const saved = savedAt(plan.value?.tables ?? {}, kind);
  let last = Array.isArray(saved) ? saved.length : 0;
  for (const path of edits.value.keys()) {
    const number = new RegExp(`^${kind}\\[(\\d+)\\]\\.`).exec(path)?.[1];
    if (number) last = Math.max(last, Number(number));
  }
  return last;
}

/** Whether a saved block is to be taken out. */
export function isOut(kind: string, number: number): boolean {
  return edits.value.has(`${kind}[${number}]`) && edits.value.get(`${kind}[${number}]`) === null;
}

/** Takes a block out; one that was only just added is forgotten, and those after it move up. */
export function takeOut(kind: string, number: number): void {
  const saved = savedAt(plan.value?.tables ?? {}, kind);
  if (Array.isArray(saved) && number <= saved.length) {
    change(`${kind}[${number}]`, null);
    return;
  }
  const next = new Map<string, Value>();
  for (const [path, value] of edits.value) {
    const parts = new RegExp(`^${kind}\\[(\\d+)\\](.*)$`).exec(path);
    const own = Number(parts?.[1] ?? 0);
    if (parts && own === number) continue;
    next.set(parts && own > number ? `${kind}[${own - 1}]${parts[2] ?? ""}` : path, value);
  }
  edits.value = next;
}

/** Changes in an order that works: blocks leave last, the last one first. */
export function ordered(given: ReadonlyMap<string, Value>): { path: string; value: Value }[] {
  const list = [...given].map(([path, value]) => ({ path, value }));
  const leaves = (path: string) => /^\w+\[\d+\]$/.test(path);
  const number = (path: string) => Number(/\[(\d+)\]$/.exec(path)?.[1] ?? 0);
  return [...list.filter((one) => !leaves(one.path)), ...list.filter((one) => leaves(one.path)).sort((a, b) => number(b.path) - number(a.path))];
}

let asking: AbortController | null = null;
let timer = 0;

effect(() => {
  const [wanted, digest] = [edits.value, plan.value?.digest];
  asking?.abort();
  clearTimeout(timer);
  if (wanted.size === 0 || !digest) {
    tried.value = null;
    trying.value = false;
    return;
  }
  trying.value = true;
  timer = window.setTimeout(() => void attempt(wanted, digest), 250);
});

async function attempt(wanted: ReadonlyMap<string, Value>, digest: string): Promise<void> {
  const mine = (asking = new AbortController());
  try {
    const said = await post("/api/plan/try", { digest, edits: ordered(wanted) }, {}, mine.signal);
    if (mine.signal.aborted) return;
    tried.value = said;
    error.value = null;
  } catch (failure) {
    if (mine.signal.aborted) return;
    if (failure instanceof Refusal && failure.problem.status === 409) await meanwhile();
    else error.value = failure;
  }
  trying.value = false;
}

/** Saves; gives whether it was saved. */
export async function save(): Promise<void> {
  const digest = plan.value?.digest;
  if (!digest || saving.value) return;
  saving.value = true;
  try {
    take(await put("/api/plan", { digest, edits: ordered(edits.value) }));
    edits.value = new Map();
    notice.value = `Saved into ${plan.value?.file ?? "the plan"} by ${me.value?.name ?? "you"}; its comments are kept.`;
    error.value = null;
  } catch (failure) {
    if (failure instanceof Refusal && failure.problem.status === 409) await meanwhile();
    else error.value = failure;
  }
  saving.value = false;
}

async function meanwhile(): Promise<void> {
  await loadPlan();
  notice.value = "The plan file was changed meanwhile. It was loaded again, and your changes stand on top of it: look at them, then save.";
}

addEventListener("beforeunload", (event) => {
  if (edits.value.size > 0) event.preventDefault();
});

function isTable(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
