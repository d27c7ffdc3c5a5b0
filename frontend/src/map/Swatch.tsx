// One line of the legend of a map: a piece of what is drawn, and its name.
import type { ComponentChildren } from "preact";

/** `children` are drawn in 48 by 20 units. */
export function Swatch({ name, children }: { name: ComponentChildren; children: ComponentChildren }) {
  return (
    <li class="swatch">
      <svg viewBox="0 0 48 20" width="48" height="20" aria-hidden="true">
        {children}
      </svg>{" "}
      <span>{name}</span>
    </li>
  );
}
