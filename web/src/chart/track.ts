// The track over ground on a grid of kilometres round the release point, north up.
import type { Bench } from "../model/bench";
import { drawn } from "../model/flags";
import { multiples, step } from "../model/ticks";
import { format } from "../model/units";
import { curve } from "./diagram";
import { font, type Palette } from "./palette";

export interface Track {
  readonly east: Float64Array; // km from the release point, NaN where there is no position
  readonly north: Float64Array;
}

const tracks = new WeakMap<object, Track>();

/** Kilometres east and north of the first position after release (a plane is right to 1 % within 200 km). */
export function trackOf(b: Bench): Track | undefined {
  const p = b.profile;
  const kept = tracks.get(p);
  if (kept !== undefined) return kept;
  const lat = p.get("latitude", "final"), lon = p.get("longitude", "final");
  if (lat === undefined || lon === undefined) return undefined;
  const flags = p.flags("latitude", "final");
  let zero = p.release;
  while (zero < p.rows && lat[zero] !== lat[zero]) zero++;
  if (zero >= p.rows) return undefined;
  const lat0 = lat[zero] as number, lon0 = lon[zero] as number;
  const east = new Float64Array(p.rows).fill(NaN), north = new Float64Array(p.rows).fill(NaN);
  const perDegree = 111.2;
  for (let i = 0; i < p.rows; i++) {
    if (flags !== undefined && !drawn(flags[i] as number)) continue;
    const away = (((lon[i] as number) - lon0 + 540) % 360) - 180; // over the date line, too
    east[i] = away * perDegree * Math.cos((((lat[i] as number) + lat0) / 2) * (Math.PI / 180));
    north[i] = ((lat[i] as number) - lat0) * perDegree;
  }
  const out = { east, north };
  tracks.set(p, out);
  return out;
}

interface Place {
  readonly x: (km: number) => number;
  readonly y: (km: number) => number;
  readonly k: number;
  readonly lo: readonly [number, number];
  readonly hi: readonly [number, number];
}

function place(t: Track, from: number, width: number, height: number): Place {
  let [e0, e1, n0, n1] = [-1, 1, -1, 1];
  for (let i = from; i < t.east.length; i++) {
    const e = t.east[i] as number, n = t.north[i] as number;
    if (e < e0) e0 = e;
    if (e > e1) e1 = e;
    if (n < n0) n0 = n;
    if (n > n1) n1 = n;
  }
  const k = Math.min((width - 56) / (e1 - e0), (height - 48) / (n1 - n0));
  const ce = (e0 + e1) / 2, cn = (n0 + n1) / 2;
  return { x: (e) => width / 2 + (e - ce) * k, y: (n) => height / 2 - (n - cn) * k, k,
    lo: [ce - width / 2 / k, cn - height / 2 / k], hi: [ce + width / 2 / k, cn + height / 2 / k] };
}

export function drawTrack(ctx: CanvasRenderingContext2D, b: Bench, width: number, height: number, ink: Palette): void {
  ctx.fillStyle = ink.panel;
  ctx.fillRect(0, 0, width, height);
  ctx.font = font(11);
  const t = trackOf(b);
  if (t === undefined) {
    ctx.fillStyle = ink.quiet;
    ctx.textAlign = "center";
    ctx.fillText("no position in this flight", width / 2, height / 2);
    return;
  }
  const p = b.profile;
  const f = place(t, p.release, width, height);
  const by = step(Math.min(width, height) / f.k, 5);
  ctx.strokeStyle = ink.grid;
  ctx.fillStyle = ink.quiet;
  ctx.lineWidth = 1;
  ctx.textBaseline = "bottom";
  ctx.textAlign = "left";
  ctx.beginPath();
  const east = multiples(f.lo[0], f.hi[0], by), north = multiples(f.lo[1], f.hi[1], by);
  for (const e of east) {
    ctx.moveTo(Math.round(f.x(e)) + 0.5, 0);
    ctx.lineTo(Math.round(f.x(e)) + 0.5, height);
  }
  for (const n of north) {
    ctx.moveTo(0, Math.round(f.y(n)) + 0.5);
    ctx.lineTo(width, Math.round(f.y(n)) + 0.5);
  }
  ctx.stroke();
  for (const e of east) if (f.x(e) < width - 24 && f.x(e) > 30) ctx.fillText(format(e, by < 1 ? 1 : 0), f.x(e) + 3, height - 2);
  for (const n of north) if (f.y(n) > 14 && f.y(n) < height - 14) ctx.fillText(format(n, by < 1 ? 1 : 0), 3, f.y(n) - 1);
  const part = (from: number, to: number): (readonly [number, number] | undefined)[] => {
    const out: (readonly [number, number] | undefined)[] = [];
    const every = Math.max(1, Math.floor((to - from) / 2000));
    for (let i = from; i < to; i += every) out.push(t.east[i] === t.east[i] ? [f.x(t.east[i] as number), f.y(t.north[i] as number)] : undefined);
    return out;
  };
  curve(ctx, part(p.top, p.rows), ink.raw, [3, 3], 1.4);
  curve(ctx, part(p.release, p.top), ink.ink, [], 1.8);
  const z = p.get("height_msl", "final");
  ctx.fillStyle = ctx.strokeStyle = ink.ink;
  ctx.textBaseline = "middle";
  const mark = (row: number, text: string, open: boolean): void => {
    const e = t.east[row], n = t.north[row];
    if (e === undefined || n === undefined || e !== e) return;
    ctx.beginPath();
    ctx.arc(f.x(e), f.y(n), open ? 4 : 2.5, 0, 7);
    ctx.lineWidth = 1.5;
    if (open) ctx.stroke();
    else ctx.fill();
    const right = f.x(e) > width - 70;
    ctx.textAlign = right ? "right" : "left";
    ctx.fillText(text, f.x(e) + (right ? -8 : 8), f.y(n) - 7);
  };
  if (z !== undefined) {
    let km = 5;
    for (let i = p.release; i < p.top; i++) {
      if (!((z[i] as number) >= km * 1000)) continue;
      mark(i, km % 10 === 0 ? `${km} km` : "", false);
      km += 5;
    }
  }
  const e = b.flight.events;
  const near = (row: number): number => {
    for (let d = 0; d < 200; d++) for (const i of [row - d, row + d]) if (t.east[i] === t.east[i] && i >= 0 && i < p.rows) return i;
    return row;
  };
  if (e.release.found) mark(near(e.release.row), "release", true);
  if (e.burst.found) mark(near(e.burst.row), "burst", true);
  if (e.landing.found) mark(near(e.landing.row), "landing", true);
  else if (p.rows > p.top) mark(near(p.rows - 1), "last position", true);
}

export function markTrack(ctx: CanvasRenderingContext2D, b: Bench, width: number, height: number, ink: Palette): void {
  const t = trackOf(b), row = b.cursor;
  if (t === undefined || row === undefined) return;
  const e = t.east[row], n = t.north[row];
  if (e === undefined || n === undefined || e !== e) return;
  const f = place(t, b.profile.release, width, height);
  ctx.strokeStyle = ink.ink;
  ctx.lineWidth = 1;
  ctx.beginPath();
  ctx.moveTo(f.x(e) - 9, f.y(n));
  ctx.lineTo(f.x(e) + 9, f.y(n));
  ctx.moveTo(f.x(e), f.y(n) - 9);
  ctx.lineTo(f.x(e), f.y(n) + 9);
  ctx.stroke();
}
