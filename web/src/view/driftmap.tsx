// The predicted flight on the coast of the world, north up: track, landing area, areas given by the user.
import type { Chart } from "../api/types";
import { sheetOf } from "../chart/ground";
import { Plane } from "../model/ground";
import { GroundMap } from "./ground";

type Line = readonly (readonly [number, number])[] | null;

const width = 720, height = 440, edge = 34;

/** The first corner of an area that the map shows: where its name stands. */
const nameAt = (rings: readonly Line[] | null, inside: (x: number, y: number) => boolean): readonly [number, number] | undefined =>
  (rings ?? []).flatMap((r) => r ?? []).find(([x, y]) => inside(x, y));

export function DriftMap({ chart, words }: { readonly chart: Chart; readonly words: string }) {
  let [x0, x1, y0, y1] = [-1, 1, -1, 1];
  for (const list of [chart.ascent_km, chart.descent_km, chart.ellipse_95_km]) {
    for (const [x, y] of list ?? []) {
      x0 = Math.min(x0, x);
      x1 = Math.max(x1, x);
      y0 = Math.min(y0, y);
      y1 = Math.max(y1, y);
    }
  }
  // Areas near the flight belong on it; those far off would make it small.
  const reach = Math.max(x1 - x0, y1 - y0);
  for (const a of chart.areas ?? []) {
    for (const [x, y] of (a.rings_km ?? []).flatMap((r) => r ?? [])) {
      if (x < x0 - reach / 4 || x > x1 + reach / 4 || y < y0 - reach / 4 || y > y1 + reach / 4) continue;
      x0 = Math.min(x0, x);
      x1 = Math.max(x1, x);
      y0 = Math.min(y0, y);
      y1 = Math.max(y1, y);
    }
  }
  const k = Math.min((width - 2 * edge) / (x1 - x0), (height - 2 * edge) / (y1 - y0));
  const cx = (x0 + x1) / 2, cy = (y0 + y1) / 2;
  const px = (x: number): number => Math.round(10 * (width / 2 + (x - cx) * k)) / 10;
  const py = (y: number): number => Math.round(10 * (height / 2 - (y - cy) * k)) / 10;
  const points = (list: Line): string => (list ?? []).map(([x, y]) => `${px(x)},${py(y)}`).join(" ");
  const sheet = sheetOf(new Plane(chart.centre.latitude_deg, chart.centre.longitude_deg), width, height, cx, cy, k);
  const [bx, bY] = chart.burst_km, [lx, ly] = chart.landing_km;
  const inside = (x: number, y: number): boolean => px(x) > 0 && px(x) < width && py(y) > 12 && py(y) < height;
  const label = (x: number, y: number, text: string) => !inside(x, y) ? null : (
    <text x={px(x)} y={py(y) - 11} text-anchor={px(x) > width - 90 ? "end" : px(x) < 90 ? "start" : "middle"} class="place-name">{text}</text>
  );
  return (
    <svg class="driftmap" viewBox={`0 0 ${width} ${height}`} role="img" aria-label={words}>
      <GroundMap sheet={sheet} kept={[chart.centre.latitude_deg, chart.centre.longitude_deg, cx, cy, k].join()}>
      {(chart.areas ?? []).map((a, i) => (
        <g key={i} class="given-area">
          {(a.rings_km ?? []).map((ring, j) => (a.closed ? <polygon key={j} points={points(ring)} /> : <polyline key={j} points={points(ring)} />))}
          {nameAt(a.rings_km, inside) === undefined ? null : label(...(nameAt(a.rings_km, inside) as readonly [number, number]), a.name)}
        </g>
      ))}
      <polygon class="ellipse" points={points(chart.ellipse_95_km)} />
      <polygon class="ellipse inner" points={points(chart.ellipse_68_km)} />
      <polyline class="way-up" points={points(chart.ascent_km)} />
      <polyline class="way-down" points={points(chart.descent_km)} />
      <circle class="mark-release" cx={px(0)} cy={py(0)} r="6" />
      <circle class="mark-burst" cx={px(bx)} cy={py(bY)} r="4" />
      <circle class="mark-landing" cx={px(lx)} cy={py(ly)} r="6" />
      {label(0, 0, "release")}
      {Math.hypot(px(bx) - px(lx), py(bY) - py(ly)) > 60 && Math.hypot(px(bx) - px(0), py(bY) - py(0)) > 60 ? label(bx, bY, "burst") : null}
      {Math.hypot(px(lx) - px(0), py(ly) - py(0)) > 60 ? label(lx, ly, "landing") : null}
      </GroundMap>
    </svg>
  );
}
