// Which page is shown: the part of the address behind the #, so that it works on every server and can be kept.
import { signal } from "@preact/signals";

export interface Route {
  page: string;
  query: Record<string, string>;
}

export const route = signal<Route>(read(location.hash));

addEventListener("hashchange", () => {
  route.value = read(location.hash);
});

/** "#/window?site=A" is the page window with the site A. */
export function read(hash: string): Route {
  const [path = "", query = ""] = hash.replace(/^#\/?/, "").split("?");
  return { page: /^[a-z]+$/.test(path) ? path : "plan", query: Object.fromEntries(new URLSearchParams(query)) };
}

export function address(page: string, query: Record<string, string> = {}): string {
  const asked = new URLSearchParams(query).toString();
  return `#/${page}${asked && `?${asked}`}`;
}

export function go(page: string, query: Record<string, string> = {}): void {
  location.hash = address(page, query);
}
