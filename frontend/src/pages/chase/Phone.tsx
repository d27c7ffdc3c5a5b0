// What only the phone itself can do: keep its screen on, and tell where the car is that it rides in.
import { useEffect, useRef, useState } from "preact/hooks";
import { post, Refusal } from "../../api/client";
import { may } from "../../api/session";
import { now } from "../../shell/clock";
import { said, saidSpan } from "../../shell/units";

const EVERY_MS = 5000;
const OPTIONS: PositionOptions = { enableHighAccuracy: true, maximumAge: 2000, timeout: 30_000 };

export function Phone({ car, names }: { car: string; names: readonly string[] }) {
  if (!window.isSecureContext)
    return (
      <section class="chase-phone" aria-label="This phone" data-secure="false">
        <p>
          Keep-awake and this phone's position are off: this page came over plain http, and browsers allow both over https only. Ask the flight director for the https link. Set the phone's own screen time-out to "never" meanwhile.
        </p>
      </section>
    );
  return (
    <section class="chase-phone" aria-label="This phone" data-secure="true">
      <KeepAwake />
      {may("crew") && names.includes(car) && <Position key={car} car={car} />}
    </section>
  );
}

/** Holds the screen on while the page is seen; the browser lets go when it is not, so it is asked for again. */
function KeepAwake() {
  const [on, setOn] = useState(false);
  const [held, setHeld] = useState(false);
  const [wrong, setWrong] = useState("");
  const lock = useRef<WakeLockSentinel | null>(null);
  useEffect(() => {
    if (!on) return;
    let gone = false;
    const hold = async () => {
      if (document.visibilityState !== "visible" || (lock.current && !lock.current.released)) return;
      try {
        const got = await navigator.wakeLock.request("screen");
        if (gone) return void got.release();
        lock.current = got;
        got.addEventListener("release", () => setHeld(false));
        setHeld(true);
        setWrong("");
      } catch (error) {
        setHeld(false);
        setWrong(error instanceof Error ? error.message : "the phone refused");
      }
    };
    void hold();
    document.addEventListener("visibilitychange", hold);
    return () => {
      gone = true;
      document.removeEventListener("visibilitychange", hold);
      void lock.current?.release();
      lock.current = null;
      setHeld(false);
    };
  }, [on]);
  if (!("wakeLock" in navigator)) return <p>This browser cannot keep the screen on: set the phone's own screen time-out to "never".</p>;
  return (
    <div class="chase-switch">
      <button aria-pressed={on} onClick={() => setOn(!on)}>
        {on ? "Let the screen go off" : "Keep the screen on"}
      </button>
      {on && <span role="status">{held ? "The screen stays on while this page is in front." : `The screen is not held${wrong ? `: ${wrong}` : ""}.`}</span>}
    </div>
  );
}

function Position({ car }: { car: string }) {
  const [on, setOn] = useState(false);
  const [sent, setSent] = useState<{ ms: number; accuracy: number } | null>(null);
  const [wrong, setWrong] = useState("");
  useEffect(() => {
    if (!on) return;
    let last = 0;
    let busy = false;
    const tell = async (place: GeolocationPosition) => {
      if (busy || Date.now() - last < EVERY_MS) return;
      busy = true;
      last = Date.now();
      const { latitude, longitude, accuracy, speed, heading } = place.coords;
      try {
        await post("/api/chase/position", {
          car,
          latitude_deg: latitude,
          longitude_deg: longitude,
          accuracy_m: accuracy,
          age_s: Math.max(0, (Date.now() - place.timestamp) / 1000),
          speed_m_s: speed !== null && Number.isFinite(speed) && speed >= 0 ? speed : null,
          course_deg: heading !== null && Number.isFinite(heading) ? ((heading % 360) + 360) % 360 : null,
        });
        setSent({ ms: Date.now(), accuracy });
        setWrong("");
      } catch (error) {
        setWrong(error instanceof Refusal ? wordsOf(error) : error instanceof Error ? error.message : "it was not sent");
      } finally {
        busy = false;
      }
    };
    let newest: GeolocationPosition | null = null;
    const watch = navigator.geolocation.watchPosition(
      (place) => {
        newest = place;
        void tell(place);
      },
      (error) => setWrong(error.code === error.PERMISSION_DENIED ? "the browser was not allowed to tell its position; allow it in its settings" : `the phone does not know its place: ${error.message || "no fix"}`),
      OPTIONS,
    );
    // a phone that stands still tells nothing new, and the crew should see that it is still there
    const timer = setInterval(() => {
      if (newest && Date.now() - last >= 4 * EVERY_MS) navigator.geolocation.getCurrentPosition(tell, () => undefined, OPTIONS);
    }, EVERY_MS);
    return () => {
      navigator.geolocation.clearWatch(watch);
      clearInterval(timer);
    };
  }, [on, car]);
  void now.value; // the age grows
  if (!("geolocation" in navigator)) return <p>This browser does not tell its position.</p>;
  return (
    <div class="chase-switch">
      <button aria-pressed={on} onClick={() => setOn(!on)}>
        {on ? `Stop telling where ${car} is` : `This phone tells where ${car} is`}
      </button>
      {on && (
        <span role="status" data-sent={sent !== null}>
          {sent && `Told ${saidSpan(Math.max(0, (Date.now() - sent.ms) / 1000))} ago, ±${said("shortLength", sent.accuracy)}. `}
          {wrong ? `Not told: ${wrong}.` : !sent && "Waiting for the phone's position."}
        </span>
      )}
      {!on && <span class="small">Only where the car has no receiver of its own: a phone tells nothing while its screen is off.</span>}
    </div>
  );
}

function wordsOf(refusal: Refusal): string {
  const found = refusal.problem.findings?.[0];
  return found ? `${found.field} ${found.reason}` : refusal.problem.what;
}
