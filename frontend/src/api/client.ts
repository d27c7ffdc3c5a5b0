// Asks the desk and gets typed answers: the types come from its OpenAPI document.
import type { components, paths } from "./schema";

export type Schemas = components["schemas"];
export type Problem = Schemas["Problem"];
export type Finding = Schemas["FindingAnswer"];

type Ok<Operation> = Operation extends { responses: { 200: { content: { "application/json": infer Body } } } } ? Body : undefined;
type Body<Operation> = Operation extends { requestBody: { content: { "application/json": infer Sent } } } ? Sent : undefined;
type Having<Method extends string> = { [Path in keyof paths]: paths[Path] extends Record<Method, object> ? Path : never }[keyof paths];

/** A request that was not served, with the words of the desk. */
export class Refusal extends Error {
  constructor(readonly problem: Problem) {
    super(problem.what);
  }
}

/** The desk could not be reached at all. */
export class NoAnswer extends Error {}

let token = "";

/** Sent along with every change: only a page of this desk knows it. */
export function useToken(given: string): void {
  token = given;
}

/** `get("/api/plan")`; a path with parts is filled first: `get("/api/x/{id}", {id: "3"})`; `query` goes behind it. */
export async function get<Path extends Having<"get">>(
  path: Path,
  parts: Record<string, string> = {},
  query: Record<string, string | number | undefined> = {},
  signal?: AbortSignal,
): Promise<Ok<paths[Path]["get"]>> {
  return (await send("GET", path, parts, query, undefined, signal)) as Ok<paths[Path]["get"]>;
}

export async function post<Path extends Having<"post">>(
  path: Path,
  body?: Body<paths[Path]["post"]>,
  parts: Record<string, string> = {},
  signal?: AbortSignal,
): Promise<Ok<paths[Path]["post"]>> {
  return (await send("POST", path, parts, {}, body, signal)) as Ok<paths[Path]["post"]>;
}

export async function put<Path extends Having<"put">>(
  path: Path,
  body?: Body<paths[Path]["put"]>,
  parts: Record<string, string> = {},
): Promise<Ok<paths[Path]["put"]>> {
  return (await send("PUT", path, parts, {}, body)) as Ok<paths[Path]["put"]>;
}

export async function remove<Path extends Having<"delete">>(
  path: Path,
  parts: Record<string, string> = {},
): Promise<Ok<paths[Path]["delete"]>> {
  return (await send("DELETE", path, parts, {}, undefined)) as Ok<paths[Path]["delete"]>;
}

/** A path with its parts and its query. */
export function filled(path: string, parts: Record<string, string>, query: Record<string, string | number | undefined>): string {
  const whole = path.replace(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(parts[name] ?? ""));
  const asked = Object.entries(query).filter(([, value]) => value !== undefined);
  return asked.length === 0 ? whole : `${whole}?${new URLSearchParams(asked.map(([name, value]) => [name, String(value)]))}`;
}

async function send(
  method: string,
  path: string,
  parts: Record<string, string>,
  query: Record<string, string | number | undefined>,
  body: unknown,
  signal?: AbortSignal,
): Promise<unknown> {
  const headers: Record<string, string> = { accept: "application/json" };
  if (method !== "GET") headers["x-pappus-token"] = token;
  const options: RequestInit = { method, headers, credentials: "same-origin", cache: "no-store" };
  if (body !== undefined) {
    headers["content-type"] = "application/json";
    options.body = JSON.stringify(body);
  }
  if (signal) options.signal = signal;
  let response: Response;
  try {
    response = await fetch(filled(path, parts, query), options);
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new NoAnswer("The desk does not answer");
  }
  const text = await response.text();
  if (!response.ok) throw new Refusal(problemIn(text, response.status));
  return text === "" ? undefined : JSON.parse(text);
}

function problemIn(text: string, status: number): Problem {
  try {
    const problem = JSON.parse(text) as Problem;
    if (typeof problem.what === "string") return problem;
  } catch {
    // not of the desk's own making
  }
  return { status, what: `The desk answered with ${status}`, fix: "Load the page again.", findings: [] };
}
