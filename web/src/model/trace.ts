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

/**
 * Writes rows [from, to) into out. x and y turn values and places into pixels; perPixel is
 * the number of device pixels a pixel has. Rows more than a screen outside [top, bottom]
 * are skipped, but neighbours of visible rows stay, so that lines leave the screen rightly.
 */
export function trace(c: Curve, from: number, to: number, x: Scale, y: Scale, top: number, bottom: number, perPixel: number, out: Points): void {
  const { values, along, flags, breaks } = c;
  let pen = false; // a run is open
  let bucket = 0;
  let firstX = 0, firstY = 0, lastX = 0, lastY = 0;
  let minX = 0, minY = 0, minAt = 0, maxX = 0, maxY = 0, maxAt = 0, n = 0;
  let outside = 0; // −1 above, 1 below, 0 within
  let heldX = NaN, heldY = NaN; // last sample outside, kept for joining

  const flush = (): void => {
    if (n === 0) return;
    out.push(firstX, firstY);
    if (n > 2) {
      if (minAt < maxAt) {
        if (minAt > 0 && minAt < n - 1) out.push(minX, minY);
        if (maxAt > 0 && maxAt < n - 1) out.push(maxX, maxY);
      } else {
        if (maxAt > 0 && maxAt < n - 1) out.push(maxX, maxY);
        if (minAt > 0 && minAt < n - 1 && minAt !== maxAt) out.push(minX, minY);
      }
    }
    if (n > 1) out.push(lastX, lastY);
    n = 0;
  };
  const lift = (): void => {
    flush();
    if (pen) out.lift();
    pen = false;
    outside = 0;
    heldX = NaN;
  };

  for (let i = from; i < to; i++) {
    const v = values[i] as number;
    const a = along[i] as number;
    const f = flags === undefined ? 1 : (flags[i] as number);
    if (v !== v || a !== a || f === 4 || f === 9) {
      lift();
      continue;
    }
    if (breaks !== undefined && breaks[i] === 1) lift();
    const px = v * x.k + x.m;
    const py = a * y.k + y.m;
    const side = py < top - 2 ? -1 : py > bottom + 2 ? 1 : 0;
    if (side !== 0) {
      if (side !== outside && outside !== 0 && heldX === heldX) {
        // From one side to the other within one step: the line crosses the screen.
        out.push(heldX, heldY);
        out.push(px, py);
        pen = true;
      } else if (n > 0) {
        flush();
        out.push(px, py);
        out.lift();
        pen = false;
      }
      outside = side;
      heldX = px;
      heldY = py;
      continue;
    }
    if (outside !== 0) {
      if (heldX === heldX) out.push(heldX, heldY);
      outside = 0;
      heldX = NaN;
    }
    pen = true;
    const b = Math.round(py * perPixel);
    if (n > 0 && b !== bucket) flush();
    if (n === 0) {
      bucket = b;
      firstX = minX = maxX = px;
      firstY = minY = maxY = py;
      minAt = maxAt = 0;
    } else {
      if (px < minX) {
        minX = px;
        minY = py;
        minAt = n;
      }
      if (px > maxX) {
        maxX = px;
        maxY = py;
        maxAt = n;
      }
    }
    lastX = px;
    lastY = py;
    n++;
  }
  flush();
}

/** The outline of value ± spread as left and right edges by line of pixels, for a band; runs are separated by NaN. */
export function envelope(c: Curve, spread: ArrayLike<number>, from: number, to: number, x: Scale, y: Scale, top: number, bottom: number, out: Points[]): void {
  const [left, right] = [out[0] as Points, out[1] as Points];
  let bucket = NaN, lo = 0, hi = 0, n = 0;
  const flush = (): void => {
    if (n === 0) return;
    left.push(lo, bucket);
    right.push(hi, bucket);
    n = 0;
  };
  const lift = (): void => {
    flush();
    left.lift();
    right.lift();
  };
  for (let i = from; i < to; i++) {
    const v = c.values[i] as number, u = spread[i] as number, a = c.along[i] as number;
    const f = c.flags === undefined ? 1 : (c.flags[i] as number);
    const py = Math.round(a * y.k + y.m);
    if (v !== v || u !== u || a !== a || f === 4 || f === 9 || py < top - 4 || py > bottom + 4) {
      lift();
      continue;
    }
    if (c.breaks !== undefined && c.breaks[i] === 1) lift();
    if (n > 0 && py !== bucket) flush();
    const a1 = (v - u) * x.k + x.m, b1 = (v + u) * x.k + x.m;
    if (n === 0) {
      bucket = py;
      lo = a1;
      hi = b1;
    } else {
      lo = Math.min(lo, a1);
      hi = Math.max(hi, b1);
    }
    n++;
  }
  flush();
}
