// What the desk answers to page Flight.
import type { Schemas } from "../../api/client";

export type Flown = Schemas["FlownAnswer"];
