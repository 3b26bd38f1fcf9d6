// Draws the linked panels and the lanes. Nothing here fetches or keeps state but caches
// that follow from the columns.
import type { Finding } from "../api/types";
import type { Bench } from "../model/bench";
import { heatingOf, measuringFlags, phasesDrawn } from "../model/heating";
import { lanes, laneOf, type Line } from "../model/panels";
import type { Profile } from "../model/profile";
import { decimalsOf, multiples, step } from "../model/ticks";
import { band, emit, emitBand, Points, scaleOf, thin, trace, windowOf, type Band, type Curve, type Scale, type Thinned, type Window } from "../model/trace";
import { format } from "../model/units";
import { beside, ticks, type Tick } from "./axis";
import type { Layout, Place } from "./layout";
import { font, type Palette } from "./palette";

const points = new Points();
const edges = [new Points(), new Points()];

const windows = new WeakMap<Float64Array, Window>(); // of the axis drawn last
interface Kept {
  readonly window: Window;
  readonly curve: Thinned | undefined;
  readonly band: Band | undefined;
}
const keptCurves = new WeakMap<object, Map<object | undefined, Kept>>();

/** A curve thinned for a window, anew only when zoom or samples have changed. */
function kept(c: Curve, w: Window, spread: ArrayLike<number> | undefined): Kept {
  let byFlags = keptCurves.get(c.values);
  if (byFlags === undefined) keptCurves.set(c.values, (byFlags = new Map()));
  const key = spread === undefined ? (c.flags as object | undefined) : (spread as unknown as object);
  let k = byFlags.get(key);
  if (k?.window === w) return k;
  if (byFlags.size > 8) byFlags.clear(); // flags of decisions that were only tried
  k = spread === undefined ? { window: w, curve: thin(c, w), band: undefined } : { window: w, curve: undefined, band: band(c, spread, w) };
  byFlags.set(key, k);
  return k;
}

export const yScale = (b: Bench, l: Layout): Scale => scaleOf(b.lo, b.hi, l.bottom, l.top);

export function drawBench(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, ink: Palette, perPixel: number): void {
  ctx.fillStyle = ink.paper;
  ctx.fillRect(0, 0, l.width, l.height);
  const y = yScale(b, l);
  const along = b.along(), [from, to] = b.shown();
  const w = windowOf(windows.get(along), along, y.k, perPixel, from, to, b.lo, b.hi);
  windows.set(along, w);
  const marks = ticks(b, l.bottom - l.top);
  drawGutter(ctx, b, l, ink, y, marks);
  for (const p of l.places) {
    ctx.fillStyle = ink.panel;
    ctx.fillRect(p.x, l.top, p.width, l.bottom - l.top);
    ctx.strokeStyle = ink.grid;
    ctx.lineWidth = 1;
    ctx.beginPath();
    for (const t of marks) {
      const py = Math.round(t.place * y.k + y.m) + 0.5;
      ctx.moveTo(p.x, py);
      ctx.lineTo(p.x + p.width, py);
    }
    ctx.stroke();
    drawPanel(ctx, b, l, p, ink, y, perPixel, w);
  }
  drawLanes(ctx, b, l, ink, y);
}

function drawGutter(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, ink: Palette, y: Scale, marks: readonly Tick[]): void {
  ctx.textBaseline = "middle";
  ctx.font = font(11);
  ctx.textAlign = "right";
  ctx.fillStyle = ink.ink;
  ctx.strokeStyle = ink.frame;
  ctx.lineWidth = 1;
  for (const t of marks) {
    const py = t.place * y.k + y.m;
    if (py < l.top + 5 || py > l.bottom - 4) continue;
    ctx.fillText(t.label, l.gutter - 8, py);
    ctx.beginPath();
    ctx.moveTo(l.gutter - 5, Math.round(py) + 0.5);
    ctx.lineTo(l.gutter, Math.round(py) + 0.5);
    ctx.stroke();
  }
  ctx.fillStyle = ink.quiet;
  for (const t of beside(b, l.bottom - l.top)) {
    const py = t.place * y.k + y.m;
    if (py < l.top + 5 || py > l.bottom - 4) continue;
    ctx.fillText(t.label, 32, py);
    ctx.beginPath();
    ctx.moveTo(35, Math.round(py) + 0.5);
    ctx.lineTo(40, Math.round(py) + 0.5);
    ctx.stroke();
  }
}

export const xScale = (b: Bench, p: Place): { scale: Scale; lo: number; hi: number } => {
  const [lo, hi] = b.range(p.panel);
  return { scale: scaleOf(lo, hi, p.x + 3, p.x + p.width - 3), lo, hi };
};

function drawPanel(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, p: Place, ink: Palette, y: Scale, perPixel: number, w: Window): void {
  const { scale: x, lo, hi } = xScale(b, p);
  const by = p.panel.id === "direction" && hi - lo > 150 ? (p.width < 110 ? 180 : 90) : step(hi - lo, Math.max(3, Math.floor(p.width / 36)));
  const marks = multiples(lo, hi, by);
  ctx.strokeStyle = ink.grid;
  ctx.lineWidth = 1;
  ctx.beginPath();
  for (const v of marks) {
    const px = Math.round(v * x.k + x.m) + 0.5;
    ctx.moveTo(px, l.top);
    ctx.lineTo(px, l.bottom);
  }
  ctx.stroke();
  ctx.fillStyle = ink.quiet;
  ctx.font = font(11);
  ctx.textBaseline = "top";
  ctx.textAlign = "center";
  let free = -Infinity;
  for (const v of marks) {
    const text = format(v, decimalsOf(by));
    const half = ctx.measureText(text).width / 2;
    const px = Math.min(Math.max(v * x.k + x.m, p.x + half), p.x + p.width - half);
    if (px - half < free) continue;
    ctx.fillText(text, px, l.bottom + 5);
    free = px + half + 6;
  }

  ctx.save();
  ctx.beginPath();
  ctx.rect(p.x, l.top, p.width, l.bottom - l.top);
  ctx.clip();
  if (p.panel.zero === true && lo < 0 && hi > 0) {
    ctx.strokeStyle = ink.frame;
    ctx.beginPath();
    ctx.moveTo(Math.round(x.m) + 0.5, l.top);
    ctx.lineTo(Math.round(x.m) + 0.5, l.bottom);
    ctx.stroke();
  }
  drawWithheld(ctx, b, l, p, ink, y);
  if (b.other !== undefined) for (const line of p.panel.lines) if (line.part !== "raw" && !line.ink.startsWith("sensor") && line.ink !== "ice") drawOther(ctx, b, b.other.profile, line, l, x, y, ink, perPixel);
  const phases = p.panel.id === "humidity" && phasesDrawn(b);
  for (const line of p.panel.lines) {
    if (line.part === "raw" && !b.raw) continue;
    drawLine(ctx, b.profile, line, l, x, y, ink, w, phases);
  }
  if (b.after !== undefined) drawAfter(ctx, b, b.after, l, p, x, y, ink, perPixel);
  if (p.panel.id === "humidity") drawHeating(ctx, b, l, p, ink, y);
  ctx.restore();
  ctx.strokeStyle = ink.frame;
  ctx.lineWidth = 1;
  ctx.strokeRect(p.x + 0.5, l.top + 0.5, p.width - 1, l.bottom - l.top - 1);
}

/** The flags a line is drawn by; a raw line has none of its own, and a heated sensor's are those of model/heating.ts. */
function flagsOf(profile: Profile, line: Line, phases: boolean): Uint8Array | undefined {
  const flags = line.part === "final" ? profile.flags(line.name, "final") : undefined;
  if (line.name !== "humidity_a" && line.name !== "humidity_b") return flags;
  if (line.part === "raw" && phases) return undefined;
  return measuringFlags(profile, line.name, line.part === "final") ?? flags;
}

/**
 * Strokes points; dots draws each as a small square instead. Where a pixel of the page is
 * one of the screen, lines up to 2 wide are two of the thinnest lines side by side: without
 * a graphics processor that takes a third of the time of a wide line.
 */
function stroke(ctx: CanvasRenderingContext2D, out: Points, dots: boolean, width: number, perPixel: number): void {
  const d = out.data, n = out.length;
  if (dots) {
    for (let i = 0; i < n; i += 2) if (d[i] === d[i]) ctx.fillRect((d[i] as number) - 0.75, (d[i + 1] as number) - 0.75, 1.5, 1.5);
    return;
  }
  const twice = perPixel === 1 && width > 1 && width <= 2;
  const aside = twice ? (width - 1) / 2 : 0;
  ctx.lineWidth = twice ? 1 : width;
  ctx.beginPath();
  for (let dx = -aside; dx <= aside; dx += 2 * aside) {
    let pen = false;
    for (let i = 0; i < n; i += 2) {
      const x = d[i] as number;
      if (x !== x) {
        pen = false;
        continue;
      }
      if (pen) ctx.lineTo(x + dx, d[i + 1] as number);
      else ctx.moveTo(x + dx, d[i + 1] as number);
      pen = true;
    }
    if (!twice) break;
  }
  ctx.stroke();
}

function drawLine(ctx: CanvasRenderingContext2D, profile: Profile, line: Line, l: Layout, x: Scale, y: Scale, ink: Palette, w: Window, phases: boolean): void {
  const values = profile.get(line.name, line.part);
  if (values === undefined) return;
  const { along, perPixel } = w, { breaks } = profile;
  const final = line.part === "final", dots = line.dots === true, width = line.width ?? 1.5;
  const flags = flagsOf(profile, line, phases);
  const split = flags === undefined ? undefined : splitFlags(flags);
  const colour = ink[line.ink];
  ctx.strokeStyle = ctx.fillStyle = colour;
  ctx.lineJoin = "round";
  const u = line.band === true ? profile.get(line.name, "u") : undefined;
  if (u !== undefined) {
    for (const e of edges) e.clear();
    emitBand(kept({ values, along, flags, breaks }, w, u).band as Band, x, y.m, l.top, l.bottom, edges);
    ctx.globalAlpha = line.dash === undefined ? 0.2 : 0.1;
    if (dots) fillTurns(ctx, edges[0] as Points, edges[1] as Points, 360 * x.k, x.m);
    else fillBand(ctx, edges[0] as Points, edges[1] as Points);
    ctx.globalAlpha = 1;
  }
  const draw = (use: Uint8Array | undefined, dash: readonly number[]): void => {
    points.clear();
    emit(kept({ values, along, flags: use, breaks }, w, undefined).curve as Thinned, x, y.m, l.top, l.bottom, points);
    ctx.setLineDash(dash as number[]);
    stroke(ctx, points, dots, width, perPixel);
    ctx.setLineDash(whole);
  };
  draw(split?.solid ?? flags, line.dash ?? whole);
  if (!final || flags === undefined || split === undefined) return;
  if (split.questionable) draw(split.dotted, dotted);
  if (split.questionable || split.bad) for (const [from, to] of w.runs) drawFlagged(ctx, values, along, flags, from, to, x, y, l, ink, colour);
  if (line.band === true) drawGaps(ctx, values, along, profile, w.from, w.to, x, y, l, colour);
}

const whole: readonly number[] = [], dotted: readonly number[] = [1.5, 2.5];

function fillBand(ctx: CanvasRenderingContext2D, left: Points, right: Points): void {
  const n = left.length;
  let start = 0;
  while (start < n) {
    let end = start;
    while (end < n && left.data[end] === left.data[end]) end += 2;
    if (end - start >= 4) {
      ctx.beginPath();
      ctx.moveTo(left.data[start] as number, left.data[start + 1] as number);
      for (let i = start + 2; i < end; i += 2) ctx.lineTo(left.data[i] as number, left.data[i + 1] as number);
      for (let i = end - 2; i >= start; i -= 2) ctx.lineTo(right.data[i] as number, right.data[i + 1] as number);
      ctx.closePath();
      ctx.fill();
    }
    start = end + 2;
  }
}

/** A band of a circular quantity: one stripe a line of pixels, what leaves on one side comes back on the other. */
function fillTurns(ctx: CanvasRenderingContext2D, left: Points, right: Points, turn: number, zero: number): void {
  ctx.beginPath();
  for (let i = 0; i < left.length; i += 2) {
    const a = left.data[i] as number, z = right.data[i] as number, y = left.data[i + 1] as number;
    if (a !== a || z - a > turn / 2) continue; // missing, or north lies between samples on one line of pixels
    ctx.rect(a, y, z - a, 1);
    if (a < zero) ctx.rect(a + turn, y, z - a, 1);
    if (z > zero + turn) ctx.rect(a - turn, y, z - a, 1);
  }
  ctx.fill();
}

interface Split {
  readonly solid: Uint8Array; // questionable counts as a gap
  readonly dotted: Uint8Array; // only questionable samples and their neighbours
  readonly questionable: boolean;
  readonly bad: boolean;
}
const splits = new WeakMap<Uint8Array, Split>();

function splitFlags(flags: Uint8Array): Split {
  let s = splits.get(flags);
  if (s !== undefined) return s;
  const solid = flags.slice(), dotted = new Uint8Array(flags.length).fill(4);
  let questionable = false, bad = false;
  for (let i = 0; i < flags.length; i++) {
    if (flags[i] === 4) bad = true;
    if (flags[i] !== 3) continue;
    questionable = true;
    solid[i] = 4;
    for (let j = Math.max(0, i - 1); j <= Math.min(flags.length - 1, i + 1); j++) dotted[j] = flags[j] as number;
  }
  s = { solid, dotted, questionable, bad };
  splits.set(flags, s);
  return s;
}

/** Open dots on questionable samples and crosses on bad ones, no denser than one in 7 pixels. */
export function drawFlagged(ctx: CanvasRenderingContext2D, values: ArrayLike<number>, along: ArrayLike<number>, flags: ArrayLike<number>, from: number, to: number, x: Scale, y: Scale, l: { readonly top: number; readonly bottom: number }, ink: Palette, colour: string): void {
  ctx.lineWidth = 1.2;
  ctx.strokeStyle = colour;
  ctx.fillStyle = ink.panel;
  for (const wanted of [3, 4]) {
    let last = -1e9, any = false;
    for (let i = from; i < to; i++) {
      if (flags[i] !== wanted) continue;
      const py = (along[i] as number) * y.k + y.m;
      if (!(py >= l.top && py <= l.bottom) || Math.abs(py - last) < 7) continue;
      const px = (values[i] as number) * x.k + x.m;
      if (px !== px) continue;
      last = py;
      if (!any) ctx.beginPath();
      any = true;
      if (wanted === 3) {
        ctx.moveTo(px + 2.6, py);
        ctx.arc(px, py, 2.6, 0, 7);
      } else {
        ctx.moveTo(px - 3, py - 3);
        ctx.lineTo(px + 3, py + 3);
        ctx.moveTo(px + 3, py - 3);
        ctx.lineTo(px - 3, py + 3);
      }
    }
    if (!any) continue;
    if (wanted === 3) ctx.fill();
    ctx.stroke();
  }
}

const gapLists = new WeakMap<object, readonly (readonly [number, number])[]>();

/** Runs without a value between rows that have one, three rows or more, or with rows missing. */
function gapsOf(values: ArrayLike<number> & object, breaks: Uint8Array): readonly (readonly [number, number])[] {
  let list = gapLists.get(values);
  if (list !== undefined) return list;
  const out: (readonly [number, number])[] = [];
  let last = -1;
  for (let i = 0; i < values.length; i++) {
    const v = values[i] as number;
    if (v !== v) continue;
    if (last >= 0 && (i - last > 3 || (i - last === 1 && breaks[i] === 1))) out.push([last, i]);
    last = i;
  }
  list = out;
  gapLists.set(values, list);
  return list;
}

/** A tick at each end of a gap. */
function drawGaps(ctx: CanvasRenderingContext2D, values: Float32Array | Float64Array, along: ArrayLike<number>, profile: Profile, from: number, to: number, x: Scale, y: Scale, l: Layout, colour: string): void {
  ctx.strokeStyle = colour;
  ctx.lineWidth = 1.2;
  ctx.beginPath();
  for (const [a, z] of gapsOf(values, profile.breaks)) {
    if (z < from || a >= to) continue;
    const y0 = (along[a] as number) * y.k + y.m, y1 = (along[z] as number) * y.k + y.m;
    if (Math.abs(y1 - y0) < 3 || Math.max(y0, y1) < l.top || Math.min(y0, y1) > l.bottom) continue;
    for (const row of [a, z]) {
      const px = (values[row] as number) * x.k + x.m, py = (along[row] as number) * y.k + y.m;
      ctx.moveTo(px - 4, py);
      ctx.lineTo(px + 4, py);
    }
  }
  ctx.stroke();
}

/** Another flight's line, pale, on its own place along the axis. */
function drawOther(ctx: CanvasRenderingContext2D, b: Bench, other: Profile, line: Line, l: Layout, x: Scale, y: Scale, ink: Palette, perPixel: number): void {
  const values = other.get(line.name, line.part);
  if (values === undefined) return;
  points.clear();
  trace({ values, along: other.along(b.axis), flags: line.part === "final" ? other.flags(line.name, "final") : undefined, breaks: other.breaks },
    b.before ? 0 : other.release, b.descent ? other.rows : other.top, x, y, l.top, l.bottom, perPixel, points);
  ctx.strokeStyle = ctx.fillStyle = ink[line.ink];
  ctx.globalAlpha = 0.32;
  stroke(ctx, points, line.dots === true, 3, perPixel);
  ctx.globalAlpha = 1;
}

/** A change smaller than this many pixels cannot be seen and is left to the words. */
const visible = 0.7;

/** What a previewed decision would make of the lines, where it differs. */
function drawAfter(ctx: CanvasRenderingContext2D, b: Bench, after: Profile, l: Layout, p: Place, x: Scale, y: Scale, ink: Palette, perPixel: number): void {
  for (const line of p.panel.lines) {
    if (line.part !== "final") continue;
    const old = b.profile.get(line.name, "final"), now = after.get(line.name, "final");
    if (now === undefined || after.rows !== b.profile.rows) continue;
    const oldFlags = b.profile.flags(line.name, "final"), flags = after.flags(line.name, "final");
    const only = new Uint8Array(after.rows).fill(4);
    let any = false;
      for (let i = 0; i < after.rows; i++) {
      const was = old?.[i] as number, is = now[i] as number;
      const same = was === is || (was !== was && is !== is) || Math.abs(is - was) * Math.abs(x.k) < visible;
      if (same && oldFlags?.[i] === flags?.[i]) continue;
      any = true;
      only[i] = flags?.[i] ?? 1;
    }
    if (!any) continue;
    if (flags !== undefined) drawFlagged(ctx, now, b.profile.along(b.axis), only.map((f, i) => (f === 4 && flags[i] === 4 && oldFlags?.[i] !== 4 ? 4 : 1)), ...b.shown(), x, y, l, ink, ink.select);
    points.clear();
    trace({ values: now, along: b.profile.along(b.axis), flags: only, breaks: after.breaks }, ...b.shown(), x, y, l.top, l.bottom, perPixel, points);
    ctx.strokeStyle = ctx.fillStyle = ink.select;
    ctx.setLineDash([6, 3]);
    stroke(ctx, points, line.dots === true, 2, perPixel);
    ctx.setLineDash([]);
  }
}

let hatch: { colour: string; pattern: CanvasPattern | null } | undefined;

function hatched(ctx: CanvasRenderingContext2D, colour: string): CanvasPattern | null {
  if (hatch?.colour === colour) return hatch.pattern;
  const tile = document.createElement("canvas");
  tile.width = tile.height = 8;
  const c = tile.getContext("2d");
  if (c !== null) {
    c.strokeStyle = colour;
    c.lineWidth = 1;
    c.beginPath();
    for (const d of [-8, 0, 8]) {
      c.moveTo(d, 8);
      c.lineTo(d + 8, 0);
    }
    c.stroke();
  }
  hatch = { colour, pattern: ctx.createPattern(tile, "repeat") };
  return hatch.pattern;
}

function drawWithheld(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, p: Place, ink: Palette, y: Scale): void {
  const along = b.along();
  for (const s of b.withheld(p.panel)) {
    const y0 = (along[s.from] as number) * y.k + y.m, y1 = (along[s.to] as number) * y.k + y.m;
    if (!(y0 === y0 && y1 === y1)) continue;
    ctx.globalAlpha = 0.45;
    ctx.fillStyle = hatched(ctx, ink.quiet) ?? ink.grid;
    const top = Math.max(l.top, Math.min(y0, y1)), bottom = Math.min(l.bottom, Math.max(y0, y1));
    if (bottom > top) ctx.fillRect(p.x, top, p.width, Math.max(2, bottom - top));
    ctx.globalAlpha = 1;
  }
}

/** Strips at the panel's right edge where sensor A and sensor B are being heated. */
function drawHeating(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, p: Place, ink: Palette, y: Scale): void {
  const along = b.along();
  const [from, to] = b.shown();
  const strips = [["heating_a", "sensor-a", 10], ["heating_b", "sensor-b", 5]] as const;
  for (const [name, tone, inset] of strips) {
    const on = heatingOf(b.profile, name);
    if (on === undefined) continue;
    ctx.fillStyle = ink[tone];
    const x = p.x + p.width - inset;
    let start = -1;
    for (let i = from; i <= to; i++) {
      const hot = i < to && on[i] === 1;
      if (hot && start < 0) start = i;
      if (!hot && start >= 0) {
        const y0 = (along[start] as number) * y.k + y.m, y1 = (along[i - 1] as number) * y.k + y.m;
        const top = Math.max(l.top, Math.min(y0, y1)), bottom = Math.min(l.bottom, Math.max(y0, y1));
        if (bottom >= top) ctx.fillRect(x, top, 4, Math.max(1, bottom - top));
        start = -1;
      }
    }
  }
}

/** Box of a finding's mark within its lane; undefined where it has no place on screen. */
export interface Mark {
  readonly id: string;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  readonly span: number; // index of the first of the finding's spans in it
}

/** Where the marks of the lanes are; of a finding with many spans each visible stretch is one. */
export function marksOf(b: Bench, l: Layout): Mark[] {
  const along = b.along();
  const y = yScale(b, l);
  const [from, to] = b.shown();
  const out: Mark[] = [];
  for (const f of b.findings) {
    const x = l.lanesX + laneOf(f.variable) * l.lane;
    let last: { top: number; bottom: number; span: number } | undefined;
    const emit = (): void => {
      if (last !== undefined) out.push({ id: f.id, x: x + 2, y: last.top, width: l.lane - 4, height: Math.max(4, last.bottom - last.top), span: last.span });
      last = undefined;
    };
    for (const [k, s] of (f.spans ?? []).entries()) {
      const a = Math.max(s.from_row, from), z = Math.min(s.to_row, to) - 1;
      if (z < a) continue;
      const y0 = (along[a] as number) * y.k + y.m, y1 = (along[z] as number) * y.k + y.m;
      const top = Math.max(l.top + 1, Math.min(y0, y1)), bottom = Math.min(l.bottom - 1, Math.max(y0, y1));
      if (!(bottom >= top)) continue;
      if (last !== undefined && top <= last.bottom + 5 && bottom >= last.top - 5) last = { top: Math.min(last.top, top), bottom: Math.max(last.bottom, bottom), span: last.span };
      else {
        emit();
        last = { top, bottom, span: k };
      }
    }
    emit();
  }
  return out;
}

function drawLanes(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, ink: Palette, _y: Scale): void {
  const width = l.lane * lanes.length;
  ctx.fillStyle = ink.panel;
  ctx.fillRect(l.lanesX, l.top, width, l.bottom - l.top);
  ctx.strokeStyle = ink.grid;
  ctx.lineWidth = 1;
  ctx.beginPath();
  for (let i = 1; i < lanes.length; i++) {
    ctx.moveTo(l.lanesX + i * l.lane + 0.5, l.top);
    ctx.lineTo(l.lanesX + i * l.lane + 0.5, l.bottom);
  }
  ctx.stroke();
  const byId = new Map(b.findings.map((f) => [f.id, f]));
  for (const m of marksOf(b, l)) {
    const f = byId.get(m.id) as Finding;
    ctx.globalAlpha = (f.state ?? "") === "" ? 1 : 0.35;
    const colour = f.severity === "bad" ? ink.bad : f.severity === "questionable" ? ink.questionable : ink.note;
    ctx.strokeStyle = ctx.fillStyle = colour;
    ctx.lineWidth = 1.5;
    if (f.severity === "bad") ctx.fillRect(m.x, m.y, m.width, m.height);
    else if (f.severity === "questionable") ctx.strokeRect(m.x + 0.75, m.y + 0.75, m.width - 1.5, m.height - 1.5);
    else ctx.fillRect(m.x + m.width / 2 - 1, m.y, 2, m.height);
    ctx.globalAlpha = 1;
    if (m.id === b.selected) {
      ctx.strokeStyle = ink.ink;
      ctx.lineWidth = 2;
      ctx.strokeRect(m.x - 2, m.y - 2, m.width + 4, m.height + 4);
    }
  }
  ctx.strokeStyle = ink.frame;
  ctx.lineWidth = 1;
  ctx.strokeRect(l.lanesX + 0.5, l.top + 0.5, width - 1, l.bottom - l.top - 1);
}
