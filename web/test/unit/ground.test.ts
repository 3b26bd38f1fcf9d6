import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { gunzipSync } from "node:zlib";
import { drawGround, graticule, groundNote, PathText, scaleBar, sheetOf } from "../../src/chart/ground";
import { boundsOf, Ground, Plane, within } from "../../src/model/ground";

const packed = gunzipSync(readFileSync(join(process.env["LEADLINE_WEB"] ?? ".", "src", "ground.bin.gz")));
const buffer = packed.buffer.slice(packed.byteOffset, packed.byteOffset + packed.byteLength) as ArrayBuffer;
const ground = new Ground(buffer);

// Distances and bearings by GeodSolve -i of GeographicLib 2.1.2 (WGS 84); the sphere may be off by 0.5 %.
test("the plane has distances and bearings of the earth, over the date line and a pole, too", () => {
  const known = [[60, 179.9, 60.1, -179.9, 15757.5, 44.918], [46, 22, 48, 25, 318538.1, 44.652], [-16.5, 179.5, -17.2, -179.2, 158727.7, 119.4], [89.5, 10, 89.5, -170, 111694, 0]] as const;
  for (const [lat0, lon0, lat, lon, metres, bearing] of known) {
    const p = new Plane(lat0, lon0);
    p.to(lat, lon);
    assert.ok(Math.abs(Math.hypot(p.east, p.north) * 1000 / metres - 1) < 0.005, `${Math.hypot(p.east, p.north)} km, ${metres} m by GeodSolve`);
    assert.ok(Math.abs((Math.atan2(p.east, p.north) * 180) / Math.PI - bearing) < 0.3, `bearing ${(Math.atan2(p.east, p.north) * 180) / Math.PI}, not ${bearing}`);
    const [back, away] = p.from(p.east, p.north);
    assert.ok(Math.abs(back - lat) < 1e-9 && Math.abs((((lon0 + away - lon + 540) % 360) + 360) % 360 - 180) < 1e-9, `${back} ${away}`);
  }
});

// Common geography, no source: the middles of continents, seas and lakes are where everybody knows them.
test("land is land and water is water all round the globe", () => {
  const land = [[46, 21.8], [40, -100], [-10, -55], [0, 20], [60, 90], [-25, 135], [-85, 0], [-85, -180], [-89.9, 30], [72, -40], [67, 178.5], [67.5, -178.5], [68, 179.9], [-18, 178], [0, 25], [5, 30]] as const;
  const sea = [[0, -30], [0, 0], [40, -40], [-40, 180], [-60, -180], [0, -180], [89.9, 0], [80, -179.99], [42, 50.5], [36, 18], [43, 34], [-45, 90], [58, 20], [60, -85]] as const;
  const lakes = [[47.7, -87.5], [-1, 33], [53.5, 108], [60.8, 31.5], [58.9, 13.5]] as const;
  for (const [lat, lon] of land) assert.ok(within(ground, "land", lat, lon), `${lat} ${lon} is no land`);
  for (const [lat, lon] of sea) assert.ok(!within(ground, "land", lat, lon), `${lat} ${lon} is land`);
  for (const [lat, lon] of lakes) assert.ok(within(ground, "lakes", lat, lon), `${lat} ${lon} is no lake`);
});

// The share of land: 148.94 of 510.07 million km² (CIA, The World Factbook, World: Area), ice shelves apart, so within 2 %.
test("the cells hold the land of the whole earth, once", () => {
  let land = 0, all = 0;
  for (let lat = -89.75; lat < 90; lat += 0.5) {
    const w = Math.cos((lat * Math.PI) / 180);
    for (let lon = -179.75; lon < 180; lon += 0.5) {
      all += w;
      if (within(ground, "land", lat, lon)) land += w;
    }
  }
  assert.ok(Math.abs(land / all - 148.94 / 510.07) < 0.006, `${land / all} of the earth is land`);
});

const view = (lat: number, lon: number, km: number) => sheetOf(new Plane(lat, lon), 360, 360, 0, 0, 180 / km);
const coast = (lat: number, lon: number, km: number): PathText => {
  const pen = new PathText();
  drawGround(ground, view(lat, lon, km), "coast", pen);
  return pen;
};

test("no coast runs along the date line, the edges of cells or the pole", () => {
  for (const [lat, lon] of [[-85, 180], [-85, 0], [-80, -100], [68, 180], [50, 25], [50, 30]] as const) {
    const s = view(lat, lon, 250), pen = new PathText();
    drawGround(ground, s, "coast", pen);
    for (const run of pen.text.split("M").slice(1)) {
      const points = run.split("L").map((p) => p.split(" ").map(Number) as [number, number]);
      for (let i = 1; i < points.length; i++) {
        const [a, z] = [points[i - 1]!, points[i]!];
        const inside = ([x, y]: [number, number]): boolean => x >= 0 && x <= 360 && y >= 0 && y <= 360;
        if (!inside(a) || !inside(z)) continue;
        // Natural Earth has no straight coast of 60 km here; a seam would be 5 degrees long.
        assert.ok(Math.hypot(a[0] - z[0], a[1] - z[1]) / s.k < 60, `a straight coast of ${Math.hypot(a[0] - z[0], a[1] - z[1]) / s.k} km at ${lat} ${lon}`);
      }
    }
  }
  assert.equal(coast(46.3, 21.8, 60).text, "", "there is no coast in the middle of the plain");
  assert.ok(coast(60.2, 24.9, 60).text.length > 500, "there is a coast at 60.2° N 24.9° E");
});

test("what is filled is what lies inside, also of rings far larger than the map", () => {
  // The winding of the path drawn decides as the places themselves do.
  for (const [lat, lon, km] of [[60.2, 24.9, 60], [-16.8, 179.9, 80], [67, -179, 200], [-77.85, 166.7, 60], [-89.6, 0, 150]] as const) {
    const s = view(lat, lon, km), rings: [number, number][][] = [];
    drawGround(ground, s, "land", { moveTo: (x, y) => rings.push([[x, y]]), lineTo: (x, y) => rings[rings.length - 1]!.push([x, y]), closePath: () => undefined });
    let wrong = 0, n = 0;
    for (let x = 5; x < 360; x += 14) {
      for (let y = 5; y < 360; y += 14) {
        let turns = 0;
        for (const r of rings) {
          r.forEach(([x0, y0], i) => {
            const [x1, y1] = r[(i + 1) % r.length]!;
            if (y0 <= y !== y1 <= y && x0 + ((y - y0) / (y1 - y0)) * (x1 - x0) > x) turns += y1 > y0 ? 1 : -1;
          });
        }
        const [la, away] = s.plane.from(s.west + x / s.k, s.north - y / s.k);
        const lo = ((((lon + away + 180) % 360) + 360) % 360) - 180;
        n++;
        if ((turns !== 0) !== within(ground, "land", la, lo)) wrong++;
      }
    }
    assert.ok(wrong / n < 0.01, `${wrong} of ${n} places at ${lat} ${lon} are filled wrongly`);
  }
});

test("the lines of the globe stand at round degrees with their letters", () => {
  const words = (lat: number, lon: number, km: number): string[] => graticule(view(lat, lon, km)).filter((l) => l.at !== undefined).map((l) => l.label);
  assert.deepEqual(words(46.3, 21.8, 60), ["46° N", "46°20′ N", "46°40′ N", "21°30′ E", "22° E"]);
  assert.ok(words(-16.8, 179.9, 120).includes("180°"), words(-16.8, 179.9, 120).join());
  assert.ok(words(0.1, 0.1, 80).includes("0°"));
  assert.ok(boundsOf(view(89.9, 10, 60))!.north === 90);
  assert.ok(graticule(view(89.9, 10, 60)).length >= 12, "no meridians at the pole");
  for (const km of [0.3, 5, 60, 300, 2000]) {
    const bar = scaleBar(view(46.3, 21.8, km));
    assert.ok(bar.pixels >= 30 && bar.pixels <= 90, `a bar of ${bar.pixels} pixels`);
  }
});

test("the map says how far it can be believed", () => {
  assert.match(groundNote(ground, view(60.2, 24.9, 60), true), /coast to about 1 km, lakes to about 5 km/);
  assert.equal(groundNote(ground, view(46.3, 21.8, 60), false), "no coast or larger lake here");
  assert.equal(groundNote(ground, view(0, -30, 60), false), "open sea, no coast here");
  assert.equal(groundNote(ground, view(47.7, -87.5, 10), false), "on a lake, no shore here");
  assert.match(groundNote("absent", view(0, 0, 10), false), /could not be loaded/);
  assert.equal(boundsOf(view(0, 0, 9000)), undefined);
});

test("bytes that are no coastline are refused with a sentence", () => {
  assert.throws(() => new Ground(new ArrayBuffer(3)), /no coastline/);
  assert.throws(() => new Ground(buffer.slice(4)), /no coastline/);
  assert.throws(() => new Ground(buffer.slice(0, buffer.byteLength - 1)), /cut off/);
});
