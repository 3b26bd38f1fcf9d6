// The track over ground on the coast of the world and the lines of the globe, north up.
import type { Bench } from "../model/bench";
import { drawn } from "../model/flags";
import { Plane, type Ground } from "../model/ground";
import { curve } from "./diagram";
import { groundNote, paintFrame, paintGround, sheetOf, type Sheet } from "./ground";
import { Labels } from "./labels";
import { font, type Palette } from "./palette";

export interface Track {
  readonly plane: Plane; // round the first position after release
  readonly east: Float64Array; // km from there, NaN where there is no position
  readonly north: Float64Array;
}

const tracks = new WeakMap<object, Track>();

/** Kilometres east and north of the first position after release. */
export function trackOf(b: Bench): Track | undefined {
  const p = b.profile;
  const kept = tracks.get(p);
  if (kept !== undefined) return kept;
  const lat = p.get("latitude", "final"), lon = p.get("longitude", "final");
  if (lat === undefined || lon === undefined) return undefined;
  const flags = p.flags("latitude", "final");
  const usable = (i: number): boolean => Math.abs(lat[i] as number) <= 90 && Number.isFinite(lon[i]) && (flags === undefined || drawn(flags[i] as number));
  let zero = p.release;
  while (zero < p.rows && !usable(zero)) zero++;
  if (zero >= p.rows) return undefined;
  const plane = new Plane(lat[zero] as number, lon[zero] as number);
  const east = new Float64Array(p.rows).fill(NaN), north = new Float64Array(p.rows).fill(NaN);
  for (let i = 0; i < p.rows; i++) {
    if (!usable(i)) continue;
    plane.to(lat[i] as number, lon[i] as number);
    east[i] = plane.east;
    north[i] = plane.north;
  }
  const out = { plane, east, north };
  tracks.set(p, out);
  return out;
}

function place(t: Track, from: number, width: number, height: number): Sheet {
  let [e0, e1, n0, n1] = [-1, 1, -1, 1];
  for (let i = from; i < t.east.length; i++) {
    const e = t.east[i] as number, n = t.north[i] as number;
    if (e < e0) e0 = e;
    if (e > e1) e1 = e;
    if (n < n0) n0 = n;
    if (n > n1) n1 = n;
  }
  // Scale and north stand above, degrees below and to the left.
  const above = 66, below = 32;
  const k = Math.max(1e-6, Math.min((width - 84) / (e1 - e0), (height - above - below) / (n1 - n0)));
  return sheetOf(t.plane, width, height, (e0 + e1) / 2, (n0 + n1) / 2 + (above - below) / 2 / k, k);
}

export function drawTrack(ctx: CanvasRenderingContext2D, b: Bench, ground: Ground | "absent" | undefined, width: number, height: number, ink: Palette): void {
  ctx.font = font(11);
  const t = trackOf(b);
  if (t === undefined) {
    ctx.fillStyle = ink.panel;
    ctx.fillRect(0, 0, width, height);
    ctx.fillStyle = ink.quiet;
    ctx.textAlign = "center";
    ctx.fillText("no position in this flight", width / 2, height / 2);
    return;
  }
  const p = b.profile;
  const f = place(t, p.release, width, height);
  const seen = paintGround(ctx, f, ground, ink);
  ctx.font = font(11);
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
  const marks: { readonly x: number; readonly y: number; readonly text: string; readonly event: boolean }[] = [];
  const mark = (row: number, text: string, event: boolean): void => {
    const e = t.east[row], n = t.north[row];
    if (e !== undefined && n !== undefined && e === e) marks.push({ x: f.x(e), y: f.y(n), text, event });
  };
  const e = b.flight.events;
  const near = (row: number): number => {
    for (let d = 0; d < 200; d++) for (const i of [row - d, row + d]) if (t.east[i] === t.east[i] && i >= 0 && i < p.rows) return i;
    return row;
  };
  if (e.release.found) mark(near(e.release.row), "release", true);
  if (e.burst.found) mark(near(e.burst.row), "burst", true);
  if (e.landing.found) mark(near(e.landing.row), "landing", true);
  else if (p.rows > p.top) mark(near(p.rows - 1), "last position", true);
  if (z !== undefined) {
    let km = 5;
    for (let i = p.release; i < p.top; i++) {
      if (!((z[i] as number) >= km * 1000)) continue;
      mark(i, km % 10 === 0 ? `${km} km` : "", false);
      km += 5;
    }
  }
  const labels = new Labels(width, height);
  labels.keep(width - 22, 40, 26); // scale and north stand there
  ctx.lineWidth = 1.5;
  for (const m of marks) {
    ctx.beginPath();
    ctx.arc(m.x, m.y, m.event ? 4 : 2.5, 0, 7);
    if (m.event) ctx.stroke();
    else ctx.fill();
    labels.keep(m.x, m.y, m.event ? 5 : 3);
  }
  for (const m of marks) if (m.text !== "") labels.write(ctx, m.text, m.x, m.y, ink.panel, m.event);
  paintFrame(ctx, f, groundNote(ground, f, seen), ink);
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
