// What moves with the pointer: cursor, brushed span, box, selected finding. Drawn on a
// canvas of its own so that the curves need not be drawn again.
import type { Bench } from "../model/bench";
import { placeLabel } from "./axis";
import { xScale, yScale } from "./bench";
import type { Layout } from "./layout";
import { font, type Palette } from "./palette";

export interface Box {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

export function drawOverlay(ctx: CanvasRenderingContext2D, b: Bench, l: Layout, ink: Palette, box: Box | undefined): void {
  ctx.clearRect(0, 0, l.width, l.height);
  const y = yScale(b, l);
  const along = b.along();
  const right = l.lanesX + l.lane * 6;
  const stripe = (from: number, to: number, colour: string, alpha: number, edge: boolean): void => {
    let lo = Infinity, hi = -Infinity;
    for (let i = from; i <= to; i++) {
      const v = along[i] as number;
      if (v < lo) lo = v;
      if (v > hi) hi = v;
    }
    const top = Math.max(l.top, hi * y.k + y.m), bottom = Math.min(l.bottom, lo * y.k + y.m);
    if (!(bottom >= top - 1)) return;
    ctx.globalAlpha = bottom - top > (l.bottom - l.top) / 2 ? alpha / 2 : alpha;
    ctx.fillStyle = colour;
    ctx.fillRect(l.gutter, top, right - l.gutter, Math.max(2, bottom - top));
    ctx.globalAlpha = 1;
    if (!edge) return;
    ctx.strokeStyle = colour;
    ctx.lineWidth = 1;
    for (const py of [top, bottom]) {
      ctx.beginPath();
      ctx.moveTo(l.gutter, Math.round(py) + 0.5);
      ctx.lineTo(right, Math.round(py) + 0.5);
      ctx.stroke();
    }
  };
  const f = b.finding();
  const spans = f === undefined ? [] : b.stretches(f);
  if (spans.length > 0 && spans.length <= 300) for (const s of spans) stripe(s.from_row, s.to_row - 1, ink.select, 0.13, false);
  if (b.span !== undefined) stripe(b.span.from, b.span.to, ink.select, 0.16, true);
  if (box !== undefined) {
    ctx.strokeStyle = ink.select;
    ctx.lineWidth = 1.5;
    ctx.setLineDash([4, 3]);
    ctx.strokeRect(Math.min(box.x0, box.x1), Math.min(box.y0, box.y1), Math.abs(box.x1 - box.x0), Math.abs(box.y1 - box.y0));
    ctx.setLineDash([]);
  }
  if (b.cursor === undefined) return;
  const place = along[b.cursor] as number;
  const py = place * y.k + y.m;
  if (!(py >= l.top - 1 && py <= l.bottom + 1)) return;
  ctx.strokeStyle = ink.ink;
  ctx.lineWidth = 1;
  ctx.beginPath();
  ctx.moveTo(l.gutter, Math.round(py) + 0.5);
  ctx.lineTo(right, Math.round(py) + 0.5);
  ctx.stroke();
  for (const p of l.places) {
    const { scale: x } = xScale(b, p);
    for (const line of p.panel.lines) {
      if (line.part === "raw") continue;
      const v = b.profile.get(line.name, line.part)?.[b.cursor];
      if (v === undefined || v !== v) continue;
      const px = v * x.k + x.m;
      if (px < p.x || px > p.x + p.width) continue;
      ctx.beginPath();
      ctx.arc(px, py, 3, 0, 7);
      ctx.fillStyle = ink[line.ink];
      ctx.fill();
    }
  }
  const text = placeLabel(b, b.cursor);
  ctx.font = font(11);
  ctx.textAlign = "right";
  ctx.textBaseline = "middle";
  const width = ctx.measureText(text).width + 8;
  const ly = Math.min(Math.max(py, l.top + 8), l.bottom - 8);
  ctx.fillStyle = ink.ink;
  ctx.fillRect(l.gutter - 4 - width, ly - 8, width, 16);
  ctx.fillStyle = ink.paper;
  ctx.fillText(text, l.gutter - 8, ly);
}
