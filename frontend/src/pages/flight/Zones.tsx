// Keep-out zones of the crew's own: drawn here, kept beside the plan, and judged with from then on.
import type { Signal } from "@preact/signals";
import { useState } from "preact/hooks";
import { get, post, remove } from "../../api/client";
import { may } from "../../api/session";
import { useAsk } from "../../shell/ask";
import { Trouble } from "../../shell/States";
import type { Drawing } from "./Pen";

/** What is still to be done before a zone can be kept, then its name. */
export function ZoneForm({ pen }: { pen: Signal<Drawing | null> }) {
  const [name, setName] = useState("");
  const [error, setError] = useState<unknown>(null);
  const [busy, setBusy] = useState(false);
  const points = pen.value?.points ?? [];
  const keep = async (event: Event) => {
    event.preventDefault();
    setBusy(true);
    try {
      await post("/api/flight/zones", { name: name.trim(), ring: points.map(([x = 0, y = 0]): [number, number] => [x, y]) });
      pen.value = null;
    } catch (problem) {
      setError(problem);
      setBusy(false);
    }
  };
  return (
    <form class="zone-form" onSubmit={keep}>
      {points.length > 0 && (
        <button type="button" onClick={() => (pen.value = { what: "zone", points: points.slice(0, -1) })}>
          Take the last corner back
        </button>
      )}
      {points.length < 3 ? (
        <span class="small">Click the corners of the zone in turn, {3 - points.length} more at least; its edge closes by itself.</span>
      ) : (
        <>
          <label>
            Name{" "}
            <input value={name} maxLength={60} required pattern="[^\/]+" onInput={(event) => setName(event.currentTarget.value)} />
          </label>
          <button type="submit" disabled={busy || name.trim() === ""}>
            {busy ? "Keeping it" : `Keep this zone of ${points.length} corners`}
          </button>
          <span class="small">Every flight is flown against it again.</span>
        </>
      )}
      {error !== null && <Trouble error={error} />}
    </form>
  );
}

/** The zones that were drawn here, to be taken away or taken along. */
export function DrawnZones() {
  const { answer, again } = useAsk("drawn zones", (signal) => get("/api/flight/zones", {}, {}, signal), ["plan"]);
  const [error, setError] = useState<unknown>(null);
  if (!answer || answer.zones.length === 0) return null;
  return (
    <details class="drawn-zones">
      <summary class="button">{answer.zones.length === 1 ? "1 zone drawn here" : `${answer.zones.length} zones drawn here`}</summary>
      <ul>
        {answer.zones.map((one) => (
          <li>
            {one.name}
            {may("director") && <button onClick={() => void remove("/api/flight/zones/{name}", { name: one.name }).then(again, setError)}>Take {one.name} away</button>}
          </li>
        ))}
      </ul>
      <a class="button" href="/api/flight/zones.geojson" download={answer.file}>
        {answer.file} (GeoJSON)
      </a>
      {error !== null && <Trouble error={error} />}
    </details>
  );
}
