// The columns of one flight in display units, and the axes they can be laid along.
import type { Columns, Values } from "../api/columns";
import type { Flight, VariableName } from "../api/types";
import { drawn } from "./flags";
import { display, msOf } from "./units";

export type AxisKind = "height" | "pressure" | "time";
export type Part = "raw" | "final";

export class Profile {
  readonly rows: number;
  readonly time: Values;
  readonly line: Values;
  readonly zero: number; // ms since 1970 of time 0
  /** 1 where a row must not be joined with the one before: rows are missing between them. */
  readonly breaks: Uint8Array;
  /** First row at or after release; first row after the ascent. */
  readonly release: number;
  readonly top: number;
  private readonly values = new Map<string, Float32Array | Float64Array | undefined>();
  private readonly curves = new Map<string, boolean>();
  private readonly axes = new Map<AxisKind, Float64Array>();

  constructor(readonly columns: Columns, flight: Pick<Flight, "events">) {
    this.rows = columns.header.rows;
    this.time = columns.get("time", "") ?? new Float64Array(this.rows);
    this.line = columns.get("line", "") ?? new Int32Array(this.rows);
    this.zero = msOf(columns.header.zero_utc);
    this.breaks = breaksOf(this.time);
    const e = flight.events;
    this.release = e.release.found ? Math.min(e.release.row, this.rows) : 0;
    let top = e.release.found ? this.release : this.rows;
    if (e.release.found) for (const p of e.phases ?? []) if (p.phase === "ascent" || p.phase === "float") top = Math.max(top, p.to_row);
    this.top = Math.min(top, this.rows);
  }

  /** Values in display units, or undefined where the flight has none. */
  get(name: string, part: string): Float32Array | Float64Array | undefined {
    const key = `${name}/${part}`;
    if (this.values.has(key)) return this.values.get(key);
    const given = this.columns.get(name, part);
    let out: Float32Array | Float64Array | undefined;
    if (given instanceof Float32Array || given instanceof Float64Array) {
      const offset = part === "" || part === "u" ? 0 : display(name as VariableName).offset;
      out = offset === 0 ? given : given.map((v) => v + offset);
      if (out.every((v) => v !== v)) out = undefined;
    }
    this.values.set(key, out);
    return out;
  }

  /** Whether there is a curve to draw: two usable values or more in the whole flight. */
  hasCurve(name: string, part: string): boolean {
    const key = `${name}/${part}`;
    let has = this.curves.get(key);
    if (has === undefined) {
      const v = this.get(name, part);
      const flags = part === "" ? undefined : this.flags(name, part as Part);
      let n = 0;
      if (v !== undefined) for (let i = 0; i < this.rows && n < 2; i++) if (v[i] === v[i] && (part === "raw" || flags === undefined || drawn(flags[i] as number))) n++;
      has = n >= 2;
      this.curves.set(key, has);
    }
    return has;
  }

  flags(name: string, part: Part): Uint8Array | undefined {
    const f = this.columns.get(name, part === "raw" ? "raw_flag" : "flag");
    return f instanceof Uint8Array ? f : undefined;
  }

  /** Place of every row along an axis, rising upwards: m, −ln hPa, or s. Gaps are bridged in time. */
  along(kind: AxisKind): Float64Array {
    let a = this.axes.get(kind);
    if (a === undefined) {
      a = this.makeAxis(kind);
      this.axes.set(kind, a);
    }
    return a;
  }

  has(kind: AxisKind): boolean {
    return kind === "time" || this.along(kind).some((v) => v === v);
  }

  private makeAxis(kind: AxisKind): Float64Array {
    if (kind === "time") return Float64Array.from(this.time);
    const names = kind === "pressure" ? ["pressure"] : ["height_msl", "geopotential_height"];
    for (const name of names) {
      for (const part of ["final", "raw"] as const) {
        const v = this.get(name, part);
        if (v === undefined) continue;
        const flags = this.flags(name, part);
        const out = new Float64Array(this.rows);
        for (let i = 0; i < this.rows; i++) {
          const x = v[i] as number;
          const usable = flags === undefined || drawn(flags[i] as number);
          out[i] = !usable ? NaN : kind === "pressure" ? (x > 0 ? -Math.log(x) : NaN) : x;
        }
        if (out.every((x) => x !== x)) continue;
        bridge(out, this.time);
        return out;
      }
    }
    return new Float64Array(this.rows).fill(NaN);
  }

  /** Instant of a row, ms since 1970. */
  instant(row: number): number {
    return this.zero + (this.time[row] ?? 0) * 1000;
  }

  utc(row: number): string {
    return new Date(Math.round(this.instant(row))).toISOString();
  }

  /** First row at or after an instant. */
  rowAt(utc: string): number {
    const t = (msOf(utc) - this.zero) / 1000;
    let lo = 0, hi = this.rows;
    while (lo < hi) {
      const mid = (lo + hi) >> 1;
      if ((this.time[mid] as number) < t - 5e-4) lo = mid + 1;
      else hi = mid;
    }
    return lo;
  }
}

/** Marks rows that come later than three usual intervals, and 3 s, after the one before. */
export function breaksOf(time: ArrayLike<number>): Uint8Array {
  const out = new Uint8Array(time.length);
  const gaps: number[] = [];
  const stride = Math.max(1, Math.floor(time.length / 500));
  for (let i = stride; i < time.length; i += stride) {
    const d = (time[i] as number) - (time[i - 1] as number);
    if (d > 0) gaps.push(d);
  }
  gaps.sort((a, b) => a - b);
  const usual = gaps[gaps.length >> 1] ?? 1;
  const most = Math.max(3 * usual, 3);
  for (let i = 1; i < time.length; i++) if ((time[i] as number) - (time[i - 1] as number) > most) out[i] = 1;
  return out;
}

/** Fills gaps between finite values by straight lines in time. */
function bridge(x: Float64Array, time: ArrayLike<number>): void {
  let last = -1;
  for (let i = 0; i < x.length; i++) {
    if (x[i] !== x[i]) continue;
    if (last >= 0 && i - last > 1) {
      const t0 = time[last] as number, dt = (time[i] as number) - t0;
      const a = x[last] as number, b = x[i] as number;
      for (let j = last + 1; j < i; j++) x[j] = dt > 0 ? a + ((b - a) * ((time[j] as number) - t0)) / dt : a;
    }
    last = i;
  }
}
