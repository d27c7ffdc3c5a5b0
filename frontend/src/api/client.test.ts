import { afterEach, describe, expect, it, vi } from "vitest";
import { filled, get, NoAnswer, post, Refusal, useToken } from "./client";

afterEach(() => vi.unstubAllGlobals());

function answering(status: number, body: string) {
  const asked = vi.fn((_path: string, _options: RequestInit) => Promise.resolve(new Response(status === 204 ? null : body, { status })));
  vi.stubGlobal("fetch", asked);
  return asked;
}

describe("asking the desk", () => {
  it("fills paths and queries", () => {
    expect(filled("/api/x/{id}", { id: "a/../b" }, { n: 3, none: undefined })).toBe("/api/x/a%2F..%2Fb?n=3");
  });
  it("sends the token with changes alone", async () => {
    useToken("secret");
    const asked = answering(200, "{}");
    await get("/api/plan");
    await post("/api/plan/example");
    const headers = asked.mock.calls.map(([, options]) => (options.headers as Record<string, string>)["x-pappus-token"]);
    expect(headers).toEqual([undefined, "secret"]);
  });
  it("tells a refusal from no answer", async () => {
    answering(409, JSON.stringify({ status: 409, what: "changed meanwhile", fix: "Load again.", findings: [] }));
    await expect(get("/api/plan")).rejects.toMatchObject({ problem: { what: "changed meanwhile" } });
    answering(502, "<html>");
    await expect(get("/api/plan")).rejects.toBeInstanceOf(Refusal);
    vi.stubGlobal("fetch", () => Promise.reject(new TypeError("network")));
    await expect(get("/api/plan")).rejects.toBeInstanceOf(NoAnswer);
  });
});
