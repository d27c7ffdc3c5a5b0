// Numbers as a crew says them: the chosen system large, the other one small beside it. SI comes in, always.
import { signal } from "@preact/signals";

export type System = "metric" | "feet";
export const system = signal<System>(stored());

export type Quantity = "height" | "distance" | "shortLength" | "speed" | "climb" | "lift" | "mass" | "volume" | "diameter" | "edge" | "temperature" | "area" | "force";

interface Form {
  unit: string;
  /** From SI. */
  of: (si: number) => number;
  /** Digits after the point. */
  digits: number;
}

/** Between thousands; narrow, and no line breaks there. */
const THIN = "\u202f";
const FOOT = 0.3048;
const MILE = 1609.344;
const KNOT = 1852 / 3600;
const GRAM_FORCE = 9.80665e-3;
const POUND = 0.45359237;

const FORMS: Record<Quantity, Record<System, Form>> = {
  height: { metric: { unit: "km", of: (m) => m / 1000, digits: 1 }, feet: { unit: "ft", of: (m) => roundTo(m / FOOT, 100), digits: 0 } },
  distance: { metric: { unit: "km", of: (m) => m / 1000, digits: 1 }, feet: { unit: "mi", of: (m) => m / MILE, digits: 1 } },
  shortLength: { metric: { unit: "m", of: (m) => m, digits: 0 }, feet: { unit: "ft", of: (m) => m / FOOT, digits: 0 } },
  speed: { metric: { unit: "m/s", of: (v) => v, digits: 1 }, feet: { unit: "kn", of: (v) => v / KNOT, digits: 0 } },
  climb: { metric: { unit: "m/s", of: (v) => v, digits: 1 }, feet: { unit: "ft/min", of: (v) => roundTo((v / FOOT) * 60, 10), digits: 0 } },
  lift: { metric: { unit: "gf", of: (n) => n / GRAM_FORCE, digits: 0 }, feet: { unit: "lbf", of: (n) => n / GRAM_FORCE / 1000 / POUND, digits: 2 } },
  mass: { metric: { unit: "g", of: (kg) => kg * 1000, digits: 0 }, feet: { unit: "lb", of: (kg) => kg / POUND, digits: 2 } },
  volume: { metric: { unit: "m³", of: (v) => v, digits: 2 }, feet: { unit: "ft³", of: (v) => v / FOOT ** 3, digits: 0 } },
  diameter: { metric: { unit: "m", of: (m) => m, digits: 2 }, feet: { unit: "ft", of: (m) => m / FOOT, digits: 1 } },
  edge: { metric: { unit: "cm", of: (m) => 100 * m, digits: 0 }, feet: { unit: "in", of: (m) => m / 0.0254, digits: 1 } },
  temperature: { metric: { unit: "°C", of: (k) => k - 273.15, digits: 0 }, feet: { unit: "°F", of: (k) => (k - 273.15) * 1.8 + 32, digits: 0 } },
  area: { metric: { unit: "km²", of: (a) => a / 1e6, digits: 0 }, feet: { unit: "mi²", of: (a) => a / MILE ** 2, digits: 0 } },
  force: { metric: { unit: "N", of: (n) => n, digits: 0 }, feet: { unit: "lbf", of: (n) => n / 4.4482216152605, digits: 0 } },
};

export interface Said {
  number: string;
  unit: string;
}

/** A quantity in one system; `si` in SI units; unknown is a dash. */
export function say(quantity: Quantity, si: number | null | undefined, chosen: System = system.value): Said {
  const form = FORMS[quantity][chosen];
  return { number: si === null || si === undefined || !Number.isFinite(si) ? "–" : grouped(form.of(si), form.digits), unit: form.unit };
}

/** The same as one text: "31.2 km". */
export function said(quantity: Quantity, si: number | null | undefined, chosen: System = system.value): string {
  const { number, unit } = say(quantity, si, chosen);
  return number === "–" ? number : `${number} ${unit}`;
}

/** In the system that is not chosen. */
export function saidOther(quantity: Quantity, si: number | null | undefined): string {
  return said(quantity, si, other(system.value));
}

export function other(chosen: System): System {
  return chosen === "metric" ? "feet" : "metric";
}

export function chooseSystem(chosen: System): void {
  system.value = chosen;
  remember("pappus-units", chosen);
}

/** A share as a crew says it: never a bare 0 or 100 for what is only nearly so. */
export function saidShare(share: number | null | undefined): string {
  if (share === null || share === undefined || !Number.isFinite(share)) return "–";
  if (share > 0 && share < 0.005) return "< 1 %";
  if (share < 1 && share > 0.995) return "> 99 %";
  return `${Math.round(100 * share)} %`;
}

/** A place as the papers write it: "37.3800° S 64.6000° W". */
export function saidPlace(latitude_deg: number, longitude_deg: number, digits = 4): string {
  const part = (degrees: number, [plus, minus]: [string, string]) => `${Math.abs(degrees).toFixed(digits)}° ${degrees < 0 ? minus : plus}`;
  return `${part(latitude_deg, ["N", "S"])} ${part(longitude_deg, ["E", "W"])}`;
}

/** An age or a span in seconds: "12 s", "4 min", "2 h 05". */
export function saidSpan(seconds: number | null | undefined): string {
  if (seconds === null || seconds === undefined || !Number.isFinite(seconds)) return "–";
  const whole = Math.round(Math.abs(seconds));
  const sign = seconds < 0 && whole > 0 ? "−" : "";
  if (whole < 90) return `${sign}${whole} s`;
  const minutes = Math.round(whole / 60);
  if (minutes < 90) return `${sign}${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${sign}${hours} h ${String(minutes % 60).padStart(2, "0")}`;
  return `${sign}${Math.round(hours / 24)} d`;
}

const RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹";

/** Numbers as machines write them, "4.5e-06", as people do: "4.5 × 10⁻⁶"; other words stay as they are. */
export function saidPowers(words: string): string {
  return words.replace(/(\d+(?:\.\d+)?)e([+-]?)0*(\d+)/g, (_, number: string, sign: string, power: string) => {
    if (Number(number) === 0) return "0";
    const raised = power === "" ? "⁰" : [...power].map((digit) => RAISED[Number(digit)]).join("");
    return `${number} × 10${sign === "-" ? "⁻" : ""}${raised}`;
  });
}

/** "vehicle silent: van": what a warning is of. */
export function saidWarning({ kind, subject }: { kind: string; subject: string }): string {
  return subject ? `${kind}: ${subject}` : kind;
}

/** "12:30" in a zone; with `zone` undefined in UTC with a Z. Unknown is a dash. */
export function saidTime(ms: number | null | undefined, zone?: string, seconds = false): string {
  if (ms === null || ms === undefined || !Number.isFinite(ms)) return "–";
  const options: Intl.DateTimeFormatOptions = { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone ?? "UTC" };
  if (seconds) options.second = "2-digit";
  return new Intl.DateTimeFormat("en-GB", options).format(ms) + (zone === undefined ? "Z" : "");
}

/** "13 Feb 2027" in a zone. */
export function saidDate(ms: number, zone = "UTC"): string {
  return new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", year: "numeric", timeZone: zone }).format(ms);
}

function grouped(value: number, digits: number): string {
  const text = value.toFixed(digits);
  const [whole = "", part] = (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "−").split(".");
  const spaced = whole.replace(/\B(?=(\d{3})+(?!\d))/g, THIN); // as in SI: no comma that a reader may take for a point
  return part === undefined ? spaced : `${spaced}.${part}`;
}

function roundTo(value: number, step: number): number {
  return Math.round(value / step) * step;
}

function stored(): System {
  return recall("pappus-units") === "feet" ? "feet" : "metric";
}

/** What this browser keeps for the page; nothing of the flight. */
export function recall(name: string): string | null {
  try {
    return localStorage.getItem(name);
  } catch {
    return null;
  }
}

export function remember(name: string, value: string): void {
  try {
    localStorage.setItem(name, value);
  } catch {
    // private windows keep nothing
  }
}
