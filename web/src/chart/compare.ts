// Draws profiles over one another, each panel with its differences beside it, on one
// vertical axis. Nothing here fetches or keeps state.
import type { Columns } from "../api/columns";
import type { Bench } from "../model/bench";
import { drawn } from "../model/flags";
import { dashes, partOf, type ComparedPanel, type Side } from "../model/versions";
import { decimalsOf, multiples, snapped, step } from "../model/ticks";
import { Points, scaleOf, trace, type Scale } from "../model/trace";
import { format } from "../model/units";
import { beside, placeLabel, ticks } from "./axis";
import { drawFlagged } from "./bench";
import { font, type Palette } from "./palette";

export interface ComparePlace {
  readonly panel: ComparedPanel;
  readonly x: number;
  readonly width: number; // of the values
  readonly dx: number;
  readonly dwidth: number; // of the differences
}

export interface CompareLayout {
  readonly width: number;
  readonly height: number;
  readonly gutter: number;
  readonly top: number;
  readonly bottom: number;
  readonly places: readonly ComparePlace[];
}

export function compareLayout(width: number, height: number, panels: readonly ComparedPanel[]): CompareLayout {
  const gutter = 84, gap = 12, between = 3;
  const each = Math.max(60, Math.floor((width - gutter - gap * (panels.length - 1) - 2) / panels.length));
  const values = Math.floor(each * 0.6);
  const places = panels.map((panel, i) => {
    const x = gutter + i * (each + gap);
    return { panel, x, width: values, dx: x + values + between, dwidth: each - values - between };
  });
  return { width, height, gutter, top: 2, bottom: height - 20, places };
}

const points = new Points();
const yOf = (b: Bench, l: CompareLayout): Scale => scaleOf(b.lo, b.hi, l.bottom, l.top);

/** The range of what is visible of all sides. */
function valuesRange(b: Bench, sides: readonly Side[], p: ComparedPanel): readonly [number, number] {
  let lo = Infinity, hi = -Infinity;
  for (const s of sides) {
    const part = partOf(s.version);
    const v = s.profile.get(p.name, part);
    if (v === undefined) continue;
    const flags = part === "final" ? s.profile.flags(p.name, "final") : undefined;
    const a = s.profile.along(b.axis);
    for (let i = s.profile.release; i < s.profile.top; i++) {
      const x = v[i] as number, y = a[i] as number;
      if (!(y >= b.lo && y <= b.hi) || x !== x || (flags !== undefined && !drawn(flags[i] as number))) continue;
      if (x < lo) lo = x;
      if (x > hi) hi = x;
    }
  }
  if (p.dots === true && hi - lo > 200) return [0, 360];
  return hi >= lo ? snapped(lo, hi, p.least, 6) : [0, 1];
}

function differencesRange(b: Bench, d: ArrayLike<number> | undefined, p: ComparedPanel): readonly [number, number] {
  let most = p.leastDifference;
  const a = b.along();
  if (d !== undefined) for (let i = b.profile.release; i < b.profile.top; i++) {
    const y = a[i] as number, x = Math.abs(d[i] as number);
    if (y >= b.lo && y <= b.hi && x > most) most = x;
  }
  const by = step(most, 2);
  const edge = Math.ceil(most / by - 1e-6) * by;
  return [-edge, edge];
}

export function drawCompare(ctx: CanvasRenderingContext2D, b: Bench, sides: readonly Side[], differences: Columns | undefined, l: CompareLayout, ink: Palette, perPixel: number): void {
  ctx.fillStyle = ink.paper;
  ctx.fillRect(0, 0, l.width, l.height);
  const y = yOf(b, l);
  const marks = ticks(b, l.bottom - l.top);
  drawScale(ctx, b, l, ink, y);
  for (const p of l.places) {
    const d = differences?.get(p.panel.name, "difference");
    for (const [x, width, range, zero] of [[p.x, p.width, valuesRange(b, sides, p.panel), false], [p.dx, p.dwidth, differencesRange(b, d, p.panel), true]] as const) {
      ctx.fillStyle = ink.panel;
      ctx.fillRect(x, l.top, width, l.bottom - l.top);
      ctx.strokeStyle = ink.grid;
      ctx.lineWidth = 1;
      ctx.beginPath();
      for (const t of marks) {
        const py = Math.round(t.place * y.k + y.m) + 0.5;
        ctx.moveTo(x, py);
        ctx.lineTo(x + width, py);
      }
      ctx.stroke();
      const s = scaleOf(range[0], range[1], x + 3, x + width - 3);
      drawMarks(ctx, l, ink, s, range, x, width, zero, p.panel.dots === true && !zero);
      ctx.save();
      ctx.beginPath();
      ctx.rect(x, l.top, width, l.bottom - l.top);
      ctx.clip();
      if (zero) drawDifference(ctx, b, d, l, s, y, ink, p.panel, perPixel);
      else for (let i = sides.length - 1; i >= 0; i--) drawSide(ctx, b, sides[i] as Side, i, l, s, y, ink, p.panel, perPixel);
      ctx.restore();
      ctx.strokeStyle = ink.frame;
      ctx.lineWidth = 1;
      ctx.strokeRect(x + 0.5, l.top + 0.5, width - 1, l.bottom - l.top - 1);
    }
  }
}

function drawScale(ctx: CanvasRenderingContext2D, b: Bench, l: CompareLayout, ink: Palette, y: Scale): void {
  ctx.textBaseline = "middle";
  ctx.font = font(11);
  ctx.textAlign = "right";
  ctx.lineWidth = 1;
  ctx.strokeStyle = ink.frame;
  for (const [list, x, colour, from] of [[ticks(b, l.bottom - l.top), l.gutter - 8, ink.ink, l.gutter - 5], [beside(b, l.bottom - l.top), 32, ink.quiet, 35]] as const) {
    ctx.fillStyle = colour;
    for (const t of list) {
      const py = t.place * y.k + y.m;
      if (py < l.top + 5 || py > l.bottom - 4) continue;
      ctx.fillText(t.label, x, py);
      ctx.beginPath();
      ctx.moveTo(from, Math.round(py) + 0.5);
      ctx.lineTo(from + 5, Math.round(py) + 0.5);
      ctx.stroke();
    }
  }
}

function drawMarks(ctx: CanvasRenderingContext2D, l: CompareLayout, ink: Palette, s: Scale, range: readonly [number, number], x: number, width: number, zero: boolean, round: boolean): void {
  const by = round && range[1] - range[0] > 150 ? 90 : step(range[1] - range[0], Math.max(2, Math.floor(width / 34)));
  ctx.font = font(11);
  ctx.textBaseline = "top";
  ctx.textAlign = "center";
  let free = -Infinity;
  const marks = zero ? [range[0], 0, range[1]] : multiples(range[0], range[1], by);
  const edge = format(range[1], decimalsOf(range[1] || 1));
  const three = ctx.measureText(`−${edge}0+${edge}`).width + 12 <= width, two = ctx.measureText(`−${edge}+${edge}`).width + 6 <= width;
  for (const v of marks) {
    const px = v * s.k + s.m;
    ctx.strokeStyle = zero && v === 0 ? ink.frame : ink.grid;
    ctx.beginPath();
    ctx.moveTo(Math.round(px) + 0.5, l.top);
    ctx.lineTo(Math.round(px) + 0.5, l.bottom);
    ctx.stroke();
    // Where both ends have no room, one mark in the middle stands for them.
    if (zero && (two ? v === 0 && !three : v !== 0)) continue;
    const text = zero && !two ? `±${edge}` : (zero && v > 0 ? "+" : "") + format(v, decimalsOf(zero ? Math.abs(v) || 1 : by));
    const half = ctx.measureText(text).width / 2;
    const at = Math.min(Math.max(px, x + half), x + width - half);
    if (at - half < free) continue;
    ctx.fillStyle = ink.quiet;
    ctx.fillText(text, at, l.bottom + 5);
    free = at + half + (zero ? 2 : 5);
  }
}

function stroke(ctx: CanvasRenderingContext2D, dots: boolean): void {
  const n = points.length;
  if (dots) {
    for (let i = 0; i < n; i += 2) if (points.data[i] === points.data[i]) ctx.fillRect((points.data[i] as number) - 0.7, (points.data[i + 1] as number) - 0.7, 1.4, 1.4);
    return;
  }
  ctx.beginPath();
  let pen = false;
  for (let i = 0; i < n; i += 2) {
    const px = points.data[i] as number, py = points.data[i + 1] as number;
    if (px !== px) pen = false;
    else if (pen) ctx.lineTo(px, py);
    else {
      ctx.moveTo(px, py);
      pen = true;
    }
  }
  ctx.stroke();
}

function drawSide(ctx: CanvasRenderingContext2D, b: Bench, side: Side, i: number, l: CompareLayout, x: Scale, y: Scale, ink: Palette, p: ComparedPanel, perPixel: number): void {
  const part = partOf(side.version);
  const values = side.profile.get(p.name, part);
  if (values === undefined) return;
  const flags = part === "final" ? side.profile.flags(p.name, "final") : undefined;
  const along = side.profile.along(b.axis), { release, top, breaks } = side.profile;
  points.clear();
  trace({ values, along, flags, breaks }, release, top, x, y, l.top, l.bottom, perPixel, points);
  ctx.strokeStyle = ctx.fillStyle = ink[p.ink];
  ctx.lineWidth = i === 0 ? 2.2 : 1.4;
  ctx.globalAlpha = i === 0 ? 0.55 : 1;
  ctx.setLineDash([...(dashes[i] ?? [])]);
  stroke(ctx, p.dots === true);
  ctx.setLineDash([]);
  ctx.globalAlpha = 1;
  if (flags !== undefined) drawFlagged(ctx, values, along, flags, release, top, x, y, l, ink, ink[p.ink]);
}

function drawDifference(ctx: CanvasRenderingContext2D, b: Bench, d: ArrayLike<number> | undefined, l: CompareLayout, x: Scale, y: Scale, ink: Palette, p: ComparedPanel, perPixel: number): void {
  if (d === undefined) return;
  points.clear();
  trace({ values: d, along: b.along(), breaks: b.profile.breaks }, b.profile.release, b.profile.top, x, y, l.top, l.bottom, perPixel, points);
  ctx.strokeStyle = ctx.fillStyle = ink[p.ink];
  ctx.lineWidth = 1.2;
  stroke(ctx, p.dots === true);
}

export function drawCompareCursor(ctx: CanvasRenderingContext2D, b: Bench, l: CompareLayout, ink: Palette): void {
  ctx.clearRect(0, 0, l.width, l.height);
  if (b.cursor === undefined) return;
  const y = yOf(b, l);
  const py = Math.round((b.along()[b.cursor] as number) * y.k + y.m) + 0.5;
  if (!(py >= l.top - 1 && py <= l.bottom + 1)) return;
  ctx.strokeStyle = ink.ink;
  ctx.lineWidth = 1;
  ctx.beginPath();
  ctx.moveTo(l.gutter, py);
  ctx.lineTo(l.width - 2, py);
  ctx.stroke();
  const text = placeLabel(b, b.cursor);
  ctx.font = font(11);
  ctx.textAlign = "right";
  ctx.textBaseline = "middle";
  const w = ctx.measureText(text).width + 8;
  ctx.fillStyle = ink.ink;
  ctx.fillRect(l.gutter - w, py - 8, w, 16);
  ctx.fillStyle = ink.paper;
  ctx.fillText(text, l.gutter - 4, py);
}
