// Which release the pages Window, Flight and Briefing are about: it stands in the address, so that it can be kept.
import { route } from "../../shell/route";

export type Choice = Record<string, string>;

const NAMES = ["site", "release", "fill", "balloon"] as const;

/** The choice in the address; empty is as planned. */
export function chosen(): Choice {
  const query = route.value.query;
  return Object.fromEntries(NAMES.flatMap((name) => (query[name] ? [[name, query[name]]] : [])));
}

export function choiceOf(cell: { site: string; release_utc: string; fill: string; balloon: string }): Choice {
  return { site: cell.site, release: `${new Date(cell.release_utc).toISOString().slice(0, 19)}Z`, fill: cell.fill, balloon: cell.balloon };
}

export function keyOf(choice: Choice): string {
  return NAMES.map((name) => choice[name] ?? "").join("|");
}

export function same(choice: Choice, other: Choice): boolean {
  return keyOf(choice) === keyOf(other);
}
