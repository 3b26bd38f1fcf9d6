// Records of what each chart draws, kept in test/snapshots; recorder.ts says why and how.
// They are made anew by LEADLINE_SNAPSHOTS=write npm test, after the screens were looked at.
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { after, test } from "node:test";
import { gunzipSync } from "node:zlib";
import type { Columns, Values } from "../../src/api/columns";
import type { Decision, Diagram, Event, Finding, Flight, Level, ParcelPath } from "../../src/api/types";
import { drawBench } from "../../src/chart/bench";
import { drawDiagram, markDiagram } from "../../src/chart/diagram";
import { drawGround, graticule, PathText, scaleBar } from "../../src/chart/ground";
import { drawHodograph, markHodograph } from "../../src/chart/hodograph";
import { landingSketch } from "../../src/chart/landing";
import { layout } from "../../src/chart/layout";
import { drawOverlay } from "../../src/chart/overlay";
import type { Palette } from "../../src/chart/palette";
import { sketch } from "../../src/chart/sketch";
import { drawTrack, markTrack } from "../../src/chart/track";
import { Bench } from "../../src/model/bench";
import { Ground } from "../../src/model/ground";
import { measuringFlags, phasesDrawn, phasesNote } from "../../src/model/heating";
import { Profile } from "../../src/model/profile";
import { compared, difference, names, palettes, Recorder, snapshotPath } from "./recorder";

// The pattern of withheld spans is drawn on a small canvas of its own.
globalThis.document ??= { createElement: () => ({ getContext: () => null }) } as unknown as Document;

const packed = gunzipSync(readFileSync(join(process.env["LEADLINE_WEB"] ?? ".", "src", "ground.bin.gz")));
const ground = new Ground(packed.buffer.slice(packed.byteOffset, packed.byteOffset + packed.byteLength) as ArrayBuffer);

const zero = "2031-06-03T23:00:00.000Z";
const utc = (s: number): string => new Date(Date.parse(zero) + 1000 * s).toISOString();
const event = (row: number, n: number, z: number): Event => ({ found: row < n, row, line: row + 2, time_s: row, utc: utc(row), u_s: 0.5, height_m_msl: z, pressure_hpa: null, method: "" });

interface Made {
  readonly rows?: number; // of the ascent; a tenth as many lie before release, a quarter after burst
  readonly without?: RegExp;
  readonly bad?: boolean;
  readonly at?: readonly [number, number];
  readonly change?: (name: string, values: Float32Array) => void;
}

/** A flight of simple waves: every curve differs from every other, with a gap, flags of each kind, heating and a decision. */
function made({ rows = 1200, without, bad = false, at = [60.05, 24.7], change }: Made = {}): { flight: Flight; columns: Columns } {
  const ground0 = rows / 10, burst = ground0 + rows, n = Math.round(burst + rows / 4);
  const all = new Map<string, Values>();
  const s = (i: number): number => (i - ground0) / rows; // 0 at release, 1 at burst
  const part = (i: number): number => (i < ground0 ? 0 : i < burst ? s(i) : Math.max(0, 1 - ((i - burst) / (n - burst)) * 0.9));
  const put = (name: string, f: (i: number, up: number) => number, u?: number): void => {
    if (without?.test(name) === true) return;
    const last = Float32Array.from({ length: n }, (_, i) => f(i, part(i)));
    const flag = new Uint8Array(n).fill(bad ? 4 : 1);
    if (!bad) {
      const at = (a: number, z: number, v: number): void => void flag.fill(v, Math.round(ground0 + a * rows), Math.round(ground0 + z * rows));
      if (name.startsWith("wind")) {
        at(0.42, 0.47, 9);
        last.fill(NaN, Math.round(ground0 + 0.42 * rows), Math.round(ground0 + 0.47 * rows));
      }
      if (name === "temperature") at(0.6, 0.64, 3);
      if (name === "humidity_a") at(0.2, 0.24, 4);
    }
    change?.(name, last);
    all.set(`${name}/final`, last);
    all.set(`${name}/flag`, flag);
    all.set(`${name}/raw`, last.map((v, i) => v + (name === "temperature" ? 0.8 : name.startsWith("humidity_") ? 4 : 0.5) * Math.sin(i / 9)));
    all.set(`${name}/raw_flag`, flag);
    if (u !== undefined) all.set(`${name}/u`, new Float32Array(n).fill(u));
  };
  const z = (up: number): number => 120 + 24_000 * up;
  all.set("time/", Float64Array.from({ length: n }, (_, i) => i - ground0));
  all.set("line/", Int32Array.from({ length: n }, (_, i) => i + 2));
  put("height_msl", (_, up) => z(up));
  put("pressure", (_, up) => 1005 * Math.exp(-z(up) / 7200));
  put("temperature", (_, up) => 291 - 75 * Math.min(up * 2, 1) + 20 * Math.max(0, up - 0.5) + Math.sin(40 * up), 0.6);
  put("dew_point", (_, up) => 286 - 90 * Math.min(up * 2, 1) + 3 * Math.sin(33 * up), 1.5);
  put("humidity", (_, up) => 55 + 35 * Math.sin(12 * up) * (1 - up), 3);
  put("humidity_a", (i, up) => (Math.floor(i / 30) % 2 === 0 ? 53 + 35 * Math.sin(12 * up) * (1 - up) : 6), 4);
  put("humidity_b", (i, up) => (Math.floor(i / 30) % 2 === 1 ? 57 + 35 * Math.sin(12 * up) * (1 - up) : 5), 4);
  put("heating_a", (i) => (Math.floor(i / 30) % 2 === 1 ? 1 : 0));
  put("heating_b", (i) => (Math.floor(i / 30) % 2 === 0 ? 1 : 0));
  const u = (up: number): number => 4 + 26 * Math.sin(3 * up), v = (up: number): number => -6 + 14 * Math.cos(7 * up);
  put("wind_u", (_, up) => u(up), 0.7);
  put("wind_v", (_, up) => v(up), 0.7);
  put("wind_speed", (_, up) => Math.hypot(u(up), v(up)), 0.7);
  put("wind_direction", (_, up) => (((Math.atan2(-u(up), -v(up)) * 180) / Math.PI) + 360) % 360, 4);
  put("velocity_east", (i, up) => u(up) + Math.sin(i));
  put("velocity_north", (i, up) => v(up) + Math.cos(i));
  put("ascent_rate", (i, up) => (i < burst ? 5 + 0.5 * Math.sin(20 * up) : -12), 0.2);
  put("velocity_up", (i, up) => (i < burst ? 5.2 + 0.5 * Math.sin(20 * up) : -12));
  if (without?.test("ice_saturation") !== true) all.set("ice_saturation/", Float32Array.from({ length: n }, (_, i) => 100 - 45 * part(i)));
  if (without?.test("barometer") !== true) all.set("barometer_minus_satellite/", Float32Array.from({ length: n }, (_, i) => 8 * Math.sin(5 * part(i)) - 4));
  if (without?.test("latitude") !== true) {
    for (const [name, from, by] of [["latitude", at[0], 0.25], ["longitude", at[1], 0.9]] as const) {
      const x = Float64Array.from({ length: n }, (_, i) => from + by * Math.max(0, (i - ground0) / (n - ground0)) ** 2);
      all.set(`${name}/final`, name === "longitude" ? x.map((lon) => ((lon + 540) % 360) - 180) : x);
      all.set(`${name}/flag`, new Uint8Array(n).fill(bad ? 4 : 1));
    }
  }
  const row = (up: number): number => Math.round(ground0 + up * rows);
  const finding = (id: string, more: Partial<Finding>, ...spans: readonly (readonly [number, number])[]): Finding => ({
    id, check: "spike", variable: "temperature", severity: "bad", stage: "raw", spans: spans.map(([a, b]) => ({ from_row: row(a), to_row: row(b) })), first_line: 0, last_line: 0, first_time_s: null, last_time_s: null, first_utc: "", last_utc: "",
    bottom_m_msl: null, top_m_msl: null, measured: null, limit: null, unit: "", sentence: "", ...more,
  });
  const findings = [finding("f1", {}, [0.6, 0.64]), finding("f2", { variable: "humidity_a", severity: "questionable" }, [0.2, 0.24], [0.8, 0.81]), finding("f3", { variable: "wind_u", severity: "note" }, [0.42, 0.47]),
    finding("f4", { variable: "pressure", severity: "questionable", state: "accepted" }, [0.3, 0.5]), finding("f5", { variable: "height_msl" }, [0.05, 0.06]), finding("f6", { variable: "none", severity: "note" }, [0.9, 1.1])];
  const decision = { id: "d1", action: "exclude" as const, variables: ["humidity" as const], from_utc: utc(row(0.7) - ground0), to_utc: utc(row(0.75) - ground0), reason: "ice", who: "first reviewer" } as Decision;
  const level = (p: number, kinds: readonly string[], more: Partial<Level> = {}): Level => ({ pressure_hpa: p, height_m_msl: -7200 * Math.log(p / 1005), time_s: (-7200 * Math.log(p / 1005) - 120) / 20, kinds, wind_speed_m_s: 3 + (1000 - p) / 30, wind_direction_deg: 200 + p / 10, ...more }) as unknown as Level;
  const flight = {
    id: "1", name: "north-pier", revision: 0, rows: n, zero_utc: zero, summary: [], verdict: { word: "look", line: "", reasons: [] },
    events: { release: event(ground0, n, 120), burst: event(burst, n, 24_120), top: event(burst, n, 24_120), landing: event(n, n, 0), end: "burst",
      phases: [{ phase: "before release", from_row: 0, to_row: ground0 }, { phase: "ascent", from_row: ground0, to_row: burst }, { phase: "descent", from_row: burst, to_row: n }] },
    record: [{ path: "site.latitude_deg", label: "", value: String(at[0]), unit: "°" }], findings, decisions: [decision], steps: [], runs: [],
    levels: { levels: [level(1000, ["surface"]), level(850, ["standard"]), level(700, ["standard"]), level(500, ["standard"]), level(300, ["standard", "maximum wind"]), level(200, ["tropopause"]), level(100, ["standard"])], tropopause_note: "" },
    tallies: [], sheet: { name: "", title: "" }, sources: [], variables: [], method_set: "",
  } as unknown as Flight;
  const columns: Columns = { header: { rows: n, revision: 0, zero_utc: zero, columns: [] }, get: (name, p) => all.get(`${name}/${p}`) };
  return { flight, columns };
}

const benchOf = (m?: Made): Bench => {
  const { flight, columns } = made(m);
  return new Bench(flight, columns);
};
const nothing: Bench = (() => {
  const { flight } = made();
  const none = { ...event(0, 0, 0), found: false };
  return new Bench({ ...flight, rows: 0, findings: [], decisions: [], levels: { ...flight.levels, levels: [] }, events: { ...flight.events, release: none, burst: none, top: none, landing: none, phases: [] } }, { header: { rows: 0, revision: 0, zero_utc: zero, columns: [] }, get: () => undefined });
})();

const record = (draw: (ctx: CanvasRenderingContext2D, ink: Palette) => void, ink: Palette = names): string => {
  const r = new Recorder(ink);
  draw(r.asContext(), ink);
  return r.lines.join("\n");
};
const panelsOf = (b: Bench, ink?: Palette, width = 900, height = 400, perPixel = 1): string => record((c, i) => drawBench(c, b, layout(width, height, b.panels()), i, perPixel), ink);
const overlayOf = (b: Bench, box?: { x0: number; y0: number; x1: number; y1: number }): string => record((c, i) => drawOverlay(c, b, layout(900, 400, b.panels()), i, box));

const used = new Set<string>();
const same = (name: string, got: string): void => {
  used.add(name);
  assert.ok(got.length > 0 || name.includes("empty"), `${name}: nothing was drawn`);
  assert.equal(compared(name, got), "", name);
};

test("panels and lanes: whole, without raw, on each axis, with descent, zoomed, boxed", () => {
  const b = benchOf();
  same("panels", panelsOf(b));
  b.toggle("raw");
  same("panels-without-raw", panelsOf(b));
  b.toggle("raw");
  b.toggle("components");
  same("panels-u-v", panelsOf(b));
  b.toggle("components");
  b.setAxis("pressure");
  same("panels-pressure", panelsOf(b));
  b.setAxis("time");
  b.toggle("before");
  b.toggle("descent");
  same("panels-time-whole-record", panelsOf(b));
  b.toggle("before");
  b.toggle("descent");
  b.setAxis("height");
  b.show(4000, 6500);
  same("panels-zoomed", panelsOf(b));
  b.box("temperature", 14_000, 16_000, -60, -50);
  same("panels-boxed", panelsOf(b));
  b.reset();
  b.goTo("f1");
  same("panels-finding", panelsOf(b));
  b.reset();
  same("panels-fine-screen", panelsOf(b, names, 900, 400, 2));
  same("panels-narrow", panelsOf(b, names, 620, 400));
});

test("panels with a comparison and with what a decision would change", () => {
  const b = benchOf();
  const { flight, columns } = made({ change: (name, v) => void (name === "temperature" && v.forEach((x, i) => (v[i] = x + 4))) });
  b.other = { name: "another flight", profile: new Profile(columns, flight) };
  same("panels-compared", panelsOf(b));
  b.other = undefined;
  b.after = new Profile(made({ change: (name, v) => void (name === "humidity" && v.forEach((x, i) => (v[i] = i > 600 && i < 800 ? x - 15 : x))) }).columns, flight);
  same("panels-previewed", panelsOf(b));
});

test("light and dark differ in nothing but their colours, each set and strong enough", () => {
  const { light, dark } = palettes();
  const b = benchOf();
  const plain = panelsOf(b);
  for (const [name, ink] of [["light", light], ["dark", dark]] as const) {
    for (const tone of Object.keys(names)) assert.match(ink[tone as keyof Palette] ?? "", /^#[0-9a-f]{6}$/, `${tone} in ${name}`);
    // Tones of one colour have one name in a record; all others must come out as they went in.
    const alias = (s: string): string => s.replace(/\b(bad|questionable|ice)\b/g, "ink");
    assert.equal(difference(alias(plain), alias(panelsOf(b, ink))), "", name);
    // WCAG 2.2, 1.4.11: lines 3 to 1 against what they stand on; 1.4.3: words 4.5 to 1.
    const luminance = (hex: string): number => {
      const [r, g, bl] = [1, 3, 5].map((k) => {
        const x = parseInt(hex.slice(k, k + 2), 16) / 255;
        return x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4;
      }) as [number, number, number];
      return 0.2126 * r + 0.7152 * g + 0.0722 * bl;
    };
    const contrast = (a: string, z: string): number => {
      const [x, y] = [luminance(a), luminance(z)];
      return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
    };
    for (const tone of ["temperature", "humidity", "sensor-a", "sensor-b", "wind", "ink", "raw", "ice", "select"] as const) assert.ok(contrast(ink[tone], ink.panel) >= 3, `${tone} on the panel in ${name}: ${contrast(ink[tone], ink.panel)}`);
    for (const under of ["panel", "paper", "water"] as const) assert.ok(contrast(ink.quiet, ink[under]) >= 4.5, `words on ${under} in ${name}: ${contrast(ink.quiet, ink[under])}`);
    same(`palette-${name}`, Object.keys(names).map((t) => `${t} "${ink[t as keyof Palette]}"`).join("\n"));
  }
});

test("the states: no humidity, 40,000 samples, bad all over, no sample", () => {
  same("state-no-humidity", panelsOf(benchOf({ without: /humidity|dew_point|heating|ice/ })));
  same("state-long", panelsOf(benchOf({ rows: 30_000 })));
  same("state-all-bad", panelsOf(benchOf({ bad: true })));
  same("state-empty", panelsOf(nothing));
  same("state-empty-diagram", record((c, i) => drawDiagram(c, nothing, undefined, undefined, 460, 430, i)));
  same("state-empty-hodograph", record((c, i) => drawHodograph(c, nothing, 360, 360, i)));
  same("state-empty-track", record((c, i) => drawTrack(c, nothing, ground, 360, 360, i)));
  same("state-empty-overlay", overlayOf(nothing));
});

test("cursor, span, finding and box", () => {
  const b = benchOf();
  same("overlay-bare", overlayOf(b));
  b.point(700);
  b.select({ from: 400, to: 520 }, "humidity");
  b.selected = "f2";
  same("overlay", overlayOf(b, { x0: 120, y0: 80, x1: 220, y1: 300 }));
});

const lines = (base: number, by: number): Diagram["dry_adiabats"] => [260, 290, 320].map((of) => ({ of, temperature_k: [1000, 700, 500, 300, 100].map((p) => of * (p / 1000) ** by - base) })) as unknown as Diagram["dry_adiabats"];
const furniture = { pressure_hpa: [1000, 700, 500, 300, 100], dry_adiabats: lines(0, 0.286), pseudo_adiabats: lines(0, 0.2), mixing_ratios: lines(10, 0.05) } as unknown as Diagram;
const parcel = { name: "mixed layer", pressure_hpa: [1000, 800, 600, 400, 200], temperature_k: [291, 280, 268, 245, 205], condensation_pressure_hpa: 880, condensation_temperature_k: 284 } as unknown as ParcelPath;

test("thermodynamic diagram with parcel, levels' winds and cursor", () => {
  const b = benchOf();
  same("diagram", record((c, i) => drawDiagram(c, b, furniture, parcel, 460, 430, i)));
  same("diagram-alone", record((c, i) => drawDiagram(c, b, undefined, undefined, 460, 430, i)));
  same("diagram-southern", record((c, i) => drawDiagram(c, benchOf({ at: [-40, 20] }), undefined, undefined, 460, 430, i)));
  b.point(500);
  same("diagram-cursor", record((c, i) => markDiagram(c, b, 460, 430, i)));
});

test("hodograph with marks of height and cursor", () => {
  const b = benchOf();
  same("hodograph", record((c, i) => drawHodograph(c, b, 360, 360, i)));
  b.point(500);
  same("hodograph-cursor", record((c, i) => markHodograph(c, b, 360, 360, i)));
  same("hodograph-no-wind", record((c, i) => drawHodograph(c, benchOf({ without: /wind/ }), 360, 360, i)));
});

test("track on its ground, at a coast, over the date line, at a pole, on the plain", () => {
  const track = (m: Made | undefined, g: Ground | "absent" | undefined): string => record((c, i) => drawTrack(c, benchOf(m), g, 360, 360, i));
  same("track-coast", track(undefined, ground));
  same("track-date-line", track({ at: [-16.9, 179.6] }, ground));
  same("track-pole", track({ at: [-89.8, 30] }, ground));
  same("track-plain", track({ at: [46.3, 21.8] }, ground));
  same("track-before-the-ground", track(undefined, undefined));
  same("track-ground-absent", track(undefined, "absent"));
  same("track-no-position", track({ without: /latitude/ }, ground));
  const b = benchOf();
  b.point(900);
  same("track-cursor", record((c, i) => markTrack(c, b, 360, 360, i)));
});

test("landing map: track, way ahead, area, rings and the ground below", () => {
  const at = (north: number, east: number) => ({ latitude_deg: 60.05 + north / 111.2, longitude_deg: 24.7 + east / (111.2 * Math.cos((60.05 * Math.PI) / 180)) });
  const ring = Array.from({ length: 24 }, (_, i) => at(-10 + 8 * Math.sin((i * Math.PI) / 12), 40 + 12 * Math.cos((i * Math.PI) / 12)));
  const d = landingSketch({ start: at(0, 0), track: [at(0, 0), at(3, 9), at(5, 20)], now: at(5, 20), ahead: [at(5, 20), at(0, 30), at(-10, 40)], ellipse: ring, landing: at(-10, 40) }, 360, 250);
  const under = (["land", "lakes", "coast", "borders"] as const).map((l) => {
    const pen = new PathText();
    drawGround(ground, d.sheet, l, pen);
    return `${l}: ${pen.text.length > 400 ? `${pen.text.slice(0, 200)} … ${pen.text.slice(-200)}` : pen.text}`;
  });
  same("landing", [`track ${d.track}`, `ahead ${d.ahead}`, `ellipse ${d.ellipse}`, `start ${d.start.join(" ")}`, `now ${d.now?.join(" ")}`, `landing ${d.landing?.join(" ")}`, `toward ${d.toward.map((x) => x.toFixed(2)).join(" ")}`,
    ...d.rings.map((r) => `ring "${r.label}" ${r.r.toFixed(1)}`), ...under, ...graticule(d.sheet).map((l) => `line "${l.label}" ${(l.at ?? []).map((x) => x.toFixed(1)).join(" ")}`), `scale "${scaleBar(d.sheet).label}" ${scaleBar(d.sheet).pixels.toFixed(1)}`].join("\n"));
});

test("sketches of the logbook", () => {
  const t = Array.from({ length: 30 }, (_, i) => 290 - 3 * i), u = Array.from({ length: 30 }, (_, i) => (i > 10 && i < 14 ? null : 50 + 45 * Math.sin(i / 4)));
  same("sketches", [sketch(t, 60, 24, 190, 310), sketch(u, 60, 24, 0, 100)].join("\n"));
  assert.equal(sketch(null, 60, 24, 0, 1), "");
});

test("a record notices a curve that is missing, moved by half a pixel, of another colour, width or dash, and one lost spike", () => {
  const b = benchOf();
  const plain = panelsOf(b);
  const all = plain.split("\n");
  for (const [i, line] of all.entries()) {
    if (!/points/.test(line)) continue;
    assert.notEqual(difference(plain, all.filter((_, k) => k !== i).join("\n")), "", `without ${line.slice(0, 60)}`);
  }
  const curve = all.findIndex((l) => l.startsWith("stroke temperature"));
  assert.ok(curve >= 0, "there is no curve of temperature");
  const other = (f: (l: string) => string): string => difference(plain, all.map((l, i) => (i === curve ? f(l) : l)).join("\n"));
  assert.equal(other((l) => l), "");
  assert.notEqual(other((l) => l.replace("temperature", "humidity")), "");
  assert.notEqual(other((l) => l.replace("width 1", "width 2")), "");
  assert.notEqual(other((l) => l.replace("width 1", "width 1 dash 3 2")), "");
  const shifted = (kelvin: number, rows: (i: number) => boolean): string => difference(plain, panelsOf(benchOf({ change: (name, v) => void (name === "temperature" && v.forEach((x, i) => (v[i] = rows(i) ? x + kelvin : x))) })));
  // The panel of temperature shows about 100 K on 200 pixels: 0.4 K is less than a pixel.
  assert.notEqual(shifted(0.4, () => true), "", "moved by less than a pixel");
  assert.notEqual(shifted(8, (i) => i === 500), "", "one spike more");
  assert.equal(shifted(0, () => true), "");
  const turned = panelsOf(benchOf({ change: (name, v) => void (name === "wind_direction" && v.forEach((x, i) => (v[i] = x + 4))) }));
  assert.notEqual(difference(plain, turned), "", "a direction turned by 4 degrees, less than a pixel");
  b.findings = b.findings.slice(1);
  assert.notEqual(difference(plain, panelsOf(b)), "", "a mark in the lanes is gone");
});

after(() => {
  const kept = readdirSync(dirname(snapshotPath("x"))).map((f) => f.replace(/\.txt$/, ""));
  assert.deepEqual(kept.filter((k) => !used.has(k)), [], "records that no test makes");
});

test("a heated sensor is out until its correction takes up again, and its phases are drawn only close up", () => {
  const { flight, columns } = made();
  const [on, first] = [columns.get("heating_a", "final") as Float32Array, columns.get("humidity_a", "raw") as Float32Array];
  const last = Float32Array.from(first, (v, i) => (on[i] === 1 || (i > 4 && on[i - 5] === 1) ? v : v + 1)); // 5 rows on the way back
  const b = new Bench(flight, { ...columns, get: (name, p) => (name === "humidity_a" && p === "final" ? last : columns.get(name, p)) });
  const flags = measuringFlags(b.profile, "humidity_a", true);
  assert.ok(flags !== undefined);
  for (let i = 200; i < 260; i++) assert.equal(flags[i] === 9, on[i] === 1 || on[i - 5] === 1, `row ${i}`);
  assert.equal(phasesDrawn(b), false);
  assert.match(phasesNote(b), /close up/);
  b.show(4000, 6500);
  assert.equal(phasesDrawn(b), true);
  assert.match(phasesNote(b), /grey/);
  b.toggle("raw");
  assert.match(phasesNote(b), /hidden/);
  assert.equal(phasesNote(benchOf({ without: /heating/ })), "");
});
