// Ticks of the shared vertical axis.
import type { Bench } from "../model/bench";
import { decimalsOf, multiples, step } from "../model/ticks";
import { elapsed, format } from "../model/units";

export interface Tick {
  readonly place: number; // along the axis
  readonly label: string;
}

const roundPressures = [1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 40, 30, 20, 15, 10, 7, 5, 4, 3, 2, 1];
const timeSteps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200];

/** Round places on the axis, as many as fit into a number of pixels. */
export function ticks(b: Bench, pixels: number): Tick[] {
  const n = Math.max(2, Math.floor(pixels / 44));
  const { lo, hi } = b;
  switch (b.axis) {
    case "height": {
      const by = step(hi - lo, n);
      const km = hi - lo > 200;
      return multiples(lo, hi, by).map((place) => ({
        place,
        label: km ? format(place / 1000, decimalsOf(by / 1000)) : format(place, decimalsOf(by)),
      }));
    }
    case "pressure": {
      const most = Math.exp(-lo), least = Math.exp(-hi);
      if (most / least > 2.2) {
        const gap = (30 * (hi - lo)) / pixels;
        const out: Tick[] = [];
        for (const p of roundPressures) {
          const place = -Math.log(p);
          if (p > most || p < least || (out.length > 0 && place - (out[out.length - 1] as Tick).place < gap)) continue;
          out.push({ place, label: format(p, 0) });
        }
        return out;
      }
      const by = step(most - least, n);
      return multiples(least, most, by).map((p) => ({ place: -Math.log(p), label: format(p, decimalsOf(by)) }));
    }
    case "time": {
      const by = timeSteps.find((s) => (hi - lo) / s <= n) ?? 14400;
      return multiples(lo, hi, by).map((place) => ({ place, label: elapsed(place) }));
    }
  }
}

/** The unit of the labels above. */
export const axisUnit = (b: Bench): string => (b.axis === "height" ? (b.hi - b.lo > 200 ? "km" : "m") : b.axis === "pressure" ? "hPa" : "min:s");

/** A second scale beside the first: standard pressures on heights and times, heights on pressures. */
export function beside(b: Bench, pixels: number): Tick[] {
  const out: Tick[] = [];
  const gap = (26 * (b.hi - b.lo)) / pixels;
  for (const l of b.flight.levels.levels ?? []) {
    if (!(l.kinds ?? []).includes("standard") || l.pressure_hpa === null) continue;
    const place = b.axis === "height" ? l.height_m_msl : b.axis === "time" ? l.time_s : -Math.log(l.pressure_hpa);
    if (place === null || place < b.lo || place > b.hi) continue;
    if (out.length > 0 && Math.abs(place - (out[out.length - 1] as Tick).place) < gap) continue;
    if (b.axis === "pressure" && l.height_m_msl === null) continue;
    out.push({ place, label: b.axis === "pressure" ? format((l.height_m_msl as number) / 1000, 1) : format(l.pressure_hpa, 0) });
  }
  return out;
}

export const besideUnit = (b: Bench): string => (b.axis === "pressure" ? "km" : "hPa");

/** The cursor's place in words. */
export function placeLabel(b: Bench, row: number): string {
  const a = b.along()[row] as number;
  if (b.axis === "height") return `${format(a, 0)} m`;
  if (b.axis === "pressure") return `${format(Math.exp(-a), Math.exp(-a) < 100 ? 2 : 1)} hPa`;
  return elapsed(a);
}
