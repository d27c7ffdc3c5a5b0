// What the desk answers to page Chase.
import type { Schemas } from "../../api/client";

export type Chase = Schemas["ChaseAnswer"];
export type Car = Schemas["CarAnswer"];
