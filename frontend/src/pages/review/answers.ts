// What the desk answers to page Review.
import type { Schemas } from "../../api/client";

export type Review = Schemas["ReviewAnswer"];
export type PlanReview = Schemas["PlanReviewAnswer"];
