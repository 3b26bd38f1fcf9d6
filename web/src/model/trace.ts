// Thins a curve to what a screen can show and keeps every spike: of all samples that fall
// on one line of pixels in a row, the first, the smallest, the largest and the last stay.

export interface Scale {
  /** pixel = value * k + m */
  readonly k: number;
  readonly m: number;
}

export const scaleOf = (lo: number, hi: number, from: number, to: number): Scale => {
  const k = (to - from) / (hi - lo);
  return { k, m: from - lo * k };
};

/** Points as x, y pairs; a pair of NaN lifts the pen. */
export class Points {
  data = new Float32Array(4096);
  length = 0;

  clear(): void {
    this.length = 0;
  }

  push(x: number, y: number): void {
    if (this.length + 2 > this.data.length) {
      const more = new Float32Array(this.data.length * 2);
      more.set(this.data);
      this.data = more;
    }
    this.data[this.length++] = x;
    this.data[this.length++] = y;
  }

  lift(): void {
    if (this.length > 0 && !Number.isNaN(this.data[this.length - 1])) this.push(NaN, NaN);
  }
}

export interface Curve {
  readonly values: ArrayLike<number>; // NaN where missing
  readonly along: ArrayLike<number>; // place on the shared axis of each row
  readonly flags?: ArrayLike<number> | undefined; // samples flagged bad or missing are left out
  readonly breaks?: ArrayLike<number> | undefined; // 1: do not join this row with the one before
}

/** A stretch of the axis at one zoom, for which curves are thinned once and then only shifted. */
export interface Window {
  readonly along: Float64Array;
  readonly k: number; // pixels a unit of the axis
  readonly perPixel: number; // device pixels a pixel
  readonly from: number; // rows shown
  readonly to: number;
  readonly lo: number; // of the axis
  readonly hi: number;
  /** Runs of rows within [lo, hi], each with the neighbours beyond its ends. */
  readonly runs: readonly (readonly [number, number])[];
}

/** The window that shows [lo, hi] with as much again on either side; the old one where it still serves. */
export function windowOf(old: Window | undefined, along: Float64Array, k: number, perPixel: number, from: number, to: number, lo: number, hi: number): Window {
  if (old !== undefined && old.along === along && old.k === k && old.perPixel === perPixel && old.from === from && old.to === to && lo >= old.lo && hi <= old.hi) return old;
  const [a, z] = [lo - (hi - lo), hi + (hi - lo)];
  const runs: (readonly [number, number])[] = [];
  let start = -1, last = NaN;
  for (let i = from; i < to; i++) {
    const p = along[i] as number;
    // A step over the whole window counts, too: its line crosses the screen.
    const near = (p >= a && p <= z) || (last < a && p > z) || (last > z && p < a);
    if (near && start < 0) start = i;
    if (!near && start >= 0) {
      runs.push([Math.max(from, start - 1), i + 1]);
      start = -1;
    }
    if (p === p) last = p;
  }
  if (start >= 0) runs.push([Math.max(from, start - 1), to]);
  return { along, k, perPixel, from, to, lo: a, hi: z, runs };
}

/** What of a curve has to be drawn in a window: values and places in pixels, before they are shifted. NaN lifts the pen. */
export interface Thinned {
  readonly value: Float64Array;
  readonly place: Float64Array;
  readonly n: number;
}

let spareValue = new Float64Array(4096), sparePlace = new Float64Array(4096);

/** Of all samples on one line of pixels in a row keeps the first, the smallest, the largest and the last. */
export function thin(c: Curve, w: Window): Thinned {
  const { values, flags, breaks } = c;
  const { along, k, perPixel } = w;
  let count = 0;
  for (const [from, to] of w.runs) count += to - from + 1;
  if (spareValue.length < 2 * count + 2) {
    spareValue = new Float64Array(3 * count + 2);
    sparePlace = new Float64Array(3 * count + 2);
  }
  const V = spareValue, P = sparePlace, scale = k * perPixel;
  let out = 0;
  for (const [from, to] of w.runs) {
    let n = 0, bucket = 0;
    let firstV = 0, firstP = 0, lastV = 0, lastP = 0, minV = 0, minP = 0, minAt = 0, maxV = 0, maxP = 0, maxAt = 0;
    for (let i = from; i <= to; i++) {
      const end = i === to;
      const v = end ? NaN : (values[i] as number), a = end ? NaN : (along[i] as number);
      const f = flags === undefined || end ? 1 : (flags[i] as number);
      const gone = v !== v || a !== a || f === 4 || f === 9;
      const apart = gone || (breaks !== undefined && breaks[i] === 1);
      const b = gone ? 0 : Math.round(a * scale);
      if (n > 0 && (apart || b !== bucket)) {
        V[out] = firstV;
        P[out++] = firstP;
        if (n > 2) {
          const low = minAt > 0 && minAt < n - 1, high = maxAt > 0 && maxAt < n - 1;
          if (low && minAt <= maxAt) {
            V[out] = minV;
            P[out++] = minP;
          }
          if (high) {
            V[out] = maxV;
            P[out++] = maxP;
          }
          if (low && minAt > maxAt) {
            V[out] = minV;
            P[out++] = minP;
          }
        }
        if (n > 1) {
          V[out] = lastV;
          P[out++] = lastP;
        }
        n = 0;
      }
      if (apart && out > 0 && V[out - 1] === V[out - 1]) {
        V[out] = NaN;
        P[out++] = NaN;
      }
      if (gone) continue;
      const p = a * k;
      if (n === 0) {
        bucket = b;
        firstV = minV = maxV = v;
        firstP = minP = maxP = p;
        minAt = maxAt = 0;
      } else if (v < minV) {
        minV = v;
        minP = p;
        minAt = n;
      } else if (v > maxV) {
        maxV = v;
        maxP = p;
        maxAt = n;
      }
      lastV = v;
      lastP = p;
      n++;
    }
  }
  if (out > 0 && V[out - 1] !== V[out - 1]) out--;
  return { value: V.slice(0, out), place: P.slice(0, out), n: out };
}

/** Shifts a thinned curve to its place on screen; what is wholly outside [top, bottom] is left out, but lines leave the screen rightly. */
export function emit(t: Thinned, x: Scale, m: number, top: number, bottom: number, out: Points): void {
  const { value, place, n } = t;
  const above = top - 2, below = bottom + 2;
  let outside = 0; // −1 above, 1 below, 0 within
  let held = -1; // last point outside, kept for joining
  for (let i = 0; i < n; i++) {
    const py = (place[i] as number) + m;
    if (py !== py) {
      if (outside === 0) out.lift();
      outside = 0;
      held = -1;
      continue;
    }
    const side = py < above ? -1 : py > below ? 1 : 0;
    if (side !== 0) {
      if (held >= 0 && side !== outside) {
        // From one side to the other within one step: the line crosses the screen.
        out.push((value[held] as number) * x.k + x.m, (place[held] as number) + m);
        out.push((value[i] as number) * x.k + x.m, py);
        out.lift();
      } else if (held < 0 && i > 0 && place[i - 1] === place[i - 1]) {
        out.push((value[i] as number) * x.k + x.m, py);
        out.lift();
      }
      outside = side;
      held = i;
      continue;
    }
    if (held >= 0) out.push((value[held] as number) * x.k + x.m, (place[held] as number) + m);
    outside = 0;
    held = -1;
    out.push((value[i] as number) * x.k + x.m, py);
  }
}

/** Writes rows [from, to) of a curve, thinned and shifted, into out. x and y turn values and places into pixels. */
export function trace(c: Curve & { readonly along: Float64Array }, from: number, to: number, x: Scale, y: Scale, top: number, bottom: number, perPixel: number, out: Points): void {
  const a = (top - y.m) / y.k, z = (bottom - y.m) / y.k;
  emit(thin(c, windowOf(undefined, c.along, y.k, perPixel, from, to, Math.min(a, z), Math.max(a, z))), x, y.m, top, bottom, out);
}

/** A band by line of pixels: value − spread, value + spread, place in pixels before it is shifted; NaN between runs. */
export interface Band {
  readonly low: Float64Array;
  readonly high: Float64Array;
  readonly place: Float64Array;
  readonly n: number;
}

let spareHigh = new Float64Array(4096);

/** The outline of value ± spread in a window; it stops where either is missing. */
export function band(c: Curve, spread: ArrayLike<number>, w: Window): Band {
  const { values, flags, breaks } = c;
  const { along, k } = w;
  let count = 0;
  for (const [from, to] of w.runs) count += to - from + 1;
  const need = 2 * count + 2;
  if (spareValue.length < need) {
    spareValue = new Float64Array(need + count);
    sparePlace = new Float64Array(need + count);
  }
  if (spareHigh.length < need) spareHigh = new Float64Array(need + count);
  const L = spareValue, H = spareHigh, P = sparePlace;
  let out = 0;
  for (const [from, to] of w.runs) {
    let n = 0, bucket = 0, low = 0, high = 0;
    for (let i = from; i <= to; i++) {
      const end = i === to;
      const v = end ? NaN : (values[i] as number), u = end ? NaN : (spread[i] as number), a = end ? NaN : (along[i] as number);
      const f = flags === undefined || end ? 1 : (flags[i] as number);
      const gone = v !== v || u !== u || a !== a || f === 4 || f === 9;
      const apart = gone || (breaks !== undefined && breaks[i] === 1);
      const b = gone ? 0 : Math.round(a * k);
      if (n > 0 && (apart || b !== bucket)) {
        L[out] = low;
        H[out] = high;
        P[out++] = bucket;
        n = 0;
      }
      if (apart && out > 0 && P[out - 1] === P[out - 1]) L[out] = H[out] = P[out++] = NaN;
      if (gone) continue;
      if (n === 0) {
        bucket = b;
        low = v - u;
        high = v + u;
      } else {
        if (v - u < low) low = v - u;
        if (v + u > high) high = v + u;
      }
      n++;
    }
  }
  if (out > 0 && P[out - 1] !== P[out - 1]) out--;
  return { low: L.slice(0, out), high: H.slice(0, out), place: P.slice(0, out), n: out };
}

/** Shifts a band to its place on screen: its left and right edges. */
export function emitBand(t: Band, x: Scale, m: number, top: number, bottom: number, out: readonly Points[]): void {
  const [left, right] = [out[0] as Points, out[1] as Points];
  for (let i = 0; i < t.n; i++) {
    const py = (t.place[i] as number) + m;
    if (!(py >= top - 4 && py <= bottom + 4)) {
      left.lift();
      right.lift();
      continue;
    }
    left.push((t.low[i] as number) * x.k + x.m, py);
    right.push((t.high[i] as number) * x.k + x.m, py);
  }
}
