// Symbols and patterns as pictures for the map, drawn from the same shapes as everywhere else.
import { h, render } from "preact";
import type { Map as MapLibre } from "maplibre-gl";
import type { Look } from "../shell/Look";
import { SYMBOL_PATHS, type Symbol } from "../shell/Signs";
import { TONES } from "./ground";

const RATIO = 2;

/** Every picture that layers may name: symbols, `tooth`, and the patterns `hatch`, `stipple` and `ruled`. */
export async function addImages(map: MapLibre, look: Look): Promise<void> {
  const tone = TONES[look];
  await Promise.all((Object.keys(SYMBOL_PATHS) as Symbol[]).map(async (name) => put(map, name, await symbolPicture(name, tone.ink, tone.paper))));
  put(map, "hatch", pattern(12, (pen) => stroke(pen, tone.quiet, [[-2, 14, 14, -2], [-8, 8, 8, -8], [4, 20, 20, 4]])));
  put(map, "stipple", pattern(10, (pen) => dots(pen, tone.water, [[2.5, 2.5], [7.5, 7.5]])));
  put(map, "ruled", pattern(10, (pen) => stroke(pen, tone.zone.airspace, [[0, 5, 10, 5]])));
  put(
    map,
    "tooth",
    pattern(16, (pen) => {
      pen.fillStyle = tone.zone.keepOut;
      pen.beginPath();
      pen.moveTo(4, 8);
      pen.lineTo(12, 8);
      pen.lineTo(8, 15);
      pen.fill();
    }),
  );
}

function put(map: MapLibre, name: string, picture: ImageData): void {
  if (map.hasImage(name)) map.removeImage(name);
  map.addImage(name, picture, { pixelRatio: RATIO });
}

async function symbolPicture(name: Symbol, ink: string, paper: string): Promise<ImageData> {
  const holder = document.createElement("div");
  const size = 24 * RATIO;
  const shape = (color: string, halo: boolean) =>
    h("g", { style: { color }, ...(halo ? { stroke: paper, "stroke-width": 5, "stroke-linejoin": "round" } : {}) }, SYMBOL_PATHS[name]);
  render(h("svg", { xmlns: "http://www.w3.org/2000/svg", viewBox: "0 0 24 24", width: size, height: size }, [shape(paper, true), shape(ink, false)]), holder);
  const text = new XMLSerializer().serializeToString(holder.firstElementChild as Element);
  render(null, holder);
  const image = new Image(size, size);
  image.src = `data:image/svg+xml;utf8,${encodeURIComponent(text)}`;
  await image.decode();
  const pen = canvas(size);
  pen.drawImage(image, 0, 0, size, size);
  return pen.getImageData(0, 0, size, size);
}

function pattern(side: number, draw: (pen: CanvasRenderingContext2D) => void): ImageData {
  const pen = canvas(side * RATIO);
  pen.scale(RATIO, RATIO);
  draw(pen);
  return pen.getImageData(0, 0, side * RATIO, side * RATIO);
}

function canvas(side: number): CanvasRenderingContext2D {
  const place = document.createElement("canvas");
  place.width = place.height = side;
  const pen = place.getContext("2d", { willReadFrequently: true });
  if (!pen) throw new Error("this browser draws no canvas");
  return pen;
}

function stroke(pen: CanvasRenderingContext2D, color: string, lines: readonly (readonly [number, number, number, number])[]): void {
  pen.strokeStyle = color;
  pen.lineWidth = 1.2;
  pen.beginPath();
  for (const [x1, y1, x2, y2] of lines) {
    pen.moveTo(x1, y1);
    pen.lineTo(x2, y2);
  }
  pen.stroke();
}

function dots(pen: CanvasRenderingContext2D, color: string, places: readonly (readonly [number, number])[]): void {
  pen.fillStyle = color;
  for (const [x, y] of places) {
    pen.beginPath();
    pen.arc(x, y, 0.9, 0, 2 * Math.PI);
    pen.fill();
  }
}
