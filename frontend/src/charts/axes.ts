// Round values on an axis in the chosen system; SI goes in and comes out.
import { say, system, type Quantity } from "../shell/units";

export interface Axis {
  from: number;
  to: number;
  /** "Height above mean sea level, km". */
  name: string;
  ticks: readonly { value: number; words: string }[];
}

/** An axis of a quantity over a range in SI units. */
export function axisOf(quantity: Quantity, name: string, from: number, to: number, most = 6): Axis {
  const factor = factorOf(quantity);
  const { unit } = say(quantity, 0);
  const ticks = round(from / factor, to / factor, most).map((one) => ({ value: one * factor, words: worded(one) }));
  return { from, to, name: `${name}, ${unit}`, ticks };
}

/** Round numbers between two, at most so many. */
export function round(from: number, to: number, most: number): number[] {
  const rough = (to - from) / Math.max(1, most);
  if (!(rough > 0)) return [from];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map((one) => one * power).find((one) => one >= rough * 0.999) ?? 10 * power;
  const found: number[] = [];
  for (let index = Math.ceil(from / step - 1e-9); index * step <= to + 1e-9 * step; index++) found.push(Number((index * step).toPrecision(12)));
  return found;
}

/** How much of SI one unit of the chosen system is. */
export function factorOf(quantity: Quantity): number {
  const metric = system.value === "metric";
  switch (quantity) {
    case "height":
      return metric ? 1000 : 0.3048;
    case "distance":
      return metric ? 1000 : 1609.344;
    case "speed":
      return metric ? 1 : 1852 / 3600;
    case "lift":
      return metric ? 9.80665e-3 : 4.4482216152605;
    default:
      return 1;
  }
}

function worded(value: number): string {
  const text = String(value);
  return value >= 10_000 ? text.replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f") : text;
}
