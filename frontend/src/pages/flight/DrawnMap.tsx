// The map as the desk draws it, for a browser without WebGL 2.
import { get } from "../../api/client";
import { useJob } from "../../api/jobs";
import { may } from "../../api/session";
import { Loading, Trouble } from "../../shell/States";
import { keyOf, type Choice } from "../window/choice";

export function DrawnMap({ choice }: { choice: Choice }) {
  if (!may("crew")) return <Picture choice={choice} />;
  return <Made choice={choice} />;
}

function Made({ choice }: { choice: Choice }) {
  const { answer, job, error, again } = useJob(`papers ${keyOf(choice)}`, (signal) => get("/api/briefing/papers", {}, choice, signal));
  if (error) return <Trouble error={error} again={again} />;
  return answer ? <Picture choice={choice} /> : <Loading what="The desk draws the map, for this browser draws none (it has no WebGL 2)" job={job} />;
}

function Picture({ choice }: { choice: Choice }) {
  return <img class="drawn-map" alt="Landing area on the map, drawn by the desk" src={`/api/flight/map.png?${new URLSearchParams(choice)}`} />;
}
