// The hodograph: where the wind's arrow ends, from the ground up, with heights marked.
import type { Bench } from "../model/bench";
import { drawn } from "../model/flags";
import { step } from "../model/ticks";
import { format } from "../model/units";
import { curve } from "./diagram";
import { Labels } from "./labels";
import { font, type Palette } from "./palette";

interface Place {
  readonly x: (u: number) => number;
  readonly y: (v: number) => number;
  readonly ring: number;
  readonly most: number;
}

function place(b: Bench, width: number, height: number): Place {
  const u = b.profile.get("wind_u", "final"), v = b.profile.get("wind_v", "final");
  let most = 10;
  if (u !== undefined && v !== undefined) {
    const flags = b.profile.flags("wind_u", "final");
    for (let i = b.profile.release; i < b.profile.top; i++) {
      if (flags !== undefined && !drawn(flags[i] as number)) continue;
      const s = Math.hypot(u[i] as number, v[i] as number);
      if (s > most) most = s;
    }
  }
  const ring = step(most, 4);
  const reach = Math.ceil(most / ring) * ring;
  const k = (Math.min(width, height) / 2 - 14) / reach;
  return { x: (e) => width / 2 + e * k, y: (n) => height / 2 - n * k, ring, most: reach };
}

export function drawHodograph(ctx: CanvasRenderingContext2D, b: Bench, width: number, height: number, ink: Palette): void {
  const f = place(b, width, height);
  ctx.fillStyle = ink.panel;
  ctx.fillRect(0, 0, width, height);
  ctx.font = font(11);
  ctx.lineWidth = 1;
  ctx.strokeStyle = ink.grid;
  ctx.beginPath();
  ctx.moveTo(f.x(-f.most), f.y(0));
  ctx.lineTo(f.x(f.most), f.y(0));
  ctx.moveTo(f.x(0), f.y(-f.most));
  ctx.lineTo(f.x(0), f.y(f.most));
  ctx.stroke();
  ctx.fillStyle = ink.quiet;
  ctx.textBaseline = "middle";
  ctx.textAlign = "left";
  for (let r = f.ring; r <= f.most + 1e-9; r += f.ring) {
    ctx.beginPath();
    ctx.arc(f.x(0), f.y(0), f.x(r) - f.x(0), 0, 7);
    ctx.stroke();
    ctx.fillText(format(r, 0), f.x(r * Math.SQRT1_2) + 2, f.y(-r * Math.SQRT1_2) + 6);
  }
  const u = b.profile.get("wind_u", "final"), v = b.profile.get("wind_v", "final"), z = b.profile.get("height_msl", "final");
  if (u === undefined || v === undefined) {
    ctx.textAlign = "center";
    ctx.fillText("no wind in this flight", width / 2, height / 2 - 12);
    return;
  }
  const flags = b.profile.flags("wind_u", "final");
  const list: (readonly [number, number] | undefined)[] = [];
  const every = Math.max(1, Math.floor((b.profile.top - b.profile.release) / 2500));
  for (let i = b.profile.release; i < b.profile.top; i += every) {
    const usable = u[i] === u[i] && v[i] === v[i] && (flags === undefined || drawn(flags[i] as number));
    list.push(usable ? [f.x(u[i] as number), f.y(v[i] as number)] : undefined);
  }
  curve(ctx, list, ink.wind, [], 1.6);
  if (z === undefined) return;
  const ground = z[b.profile.release] as number;
  ctx.fillStyle = ink.ink;
  const labels = new Labels(width, height), placed: (readonly [number, number, string])[] = [];
  let next = 0;
  const marks = [0, 1, 2, 3, 6, 9, 12, 16, 20, 25, 30];
  for (let i = b.profile.release; i < b.profile.top && next < marks.length; i++) {
    if (!((z[i] as number) - ground >= (marks[next] as number) * 1000)) continue;
    if (u[i] === u[i] && v[i] === v[i]) {
      const px = f.x(u[i] as number), py = f.y(v[i] as number);
      ctx.beginPath();
      ctx.arc(px, py, 2.5, 0, 7);
      ctx.fill();
      placed.push([px, py, String(marks[next])]);
      labels.keep(px, py, 3);
    }
    next++;
  }
  for (const [px, py, text] of placed) labels.write(ctx, text, px, py, ink.panel, false);
}

export function markHodograph(ctx: CanvasRenderingContext2D, b: Bench, width: number, height: number, ink: Palette): void {
  const row = b.cursor;
  if (row === undefined) return;
  const f = place(b, width, height);
  const u = b.profile.get("wind_u", "final")?.[row], v = b.profile.get("wind_v", "final")?.[row];
  if (u === undefined || v === undefined || u !== u || v !== v) return;
  ctx.strokeStyle = ctx.fillStyle = ink.ink;
  ctx.lineWidth = 1.5;
  ctx.beginPath();
  ctx.moveTo(f.x(0), f.y(0));
  ctx.lineTo(f.x(u), f.y(v));
  ctx.stroke();
  ctx.beginPath();
  ctx.arc(f.x(u), f.y(v), 4, 0, 7);
  ctx.fill();
}
