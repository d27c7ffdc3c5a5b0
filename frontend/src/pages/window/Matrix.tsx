// The launch matrix: times run across, sites and fills down. A narrow screen shows one row of it as a list.
import { useEffect, useState } from "preact/hooks";
import type { Schemas } from "../../api/client";
import { zone } from "../../shell/clock";
import { go } from "../../shell/route";
import { STATE_PATHS } from "../../shell/Signs";
import { saidShare, saidTime } from "../../shell/units";
import { choiceOf, type Choice, same } from "./choice";

type Table = Schemas["WindowTable"];
type One = Schemas["CellAnswer"];

interface Row {
  site: string;
  fill: string;
  balloon: string;
  cells: One[];
}

export function Matrix({ table, choice }: { table: Table; choice: Choice }) {
  const narrow = useNarrow();
  const rows = rowsOf(table);
  return narrow ? <List table={table} rows={rows} choice={choice} /> : <Grid table={table} rows={rows} choice={choice} />;
}

function Grid({ table, rows, choice }: { table: Table; rows: Row[]; choice: Choice }) {
  const planned = table.cells[table.planned];
  return (
    <div class="matrix-place">
      <table class="matrix" onKeyDown={walk}>
        <caption class="small">
          In each cell: the answer, what decides it, and the chance to reach the wanted height. Local time above, UTC below.
        </caption>
        <thead>
          <tr>
            <th scope="col">Site, fill{table.balloons.length > 1 && ", balloon"}</th>
            {table.releases_utc.map((time) => (
              <th scope="col" class={time === planned?.release_utc ? "planned" : ""}>
                {saidTime(Date.parse(time), zone.value)}
                <span class="smallest">{saidTime(Date.parse(time))}</span>
                {time === planned?.release_utc && <span class="smallest">planned</span>}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, index) => (
            <tr class={row.site !== rows[index - 1]?.site ? "new-site" : ""}>
              <th scope="row">
                {row.site} · {row.fill}
                {table.balloons.length > 1 && ` · ${row.balloon}`}
              </th>
              {row.cells.map((cell) => (
                <td>
                  <CellButton cell={cell} open={same(choiceOf(cell), choice)} />
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function List({ table, rows, choice }: { table: Table; rows: Row[]; choice: Choice }) {
  const own = rows.findIndex((row) => row.cells.some((cell) => (choice.site ? same(choiceOf(cell), choice) : cell === table.cells[table.best])));
  const [at, setAt] = useState(Math.max(0, own));
  const row = rows[at];
  return (
    <div class="matrix-list">
      <label>
        <span class="small">Site and fill</span>
        <select value={String(at)} onChange={(event) => setAt(Number(event.currentTarget.value))}>
          {rows.map((one, index) => (
            <option value={String(index)}>
              {one.site}, {one.fill}
              {table.balloons.length > 1 && `, ${one.balloon}`}: {one.cells.filter((cell) => cell.state === "go").length} go
            </option>
          ))}
        </select>
      </label>
      <ul>
        {row?.cells.map((cell) => (
          <li>
            <b>{saidTime(Date.parse(cell.release_utc), zone.value)}</b>
            <CellButton cell={cell} open={same(choiceOf(cell), choice)} />
          </li>
        ))}
      </ul>
    </div>
  );
}

function CellButton({ cell, open }: { cell: One; open: boolean }) {
  const reach = cell.reaches === null ? "not flown" : saidShare(cell.reaches.p);
  return (
    <button
      class={`cell cell-${cell.state}`}
      aria-pressed={open}
      data-state={cell.state}
      title={cell.headline}
      onClick={() => go("window", choiceOf(cell))}
    >
      <span class="visually-hidden">
        {cell.site}, {cell.fill}, {saidTime(Date.parse(cell.release_utc), zone.value)}:
      </span>
      <span class={`sign sign-${cell.state}`}>
        <svg viewBox="0 0 20 20" aria-hidden="true">
          {STATE_PATHS[cell.state]}
        </svg>
        {cell.state}
      </span>
      <span class="cell-why">{cell.reason.replace(/ (?=%)/g, "\u00a0")}</span>
      <span class="cell-chance">
        {reach}
        <span class="visually-hidden"> to reach the wanted height</span>
      </span>
    </button>
  );
}

/** The arrow keys go from cell to cell. */
function walk(event: KeyboardEvent): void {
  const step = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] }[event.key];
  const cell = (event.target as Element).closest("td");
  const row = cell?.closest("tr");
  if (!step || !cell || !row) return;
  const [down = 0, across = 0] = step;
  const rows = [...(row.parentElement?.children ?? [])];
  const next = rows[rows.indexOf(row) + down]?.children[cell.cellIndex + across]?.querySelector("button");
  if (next) {
    event.preventDefault();
    next.focus();
  }
}

function rowsOf(table: Table): Row[] {
  return table.sites.flatMap((site) =>
    table.balloons.flatMap((balloon) =>
      table.fills.map((fill) => ({ site, fill, balloon, cells: table.cells.filter((cell) => cell.site === site && cell.fill === fill && cell.balloon === balloon) })),
    ),
  );
}

export function useNarrow(): boolean {
  const [narrow, setNarrow] = useState(() => matchMedia("(max-width: 760px)").matches);
  useEffect(() => {
    const query = matchMedia("(max-width: 760px)");
    const change = () => setNarrow(query.matches);
    query.addEventListener("change", change);
    return () => query.removeEventListener("change", change);
  }, []);
  return narrow;
}
