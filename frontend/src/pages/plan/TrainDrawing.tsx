// The flight train to scale: balloon at release and at burst, lines, canopy, boxes, and a person beside it.
import type { Schemas } from "../../api/client";
import { said, system } from "../../shell/units";

type Train = Schemas["TrainAnswer"];
type Piece = Schemas["PieceAnswer"];

const HEIGHT = 640;
const WIDTH = 340;
const TOP = 12;
const LABEL_STEP = 34;

interface Placed {
  piece: Piece;
  /** Metres below the neck. */
  from: number;
  to: number;
}

/** Every piece with where it hangs: a line takes its length, a box its largest edge, a folded canopy half its width. */
export function placed(pieces: readonly Piece[]): Placed[] {
  let depth = 0;
  return pieces.map((piece) => {
    const from = depth;
    depth += extent(piece);
    return { piece, from, to: depth };
  });
}

function extent(piece: Piece): number {
  if (piece.kind === "line") return piece.length_m ?? 0;
  if (piece.kind === "canopy") return Math.sqrt((piece.cloth_m2 ?? 0) / Math.PI);
  return Math.max(...(piece.edges_m ?? [0]));
}

/** Places of labels, each as near to where it belongs as the one above it allows. */
export function apart(wanted: readonly number[], step: number, most: number): number[] {
  const places: number[] = [];
  for (const want of wanted) places.push(Math.max(want, (places.at(-1) ?? -Infinity) + step));
  let limit = most;
  for (let index = places.length - 1; index >= 0; index--) {
    places[index] = Math.min(places[index] ?? 0, limit);
    limit = (places[index] ?? 0) - step;
  }
  return places;
}

export function TrainDrawing({ train }: { train: Train }) {
  const pieces = placed(train.pieces);
  const depth = pieces.at(-1)?.to ?? 0;
  const release = train.release_diameter_m ?? train.burst_diameter_m;
  const widest = Math.max(release, train.burst_diameter_m);
  const scale = Math.min((HEIGHT - TOP - 56) / (widest + depth + 0.5), 170 / widest);
  const neck = TOP + widest * scale;
  const x = Math.max(70, (widest / 2) * scale + 8);
  const y = (metres: number) => neck + metres * scale;
  const foot = y(depth);
  const label = Math.max(x + 36, x + (widest / 2) * scale * 0.25 + 36);
  const places = apart(
    pieces.map(({ from, to }) => y((from + to) / 2)),
    LABEL_STEP,
    HEIGHT - 60,
  );
  return (
    <figure class="train">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={`Flight train, ${said("diameter", depth)} long, ${said("mass", train.train_mass_kg)} below the neck`}>
        <circle cx={x} cy={neck - (train.burst_diameter_m / 2) * scale} r={(train.burst_diameter_m / 2) * scale} fill="none" stroke="var(--edge)" stroke-dasharray="5 4" />
        <circle cx={x} cy={neck - (release / 2) * scale} r={(release / 2) * scale} fill="var(--shade)" stroke="var(--ink)" stroke-width="2" />
        <text x={x + (widest / 2) * scale + 8} y={TOP + 26} class="small-text">
          <tspan x={Math.min(x + (widest / 2) * scale + 8, WIDTH - 128)}>at burst {said("diameter", train.burst_diameter_m)}</tspan>
          <tspan x={Math.min(x + (widest / 2) * scale + 8, WIDTH - 128)} dy="18">
            {train.release_diameter_m === null ? "at release –" : `at release ${said("diameter", train.release_diameter_m)}`}
          </tspan>
          <tspan x={Math.min(x + (widest / 2) * scale + 8, WIDTH - 128)} dy="18">
            empty {said("mass", train.balloon_mass_kg)}
          </tspan>
        </text>
        {pieces.map((one, index) => (
          <g>
            <Shape one={one} x={x} y={y} scale={scale} />
            <path d={`M${x + 10} ${y((one.from + one.to) / 2)}L${label - 6} ${places[index] ?? 0}`} stroke="var(--rule)" fill="none" />
            <text x={label} y={(places[index] ?? 0) - 2} class="small-text" font-weight={one.piece.kind === "line" ? 400 : 600}>
              {one.piece.name}
            </text>
            <text x={label} y={(places[index] ?? 0) + 13} class="small-text quiet-text">
              {words(one.piece)}
            </text>
          </g>
        ))}
        <Person x={Math.max(24, x - 44)} foot={foot} scale={scale} />
        <Bar scale={scale} />
      </svg>
      <figcaption class="small">
        To scale. {said("diameter", train.length_m)} of line, {said("mass", train.train_mass_kg)} below the neck.
        {train.cut_downs.length > 0 && ` Cut-down: ${train.cut_downs.join(", ")}.`}
      </figcaption>
    </figure>
  );
}

function Shape({ one, x, y, scale }: { one: Placed; x: number; y: (metres: number) => number; scale: number }) {
  const [from, to] = [y(one.from), y(one.to)];
  if (one.piece.kind === "line") return <path d={`M${x} ${from}V${to}`} stroke="var(--ink)" stroke-width="1.5" />;
  if (one.piece.kind === "canopy") {
    const half = Math.max(3, 0.18 * (to - from));
    return <path d={`M${x} ${from}l${half} ${0.4 * (to - from)}L${x} ${to}l${-half} ${-0.6 * (to - from)}z`} fill="var(--okabe-orange)" stroke="var(--ink)" />;
  }
  const edges = [...(one.piece.edges_m ?? [])].sort((a, b) => b - a);
  const width = Math.max(3, (edges[1] ?? edges[0] ?? 0) * scale);
  return <rect x={x - width / 2} y={from} width={width} height={Math.max(3, to - from)} fill="var(--ink)" />;
}

function words(piece: Piece): string {
  const mass = said("mass", piece.mass_kg);
  if (piece.kind === "line") return `${said("diameter", piece.length_m)} · ${mass}${piece.breaking_force_n === null ? " · parts at –" : ` · parts at ${said("force", piece.breaking_force_n)}`}`;
  if (piece.kind === "canopy") return `${mass} · ${piece.cloth_m2} m² of cloth`;
  const edge = (metres: number) => (system.value === "metric" ? (metres * 100).toFixed(0) : (metres / 0.0254).toFixed(1));
  return `${mass} · ${(piece.edges_m ?? []).map(edge).join(" × ")} ${system.value === "metric" ? "cm" : "in"}`;
}

/** 1.75 m tall, standing where the train ends. */
function Person({ x, foot, scale }: { x: number; foot: number; scale: number }) {
  const tall = 1.75 * scale;
  const head = foot - 0.92 * tall;
  return (
    <g stroke="var(--ink-2)" stroke-width="1.5" fill="none">
      <title>A person of 1.75 m</title>
      <circle cx={x} cy={head} r={0.075 * tall} fill="var(--ink-2)" stroke="none" />
      <path d={`M${x} ${head + 0.08 * tall}V${foot - 0.45 * tall}M${x} ${foot - 0.45 * tall}L${x - 0.11 * tall} ${foot}M${x} ${foot - 0.45 * tall}L${x + 0.11 * tall} ${foot}M${x - 0.15 * tall} ${foot - 0.5 * tall}L${x} ${head + 0.14 * tall}L${x + 0.15 * tall} ${foot - 0.5 * tall}`} />
      <path d={`M${x - 20} ${foot}h44`} stroke="var(--edge)" />
    </g>
  );
}

function Bar({ scale }: { scale: number }) {
  const unit = system.value === "metric" ? 1 : 0.3048;
  const length = [1, 2, 5, 10, 20, 50].filter((one) => one * unit * scale < 130).at(-1) ?? 1;
  const width = length * unit * scale;
  return (
    <g>
      <path d={`M${WIDTH - 12 - width} ${HEIGHT - 18}v6h${width}v-6`} fill="none" stroke="var(--ink)" />
      <text x={WIDTH - 12 - width / 2} y={HEIGHT - 22} text-anchor="middle" class="small-text">
        {length} {system.value === "metric" ? "m" : "ft"}
      </text>
    </g>
  );
}
