import { render } from "preact";
import { enter } from "./api/session";
import { Shell } from "./shell/Shell";
import "./shell/fonts.css";
import "./shell/look.css";
import "./shell/shell.css";

const place = document.getElementById("desk");
if (place) {
  await enter();
  place.replaceChildren();
  render(<Shell />, place);
}
