// What a person typed, in SI: only to show it in the chosen units beside the field. The plan itself is read by pappus.
import { said, system, type Quantity } from "./units";

const FACTORS: Record<string, readonly [Quantity, number]> = {
  g: ["mass", 1e-3],
  kg: ["mass", 1],
  lb: ["mass", 0.45359237],
  oz: ["mass", 0.028349523125],
  mm: ["diameter", 1e-3],
  cm: ["diameter", 1e-2],
  m: ["diameter", 1],
  in: ["diameter", 0.0254],
  ft: ["diameter", 0.3048],
  km: ["height", 1000],
  mi: ["distance", 1609.344],
  "m/s": ["climb", 1],
  "ft/min": ["climb", 0.3048 / 60],
  gf: ["lift", 9.80665e-3],
  kgf: ["lift", 9.80665],
  lbf: ["lift", 4.4482216152605],
  N: ["lift", 1],
  m3: ["volume", 1],
  "m³": ["volume", 1],
  L: ["volume", 1e-3],
  ft3: ["volume", 0.3048 ** 3],
};

/** `as` says what a length means where the unit leaves it open: heights in metres are heights. */
export function read(text: string, as?: Quantity): { quantity: Quantity; si: number } | null {
  const parts = /^\s*([-+]?\d+(?:\.\d+)?)\s*([A-Za-z/³]+\d?)\s*$/.exec(text);
  const unit = parts?.[2] ?? "";
  const factor = Object.hasOwn(FACTORS, unit) ? FACTORS[unit] : undefined;
  if (!parts || !factor) return null;
  return { quantity: as ?? factor[0], si: Number(parts[1]) * factor[1] };
}

/** "= 2.65 lb" when the text is in the other system; else nothing. */
export function inChosenUnits(text: string, as?: Quantity): string {
  const value = read(text, as);
  if (!value) return "";
  const words = said(value.quantity, value.si, system.value);
  const unit = /[A-Za-z/³]+\d?\s*$/.exec(text)?.[0].trim();
  return words.endsWith(` ${unit}`) || METRIC.has(unit ?? "") === (system.value === "metric") ? "" : `= ${words}`;
}

const METRIC = new Set(["g", "kg", "mm", "cm", "m", "km", "m/s", "gf", "kgf", "N", "m3", "m³", "L"]);
