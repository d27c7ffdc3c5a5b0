// The pages in the order of the work. Each is a folder with a default export, loaded when it is first opened.
import type { ComponentType } from "preact";

export interface PageEntry {
  name: string;
  title: string;
  load: () => Promise<{ default: ComponentType }>;
}

export const PAGES: readonly PageEntry[] = [
  { name: "plan", title: "Plan", load: () => import("./plan") },
  { name: "window", title: "Window", load: () => import("./window") },
  { name: "flight", title: "Flight", load: () => import("./flight") },
  { name: "briefing", title: "Briefing", load: () => import("./briefing") },
  { name: "watch", title: "Watch", load: () => import("./watch") },
  { name: "chase", title: "Chase", load: () => import("./chase") },
  { name: "review", title: "Review", load: () => import("./review") },
];
