// Round numbers for scales.

/** The step of 1, 2 or 5 times a power of ten that cuts a range into at most n parts. */
export function step(range: number, n: number): number {
  if (!(range > 0) || !(n > 0)) return 1;
  const rough = range / n;
  const power = 10 ** Math.floor(Math.log10(rough));
  for (const m of [1, 2, 5, 10]) if (m * power >= rough * (1 - 1e-9)) return m * power;
  return 10 * power;
}

/** Multiples of a step within [lo, hi]. */
export function multiples(lo: number, hi: number, by: number): number[] {
  const out: number[] = [];
  if (!(hi >= lo) || !(by > 0) || (hi - lo) / by > 1000) return out;
  for (let k = Math.ceil(lo / by - 1e-9); k * by <= hi + by * 1e-9; k++) out.push(Number((k * by).toPrecision(12)));
  return out;
}

/** A range widened to whole steps, so that it stands still while one pans a little. */
export function snapped(lo: number, hi: number, least: number, n: number): [number, number] {
  if (!(hi >= lo)) return [0, 1];
  const extra = Math.max(0, least - (hi - lo)) / 2;
  const by = step(hi - lo + 2 * extra, n);
  const a = Math.floor((lo - extra) / by + 1e-6) * by;
  const b = Math.ceil((hi + extra) / by - 1e-6) * by;
  return b > a ? [a, b] : [a, a + by];
}

/** Decimals a step needs. */
export function decimalsOf(by: number): number {
  for (let d = 0; d < 6; d++) if (Math.abs(by * 10 ** d - Math.round(by * 10 ** d)) < 1e-6 * by * 10 ** d) return d;
  return 6;
}
