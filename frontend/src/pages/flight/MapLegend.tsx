// Every line, area and symbol of the map with its name; one tap away.
import { look } from "../../shell/Look";
import { Icon } from "../../shell/Signs";
import { TONES } from "../../map/ground";
import { LEVELS } from "../../map/landing";
import { Swatch } from "../../map/Swatch";

export function MapLegend() {
  const { zone, road, water } = TONES[look.value];
  return (
    <details class="map-legend">
      <summary class="button">Legend</summary>
      <ul>
        <Swatch name="nominal flight, up">
          <path d="M2 10H46" stroke="var(--ink)" stroke-width="2.5" />
        </Swatch>
        <Swatch name="nominal flight, down">
          <path d="M2 10H46" stroke="var(--ink)" stroke-width="2.5" stroke-dasharray="7 4" />
        </Swatch>
        <Swatch name="one of many flights; down dashed">
          <path d="M2 6H46M2 14H24" stroke="var(--ink)" stroke-opacity="0.5" />
          <path d="M24 14H46" stroke="var(--ink)" stroke-opacity="0.5" stroke-dasharray="4 3" />
        </Swatch>
        {[...LEVELS].reverse().map(({ level, fill, dash }) => (
          <Swatch name={`${100 * level} % of flights land inside`}>
            <rect x="3" y="2" width="42" height="16" fill="var(--focus)" fill-opacity={2 * fill} stroke="var(--focus)" stroke-width="2" stroke-dasharray={dash[1] === 0 ? "none" : dash.map((one) => 2 * one).join(" ")} />
          </Swatch>
        ))}
        <li>
          <Icon symbol="balloon" /> balloon of the nominal flight at the moment of the clock
        </li>
        <Swatch name="other flights at that moment">
          <circle cx="14" cy="8" r="2.5" fill="var(--focus)" />
          <circle cx="26" cy="13" r="2.5" fill="var(--focus)" />
          <circle cx="36" cy="6" r="2.5" fill="var(--focus)" />
        </Swatch>
        <Swatch name="3-D: curtain under the nominal flight, blue on the way up">
          <path d="M4 18L24 2V18z" fill="var(--focus)" fill-opacity="0.6" />
          <path d="M24 2L44 18H24z" fill="var(--ink)" fill-opacity="0.6" />
        </Swatch>
        <li>
          <Icon symbol="site" /> launch site
        </li>
        <li>
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
      </ul>
    </details>
  );
}
