// What moves with the clock, drawn above the map and not in it: a map without a graphics card takes a tenth of a second
// for each picture, and a hand on the clock should not wait for that.
import { h, render } from "preact";
import type { MapLibre } from "../../map/FlightMap";
import { Icon } from "../../shell/Signs";
import { momentOf, type Way } from "../../map/moment";

const CLOUD = 300;

export interface Moving {
  show: (seconds: number, hue: string) => void;
  remove: () => void;
}

/** Dots for some of the flights and the balloon of the nominal one; they follow when the map moves. */
export function moving(map: MapLibre, ways: readonly Way[], nominal: Way): Moving {
  const step = Math.max(1, Math.floor(ways.length / CLOUD));
  const some = ways.filter((_, index) => index % step === 0);
  const over = document.createElement("div");
  over.className = "moving";
  const sheet = document.createElement("canvas");
  const balloon = document.createElement("span");
  render(h(Icon, { symbol: "balloon" }), balloon);
  over.append(sheet, balloon);
  map.getCanvasContainer().append(over);
  let [seconds, hue] = [Number.NaN, "#0072b2"];

  const draw = () => {
    const { clientWidth: width, clientHeight: height } = map.getContainer();
    const ratio = window.devicePixelRatio || 1;
    if (sheet.width !== Math.round(width * ratio) || sheet.height !== Math.round(height * ratio)) {
      sheet.width = Math.round(width * ratio);
      sheet.height = Math.round(height * ratio);
    }
    const pen = sheet.getContext("2d");
    if (!pen) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    pen.fillStyle = hue;
    pen.globalAlpha = 0.6;
    pen.beginPath();
    for (const way of some) {
      const place = momentOf(way, seconds);
      if (!place) continue;
      const { x, y } = map.project([place.longitude, place.latitude]);
      pen.moveTo(x + 2, y);
      pen.arc(x, y, 2, 0, 2 * Math.PI);
    }
    pen.fill();
    const own = momentOf(nominal, seconds);
    balloon.hidden = own === null;
    if (own) {
      const { x, y } = map.project([own.longitude, own.latitude]);
      balloon.style.transform = `translate(${x - 14}px, ${y - 14}px)`;
    }
  };
  map.on("move", draw);
  map.on("resize", draw);
  return {
    show: (at, color) => {
      [seconds, hue] = [at, color];
      draw();
    },
    remove: () => {
      map.off("move", draw);
      map.off("resize", draw);
      render(null, balloon);
      over.remove();
    },
  };
}
