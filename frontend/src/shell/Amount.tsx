// One number with its unit, spread and age, and the other system in small print.
import { said, saidOther, saidSpan, say, type Quantity } from "./units";

interface Given {
  quantity: Quantity;
  /** In SI; null is a dash, and then `why` says why. */
  si: number | null | undefined;
  /** Half of the spread, in SI. */
  spread?: number | null;
  ageS?: number | null;
  why?: string;
  /** Leave the other system out where room is short. */
  alone?: boolean;
}

export function Amount({ quantity, si, spread, ageS, why, alone }: Given) {
  const { number, unit } = say(quantity, si);
  if (number === "–") return <span class="amount">– {why && <span class="other">{why}</span>}</span>;
  return (
    <span class="amount">
      {number}
      {spread !== null && spread !== undefined && ` ±${say(quantity, spread).number}`}
      <span class="unit">{unit}</span>
      {ageS !== null && ageS !== undefined && <span class="unit age">· {saidSpan(ageS)}</span>}
      {!alone && <span class="other">{saidOther(quantity, si)}</span>}
    </span>
  );
}

/** From and to in the chosen system: "29.3 to 33.0 km". */
export function range(quantity: Quantity, low: number, high: number): string {
  return `${say(quantity, low).number} to ${said(quantity, high)}`;
}
