// The legend of a map: what the page draws, then the ground that all maps share, in the colours of the look.
import type { ComponentChildren } from "preact";
import { look } from "../shell/Look";
import { Icon } from "../shell/Signs";
import { TONES } from "./ground";
import { LEVELS } from "./landing";

/** One tap away; `children` are the swatches of what the page itself draws. */
export function MapKey({ children }: { children: ComponentChildren }) {
  return (
    <details class="legend map-key">
      <summary>Legend of the map</summary>
      <ul>
        {children}
        <GroundKey />
      </ul>
    </details>
  );
}

/** A piece of what is drawn, in 48 by 20 units, and its name. */
export function Swatch({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    <li class="swatch">
      <svg viewBox="0 0 48 20" width="48" height="20" aria-hidden="true">
        {children}
      </svg>{" "}
      <span>{name}</span>
    </li>
  );
}

/** The landing areas that a page draws. */
export function LandingKey({ levels }: { levels: readonly number[] }) {
  return (
    <>
      {LEVELS.filter(({ level }) => levels.includes(level))
        .reverse()
        .map(({ level, fill, dash }) => (
          <Swatch name={`${100 * level} % of flights land inside`}>
            <rect x="3" y="2" width="42" height="16" fill="var(--focus)" fill-opacity={2 * fill} stroke="var(--focus)" stroke-width="2" stroke-dasharray={dash[1] === 0 ? "none" : dash.map((one) => 2 * one).join(" ")} />
          </Swatch>
        ))}
    </>
  );
}

/** A line as the map draws it, and its dashed half where one leg is dashed. */
export function LineKey({ name, wide, down = false }: { name: string; wide: number; down?: boolean }) {
  return (
    <Swatch name={name}>
      <path d={down ? "M2 10H24" : "M2 10H46"} stroke="var(--ink)" stroke-width={wide} />
      {down && <path d="M24 10H46" stroke="var(--ink)" stroke-width={wide} stroke-dasharray="5 3" />}
    </Swatch>
  );
}

/** What lies below all flights. */
export function GroundKey() {
  const { zone, road, water } = TONES[look.value];
  return (
    <>
      <li class="swatch">
        <Icon symbol="site" /> launch site
      </li>
      <li class="swatch">
        <Icon symbol="town" /> town
      </li>
      <Swatch name="airspace, ruled; floor to ceiling beside its name">
        <path d="M3 5H45M3 10H45M3 15H45" stroke={zone.airspace} />
        <rect x="3" y="1" width="42" height="18" fill="none" stroke={zone.airspace} stroke-width="1.5" />
      </Swatch>
      <Swatch name="keep-out zone, teeth point in">
        <path d="M2 4H46M6 4l3 8 3-8M18 4l3 8 3-8M30 4l3 8 3-8" fill="none" stroke={zone.keepOut} stroke-width="2" />
      </Swatch>
      <Swatch name="permitted landing; dashed: permit area">
        <path d="M2 6H46" stroke={zone.permitted} stroke-width="2" />
        <path d="M2 14H46" stroke={zone.permitted} stroke-width="2.2" stroke-dasharray="9 3" />
      </Swatch>
      <Swatch name="roads: wide, main, small">
        <path d="M2 4H46" stroke={road[0]} stroke-width="4" />
        <path d="M2 10H46" stroke={road[1]} stroke-width="2.5" />
        <path d="M2 16H46" stroke={road[2]} stroke-width="1.5" />
      </Swatch>
      <Swatch name="railway">
        <path d="M2 10H46" stroke="var(--ink-2)" stroke-width="3" />
        <path d="M2 10H46" stroke="var(--sheet)" stroke-width="1.5" stroke-dasharray="5 5" />
      </Swatch>
      <Swatch name="power line">
        <path d="M2 10H46" stroke="var(--ink)" stroke-width="2" stroke-dasharray="0.1 5" stroke-linecap="round" />
      </Swatch>
      <Swatch name="water, stippled">
        <rect x="3" y="2" width="42" height="16" fill="none" stroke={water} />
        <path d="M8 7h28M11 13h28" stroke={water} stroke-width="2" stroke-dasharray="0.1 6" stroke-linecap="round" />
      </Swatch>
      <Swatch name="people: built-up area, hatched">
        <path d="M3 18L17 2M13 18L27 2M23 18L37 2M33 18L45 4" stroke="var(--ink-2)" />
        <rect x="3" y="2" width="42" height="16" fill="none" stroke="var(--ink-2)" />
      </Swatch>
      <Swatch name="edge of the map data">
        <path d="M2 10H46" stroke="var(--ink-2)" stroke-dasharray="6 5" />
      </Swatch>
    </>
  );
}
