import assert from "node:assert/strict";
import { test } from "node:test";
import { landingSketch } from "../../src/chart/landing";
import { age, awayText, compass, countdown, kilometres, placeText } from "../../src/model/live";

test("ages and countdowns as they are read across a vehicle", () => {
  assert.deepEqual(age(null), { figure: "–", unit: "" });
  assert.deepEqual(age(0.4), { figure: "0", unit: "s" });
  assert.deepEqual(age(99.9), { figure: "99", unit: "s" });
  assert.deepEqual(age(150), { figure: "2", unit: "min" });
  assert.deepEqual(age(7200), { figure: "2.0", unit: "h" });
  assert.deepEqual(age(10 * 86400), { figure: "10", unit: "days" });
  assert.deepEqual(countdown(0), { figure: "0:00", unit: "min:s" });
  assert.deepEqual(countdown(-5), { figure: "0:00", unit: "min:s" });
  assert.deepEqual(countdown(3599.6), { figure: "60:00", unit: "min:s" });
  assert.deepEqual(countdown(7500), { figure: "2:05", unit: "h:min" });
  assert.deepEqual(countdown(null), { figure: "–", unit: "" });
});

test("places: kilometres, also over the date line, and words", () => {
  const start = { latitude_deg: 60, longitude_deg: 179.9 };
  const [east, north] = kilometres({ latitude_deg: 60.1, longitude_deg: -179.9 }, start);
  // GeodSolve -i of GeographicLib 2.1.2: 15757.5 m towards 44.918° (WGS 84); the sphere may be off by 0.5 %.
  assert.ok(Math.abs(east / 11.126 - 1) < 0.006, `${east} km east`);
  assert.ok(Math.abs(north / 11.158 - 1) < 0.006, `${north} km north`);
  assert.equal(placeText({ latitude_deg: -12.5, longitude_deg: 130.25 }), "12.5000° S, 130.2500° E");
  assert.equal(compass(359), "N");
  assert.equal(compass(68), "ENE");
  assert.equal(awayText(12340, 68), "12.3 km towards ENE (68°)");
  assert.equal(awayText(null, 68), "");
});

test("the sketch keeps everything inside its box and rings round", () => {
  const at = (north: number, east: number) => ({ latitude_deg: 46 + north / 111.2, longitude_deg: 22 + east / (111.2 * Math.cos((46 * Math.PI) / 180)) });
  const d = landingSketch({ start: at(0, 0), track: [at(0, 0), at(5, 20)], now: at(5, 20), ahead: [at(5, 20), at(-10, 60)], ellipse: [at(0, 60), at(-10, 70), at(-20, 60), at(-10, 50)], landing: at(-10, 60) }, 360, 250);
  for (const p of [d.track, d.ahead, d.ellipse]) {
    for (const [, x, y] of p.matchAll(/[ML](-?[\d.]+) (-?[\d.]+)/g)) assert.ok(Number(x) >= 0 && Number(x) <= 360 && Number(y) >= 0 && Number(y) <= 250, `${x} ${y}`);
  }
  assert.ok(d.ellipse.endsWith("Z"));
  assert.ok((d.landing?.[1] ?? 0) > (d.start[1] as number), "south is not down");
  assert.ok(d.rings.length >= 2);
  const none = landingSketch({ start: at(0, 0), track: [], now: null, ahead: [], ellipse: [], landing: null }, 360, 250);
  assert.equal(none.track, "");
  assert.ok(none.rings.every((r) => Number.isFinite(r.r)));
});
