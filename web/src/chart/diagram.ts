// The thermodynamic diagram: temperature, skewed, against the logarithm of pressure.
// All physics comes from the server; this only draws.
import type { Diagram, DiagramLine, Level, ParcelPath } from "../api/types";
import type { Bench } from "../model/bench";
import { drawn } from "../model/flags";
import { format } from "../model/units";
import { barb } from "./barb";
import { font, type Palette } from "./palette";

const bottom = 1050, top = 100; // hPa
const coldest = -45, warmest = 45; // °C along the bottom

export interface Frame {
  readonly x: (celsius: number, hpa: number) => number;
  readonly y: (hpa: number) => number;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

/** Places on a canvas of that size. Isotherms lean by 45 degrees. */
export function frame(width: number, height: number): Frame {
  const left = 40, right = width - 44, t = 8, b = height - 20;
  const perLn = (b - t) / Math.log(bottom / top);
  const perK = (right - left) / (warmest - coldest);
  const y = (hpa: number): number => b - Math.log(bottom / hpa) * perLn;
  return { x: (c, hpa) => left + (c - coldest) * perK + (b - y(hpa)), y, left, right, top: t, bottom: b };
}

export function drawDiagram(ctx: CanvasRenderingContext2D, b: Bench, d: Diagram | undefined, parcel: ParcelPath | undefined, width: number, height: number, ink: Palette): void {
  const f = frame(width, height);
  ctx.fillStyle = ink.paper;
  ctx.fillRect(0, 0, width, height);
  ctx.fillStyle = ink.panel;
  ctx.fillRect(f.left, f.top, f.right - f.left, f.bottom - f.top);
  ctx.font = font(11);
  ctx.textBaseline = "middle";
  ctx.textAlign = "right";
  ctx.lineWidth = 1;
  for (const p of [1000, 850, 700, 500, 400, 300, 250, 200, 150, 100]) {
    const py = Math.round(f.y(p)) + 0.5;
    ctx.strokeStyle = ink.grid;
    ctx.beginPath();
    ctx.moveTo(f.left, py);
    ctx.lineTo(f.right, py);
    ctx.stroke();
    ctx.fillStyle = ink.ink;
    ctx.fillText(String(p), f.left - 5, py);
  }
  ctx.save();
  ctx.beginPath();
  ctx.rect(f.left, f.top, f.right - f.left, f.bottom - f.top);
  ctx.clip();
  for (let c = -120; c <= 50; c += 10) {
    ctx.strokeStyle = c === 0 ? ink.frame : ink.grid;
    ctx.beginPath();
    ctx.moveTo(f.x(c, bottom), f.bottom);
    ctx.lineTo(f.x(c, top), f.top);
    ctx.stroke();
  }
  if (d !== undefined) {
    const p = d.pressure_hpa ?? [];
    family(ctx, f, p, d.dry_adiabats, ink.temperature, [], 0.28);
    family(ctx, f, p, d.pseudo_adiabats, ink["sensor-a"], [6, 3], 0.45);
    family(ctx, f, p.filter((x) => (x ?? 0) >= 400), d.mixing_ratios, ink.humidity, [2, 3], 0.5);
    ctx.font = font(10);
    ctx.textAlign = "center";
    ctx.fillStyle = ink.quiet;
    for (const line of d.mixing_ratios ?? []) {
      const i = p.findIndex((x) => (x ?? 0) <= 600), t = line.temperature_k?.[i];
      if (t !== null && t !== undefined) ctx.fillText(String(line.of), f.x(t - 273.15, 600), f.y(600) - 6);
    }
  }
  const profile = b.profile;
  const hpa = profile.get("pressure", "final");
  if (hpa !== undefined) {
    if (parcel !== undefined) {
      curve(ctx, (parcel.pressure_hpa ?? []).map((p, i) => {
        const t = parcel.temperature_k?.[i];
        return p === null || t === null || t === undefined ? undefined : [f.x(t - 273.15, p), f.y(p)] as const;
      }), ink.ink, [7, 3], 1.5);
    }
    for (const [name, colour, dash] of [["dew_point", ink.humidity, [5, 2]], ["temperature", ink.temperature, []]] as const) {
      const v = profile.get(name, "final"), flags = profile.flags(name, "final");
      if (v === undefined) continue;
      const list: (readonly [number, number] | undefined)[] = [];
      const step = Math.max(1, Math.floor((profile.top - profile.release) / 2500));
      for (let i = profile.release; i < profile.top; i += step) {
        const x = v[i] as number, p = hpa[i] as number;
        if (x !== x || !(p >= top) || (flags !== undefined && !drawn(flags[i] as number))) list.push(undefined);
        else list.push([f.x(x, p), f.y(p)]);
      }
      curve(ctx, list, colour, dash, 2);
    }
    const lcl = parcel?.condensation_pressure_hpa, tl = parcel?.condensation_temperature_k;
    if (lcl !== null && lcl !== undefined && tl !== null && tl !== undefined && lcl > top) {
      ctx.fillStyle = ctx.strokeStyle = ink.ink;
      ctx.beginPath();
      ctx.arc(f.x(tl - 273.15, lcl), f.y(lcl), 3, 0, 7);
      ctx.fill();
    }
  }
  ctx.restore();
  ctx.fillStyle = ink.quiet;
  ctx.font = font(11);
  ctx.textAlign = "center";
  ctx.textBaseline = "top";
  for (let c = -40; c <= 40; c += 20) ctx.fillText(format(c, 0), f.x(c, bottom), f.bottom + 5);
  ctx.strokeStyle = ink.frame;
  ctx.strokeRect(f.left + 0.5, f.top + 0.5, f.right - f.left - 1, f.bottom - f.top - 1);
  drawWinds(ctx, b.flight.levels.levels ?? [], f, width, ink, southern(b));
}

/** Barbs stand on the other side in the southern hemisphere. */
const southern = (b: Bench): boolean => {
  const lat = Number((b.flight.record ?? []).find((i) => i.path === "site.latitude_deg")?.value ?? "");
  return lat < 0;
};

function drawWinds(ctx: CanvasRenderingContext2D, levels: readonly Level[], f: Frame, width: number, ink: Palette, south: boolean): void {
  ctx.strokeStyle = ctx.fillStyle = ink.wind;
  ctx.lineWidth = 1.1;
  let last = Infinity;
  for (const l of levels) {
    const p = l.pressure_hpa;
    if (p === null || p < top || p > bottom || l.wind_speed_m_s === null || l.wind_direction_deg === null || !(l.kinds ?? []).some((k) => k === "standard" || k === "surface" || k.includes("wind"))) continue;
    const y = f.y(p);
    if (last - y < 22) continue;
    last = y;
    barb(ctx, width - 20, Math.min(y, f.bottom - 4), l.wind_direction_deg, l.wind_speed_m_s, 20, south);
  }
}

function family(ctx: CanvasRenderingContext2D, f: Frame, p: readonly (number | null)[], lines: readonly DiagramLine[] | null, colour: string, dash: readonly number[], alpha: number): void {
  ctx.globalAlpha = alpha;
  for (const l of lines ?? []) {
    curve(ctx, p.map((hpa, i) => {
      const t = l.temperature_k?.[i];
      return hpa === null || t === null || t === undefined ? undefined : [f.x(t - 273.15, hpa), f.y(hpa)] as const;
    }), colour, dash, 1);
  }
  ctx.globalAlpha = 1;
}

/** A line through points; undefined lifts the pen. */
export function curve(ctx: CanvasRenderingContext2D, list: readonly (readonly [number, number] | undefined)[], colour: string, dash: readonly number[], width: number): void {
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.setLineDash([...dash]);
  ctx.beginPath();
  let pen = false;
  for (const q of list) {
    if (q === undefined) pen = false;
    else {
      if (pen) ctx.lineTo(q[0], q[1]);
      else ctx.moveTo(q[0], q[1]);
      pen = true;
    }
  }
  ctx.stroke();
  ctx.setLineDash([]);
}

export function markDiagram(ctx: CanvasRenderingContext2D, b: Bench, width: number, height: number, ink: Palette): void {
  const f = frame(width, height), row = b.cursor;
  const p = row === undefined ? undefined : b.profile.get("pressure", "final")?.[row];
  if (row === undefined || p === undefined || !(p >= top && p <= bottom)) return;
  const y = f.y(p);
  ctx.strokeStyle = ink.ink;
  ctx.beginPath();
  ctx.moveTo(f.left, Math.round(y) + 0.5);
  ctx.lineTo(f.right, Math.round(y) + 0.5);
  ctx.stroke();
  for (const [name, tone] of [["temperature", "temperature"], ["dew_point", "humidity"]] as const) {
    const v = b.profile.get(name, "final")?.[row];
    if (v === undefined || v !== v || f.x(v, p) < f.left) continue;
    ctx.fillStyle = ink[tone];
    ctx.beginPath();
    ctx.arc(f.x(v, p), y, 3.5, 0, 7);
    ctx.fill();
  }
}
