import assert from "node:assert/strict";
import { test } from "node:test";
import { band, emit, emitBand, Points, scaleOf, thin, trace, windowOf } from "../../src/model/trace";

const same = { k: 1, m: 0 };
const pairs = (p: Points): [number, number][] => Array.from({ length: p.length / 2 }, (_, i) => [p.data[2 * i] as number, p.data[2 * i + 1] as number]);
const drawnPairs = (p: Points): [number, number][] => pairs(p).filter(([x]) => x === x);

test("a spike of one sample among 40,000 is still drawn", () => {
  const n = 40_000;
  const along = Float64Array.from({ length: n }, (_, i) => i);
  const values = new Float32Array(n).fill(10);
  values[23_456] = 500;
  values[31_000] = -400;
  const out = new Points();
  trace({ values, along }, 0, n, same, scaleOf(0, n, 600, 0), 0, 600, 1, out);
  const xs = drawnPairs(out).map(([x]) => x);
  assert.ok(xs.includes(500) && xs.includes(-400), "the spikes are gone");
  assert.ok(out.length / 2 <= 4 * 602, `${out.length / 2} points for 601 lines of pixels`);
});

test("the extremes of every line of pixels are those of the samples on it", () => {
  const n = 5000;
  let seed = 7;
  const random = (): number => (seed = (seed * 16807) % 2147483647) / 2147483647;
  const values = Float32Array.from({ length: n }, () => random() * 100);
  const along = Float64Array.from({ length: n }, (_, i) => i);
  const y = scaleOf(0, n, 200, 0);
  const out = new Points();
  trace({ values, along }, 0, n, same, y, 0, 200, 1, out);
  const want = new Map<number, [number, number]>(), got = new Map<number, [number, number]>();
  const widen = (m: Map<number, [number, number]>, py: number, x: number): void => {
    const b = Math.round(py), r = m.get(b);
    if (r === undefined) m.set(b, [x, x]);
    else m.set(b, [Math.min(r[0], x), Math.max(r[1], x)]);
  };
  for (let i = 0; i < n; i++) widen(want, i * y.k + y.m, values[i] as number);
  for (const [x, py] of drawnPairs(out)) widen(got, Math.fround(py), x);
  let wrong = 0;
  for (const [b, r] of want) if (got.get(b)?.[0] !== r[0] || got.get(b)?.[1] !== r[1]) wrong++;
  // A point exactly between two lines of pixels may round to the other one once it is a 32-bit number.
  assert.ok(wrong <= 2, `${wrong} of ${want.size} lines of pixels lost an extreme`);
});

test("missing, bad and broken rows lift the pen; few samples stay all", () => {
  const values = [1, 2, NaN, 4, 5, 6, 7], along = Float64Array.of(0, 10, 20, 30, 40, 50, 60);
  const out = new Points();
  trace({ values, along, flags: [1, 1, 9, 1, 4, 3, 1], breaks: [0, 0, 0, 0, 0, 0, 1] }, 0, 7, same, same, 0, 100, 1, out);
  assert.deepEqual(pairs(out).map(([x]) => x), [1, 2, NaN, 4, NaN, 6, NaN, 7]);
});

test("a line that leaves the screen goes to its edge and comes back, also when it turns", () => {
  const along = Float64Array.of(-50, 50, 150, 120, 60, -300, 400);
  const values = [0, 1, 2, 3, 4, 5, 6];
  const out = new Points();
  trace({ values, along }, 0, 7, same, same, 0, 100, 1, out);
  const joined: string[] = [];
  const p = pairs(out);
  for (let i = 1; i < p.length; i++) {
    const [a] = p[i - 1] as [number, number], [b] = p[i] as [number, number];
    if (a === a && b === b) joined.push(`${a}-${b}`);
  }
  for (const want of ["0-1", "1-2", "3-4", "4-5", "5-6"]) assert.ok(joined.includes(want), `the line from ${want} is missing in ${joined.join(" ")}`);
});

test("a band spans value ± uncertainty and stops where either is missing", () => {
  const out = [new Points(), new Points()];
  const along = Float64Array.of(0, 1, 2, 3);
  emitBand(band({ values: [10, 10, 10, 10], along }, [1, 2, NaN, 3], windowOf(undefined, along, 1, 1, 0, 4, 0, 100)), same, 0, 0, 100, out);
  assert.deepEqual(pairs(out[0] as Points), [[9, 0], [8, 1], [NaN, NaN], [7, 3]]);
  assert.deepEqual(pairs(out[1] as Points), [[11, 0], [12, 1], [NaN, NaN], [13, 3]]);
});

test("what was thinned for a window serves while one pans in it, and shows what drawing anew would show", () => {
  const n = 20_000;
  let seed = 11;
  const random = (): number => (seed = (seed * 16807) % 2147483647) / 2147483647;
  const values = Float32Array.from({ length: n }, (_, i) => (i % 997 === 0 ? NaN : 50 + 30 * Math.sin(i / 300) + random()));
  const along = Float64Array.from({ length: n }, (_, i) => (i < 12_000 ? i : 24_000 - 1.7 * i + 0.7 * 12_000)); // up, and down again faster
  let w = windowOf(undefined, along, -0.5, 1, 0, n, 4000, 5200);
  const first = w, kept = thin({ values, along }, w);
  let moved = 0;
  for (let lo = 4000; lo < 5000; lo += 37) {
    const y = scaleOf(lo, lo + 1200, 600, 0);
    w = windowOf(w, along, -0.5, 1, 0, n, lo, lo + 1200);
    assert.equal(w, first, "the window was made anew within its margin");
    const a = new Points(), b = new Points();
    emit(kept, same, y.m, 0, 600, a);
    trace({ values, along }, 0, n, same, { k: -0.5, m: y.m }, 0, 600, 1, b);
    const visible = (p: Points): string[] => pairs(p).filter(([x, py]) => x === x && py >= 0 && py <= 600).map(([x, py]) => `${x.toFixed(3)} ${py.toFixed(2)}`);
    assert.deepEqual(visible(a), visible(b));
    moved += visible(a).length;
  }
  assert.ok(moved > 10_000, "hardly anything was visible: this proves nothing");
  assert.notEqual(windowOf(w, along, -0.5, 1, 0, n, 9000, 10_200), first);
  assert.notEqual(windowOf(w, along, -0.6, 1, 0, n, 4000, 5200), first);
});

test("a window keeps the rows whose line crosses it, and leaves out those far off", () => {
  const along = Float64Array.of(0, 10, 20, 1000, 2000, 5000, 9000, 9010);
  assert.deepEqual(windowOf(undefined, along, 1, 1, 0, 8, 3000, 3100).runs, [[4, 7]]);
  assert.deepEqual(windowOf(undefined, along, 1, 1, 0, 8, 8, 22).runs, [[0, 4]]);
});
