// Every line, area and symbol of the map with its name; one tap away.
import { GroundKey, LandingKey, Swatch } from "../../map/MapKey";
import { Icon } from "../../shell/Signs";

export function MapLegend() {
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
        <LandingKey levels={[0.5, 0.9, 0.95]} />
        <li class="swatch">
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
        <GroundKey />
      </ul>
    </details>
  );
}
