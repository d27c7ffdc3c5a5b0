// What is the same on every page: the head with the ways, notices, the page itself, and the clock at the foot.
import type { ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";
import { useEvent } from "../api/events";
import { barred, may, me } from "../api/session";
import { PAGES, type PageEntry } from "../pages";
import { ClockStrip } from "./ClockStrip";
import { LookChoice, UnitChoice } from "./Look";
import { loadPlan, plan } from "./plan";
import { People } from "./People";
import { address, route } from "./route";
import { Loading, Offline, Trouble } from "./States";
import markUrl from "./mark.svg";

export function Shell() {
  useEffect(() => {
    if (me.value) void loadPlan();
  }, []);
  useEvent("plan", () => void loadPlan());
  const entry = PAGES.find((page) => page.name === route.value.page) ?? PAGES[0];
  useEffect(() => {
    if (entry) document.title = `${entry.title} · ${plan.value?.mission?.name ?? "pappus"}`;
  });
  return (
    <div class="shell">
      <a
        class="to-page"
        href="#page"
        onClick={(event) => {
          event.preventDefault();
          document.getElementById("page")?.focus();
        }}
      >
        To the page
      </a>
      <Head current={entry?.name ?? ""} />
      <div class="notes">
        <Offline />
        <PlainHttp />
      </div>
      <main class={`page page-${entry?.name ?? ""}`} id="page" tabIndex={-1}>
        {barred.value ? <Barred /> : entry && <Page entry={entry} key={entry.name} />}
      </main>
      <ClockStrip />
    </div>
  );
}

function Head({ current }: { current: string }) {
  const [open, setOpen] = useState(false);
  const title = PAGES.find((page) => page.name === current)?.title ?? "";
  return (
    <header class={`head${open ? " open" : ""}`}>
      <div class="head-flight">
        <img src={markUrl} alt="pappus" width="32" height="32" />
        <span title={plan.value?.mission?.name}>{plan.value?.mission?.name ?? "pappus"}</span>
      </div>
      <button type="button" class="head-menu" aria-expanded={open} onClick={() => setOpen(!open)}>
        {open ? "Close" : title}
        <svg viewBox="0 0 12 12" width="12" height="12" aria-hidden="true">
          <path d={open ? "M1 8l5-5 5 5" : "M1 4l5 5 5-5"} fill="none" stroke="currentColor" stroke-width="2" />
        </svg>
      </button>
      <nav aria-label="Pages">
        <ul>
          {PAGES.map((page) => (
            <li>
              <a href={address(page.name)} aria-current={page.name === current ? "page" : undefined} onClick={() => setOpen(false)}>
                {page.title}
              </a>
            </li>
          ))}
        </ul>
      </nav>
      <div class="head-tools">
        <UnitChoice />
        <LookChoice />
        {may("director") ? <People /> : <span class="small">{me.value && `${me.value.name}, ${me.value.role}`}</span>}
      </div>
    </header>
  );
}

function Page({ entry }: { entry: PageEntry }) {
  const [shown, setShown] = useState<ComponentType | null>(null);
  const [error, setError] = useState<unknown>(null);
  useEffect(() => {
    entry.load().then((module) => setShown(() => module.default), setError);
  }, [entry]);
  if (error) return <Trouble error={error} again={() => location.reload()} />;
  const Shown = shown;
  return Shown ? <Shown /> : <Loading what={entry.title} />;
}

function Barred() {
  return (
    <section class="state" data-state="error" role="alert">
      <h1>{barred.value?.what}</h1>
      <p>{barred.value?.fix}</p>
      <p class="small">
        On the laptop itself, the terminal in which the desk was started shows the link. The crew gets links from the flight director, each their own.
      </p>
    </section>
  );
}

/** Browsers keep position and wake lock for secure pages; https and the laptop itself are. */
function PlainHttp() {
  if (window.isSecureContext) return null;
  return (
    <div class="notice" role="status">
      <strong>Plain http: the position of this phone and keeping its screen awake are off.</strong>
      <span>Open the https link instead, and do not send secrets over this one.</span>
    </div>
  );
}
