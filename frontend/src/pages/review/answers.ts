// What the desk answers to page Review.
import type { Schemas } from "../../api/client";
import { momentOf, type Place } from "../../map/moment";

export type Review = Schemas["ReviewAnswer"];
export type PlanReview = Schemas["PlanReviewAnswer"];

/** Where the balloon was at a moment, between what was heard before and after it; the height may not be known. */
export function flownAt({ flown }: Review, ms: number): Place | null {
  const column = (part: 1 | 2 | 3) => flown.map((one) => one[part] ?? NaN);
  return momentOf({ seconds: flown.map((one) => one[0]), longitude_deg: column(1), latitude_deg: column(2), height_msl_m: column(3), top: 0 }, ms / 1000);
}
