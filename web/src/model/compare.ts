// Two profiles side by side: differences by layer.
import { drawn } from "./flags";
import type { Profile } from "./profile";

export interface LayerDifference {
  readonly bottom: number; // km above sea level
  readonly top: number;
  readonly mean: number; // of this minus the other
  readonly deviation: number; // standard deviation of the differences
  readonly count: number; // of steps in which both have a value
}

const edges = [0, 1, 2, 5, 10, 15, 20, 25, 30, 36, 42];
export const binHeight = 0.05; // km: differences are taken between means over 50 m

/** Mean of a variable in each 50 m of height of the ascent, NaN where there is none. */
export function binned(p: Profile, name: string): Float64Array {
  const n = Math.round((edges.at(-1) as number) / binHeight);
  const sum = new Float64Array(n), count = new Float64Array(n);
  const v = p.get(name, "final"), flags = p.flags(name, "final"), z = p.along("height");
  if (v === undefined) return sum.fill(NaN);
  for (let i = p.release; i < p.top; i++) {
    const x = v[i] as number, k = Math.floor((z[i] as number) / 1000 / binHeight);
    if (x !== x || !(k >= 0 && k < n) || (flags !== undefined && !drawn(flags[i] as number))) continue;
    sum[k] = (sum[k] as number) + x;
    count[k] = (count[k] as number) + 1;
  }
  return sum.map((s, k) => s / (count[k] as number));
}

/** Differences of a variable by layer; layers without a common value are left out. */
export function byLayer(a: Profile, b: Profile, name: string): LayerDifference[] {
  const x = binned(a, name), y = binned(b, name);
  const out: LayerDifference[] = [];
  for (let l = 0; l + 1 < edges.length; l++) {
    const bottom = edges[l] as number, top = edges[l + 1] as number;
    let n = 0, mean = 0, square = 0;
    for (let k = Math.round(bottom / binHeight); k < Math.round(top / binHeight); k++) {
      const d = (x[k] as number) - (y[k] as number);
      if (d !== d) continue;
      n++;
      const step = d - mean;
      mean += step / n;
      square += step * (d - mean);
    }
    if (n > 0) out.push({ bottom, top, mean, deviation: n > 1 ? Math.sqrt(square / (n - 1)) : NaN, count: n });
  }
  return out;
}
