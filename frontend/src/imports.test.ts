import { describe, expect, it } from "vitest";

const FILES = import.meta.glob<string>(["./**/*.ts", "./**/*.tsx"], { query: "?raw", import: "default", eager: true });

/** The relative imports of each file, types and those of later among them, as names of files that are there. */
function importsOf(files: Record<string, string>): Map<string, string[]> {
  const found = new Map<string, string[]>();
  for (const [name, text] of Object.entries(files)) {
    const wanted = [...text.matchAll(/(?:\bfrom\s+|\bimport\s*\(?\s*)"(\.[^"]*)"/g)].map((one) => new URL(one[1] ?? "", `file:///${name}`).pathname.slice(1));
    const ways = wanted.map((one) => ["", ".ts", ".tsx", "/index.ts", "/index.tsx"].map((end) => `./${one}${end}`).find((path) => path in files));
    found.set(name, ways.filter((one) => one !== undefined));
  }
  return found;
}

/** The files of one circle in the order of their imports; null: all imports go one way. */
function circleIn(files: Record<string, string>): string[] | null {
  const imports = importsOf(files);
  const done = new Set<string>();
  const walk = (name: string, path: readonly string[]): string[] | null => {
    if (path.includes(name)) return [...path.slice(path.indexOf(name)), name];
    if (done.has(name)) return null;
    for (const next of imports.get(name) ?? []) {
      const circle = walk(next, [...path, name]);
      if (circle) return circle;
    }
    done.add(name);
    return null;
  };
  for (const name of imports.keys()) {
    const circle = walk(name, []);
    if (circle) return circle;
  }
  return null;
}

describe("imports", () => {
  it("go one way", () => {
    const ways = importsOf(FILES);
    expect(ways.get("./main.tsx")).toContain("./shell/Shell.tsx");
    expect(ways.get("./pages/index.ts")).toContain("./pages/watch/index.tsx");
    expect(circleIn(FILES)).toBeNull();
  });
  it("in a circle are named", () => {
    const files = {
      "./page/index.tsx": 'import { Table } from "./Table";\nimport "./page.css";',
      "./page/Table.tsx": 'import type { Row } from "./index";',
      "./main.tsx": 'import("./page")',
    };
    expect(circleIn(files)).toEqual(["./page/index.tsx", "./page/Table.tsx", "./page/index.tsx"]);
    expect(circleIn({ ...files, "./page/Table.tsx": 'import type { Row } from "../rows";', "./rows.ts": "" })).toBeNull();
  });
});
