import assert from "node:assert/strict";
import { test } from "node:test";
import type { Columns, Values } from "../../src/api/columns";
import type { Decision, Event, Finding, Flight, Row } from "../../src/api/types";
import { feathers } from "../../src/chart/barb";
import { frame } from "../../src/chart/diagram";
import { trackOf } from "../../src/chart/track";
import { Bench } from "../../src/model/bench";
import { kindOf } from "../../src/model/companions";
import { decisionOf, note, offers, recordCorrection, recordValue, spanOfFinding } from "../../src/model/draft";
import { evidence, ordered, turnover } from "../../src/model/findings";
import { panelOf, panels, laneOf } from "../../src/model/panels";
import { breaksOf } from "../../src/model/profile";
import { everything, pick } from "../../src/model/rows";
import { decimalsOf, multiples, snapped, step } from "../../src/model/ticks";
import { airText, panelsText, windText } from "../../src/model/words";
import { aligned, elapsed, format, show, msOf, unitText, prose } from "../../src/model/units";

test("numbers wear a true minus, group thousands and never show a negative zero", () => {
  assert.equal(format(-3.25, 1), "−3.3");
  assert.equal(format(-0.04, 1), "0.0");
  assert.equal(format(31245.6, 0), "31\u202f246");
  assert.equal(format(9999, 0), "9999");
  assert.equal(format(null, 1), "–");
  assert.equal(format(NaN, 1), "–");
  assert.equal(show("temperature", 273.15), "0.00");
  assert.equal(aligned(4.5, 1, 2), "4.5\u2007");
  assert.equal(aligned(45, 0, 2), "45\u2008\u2007\u2007");
  assert.deepEqual(["J kg-1", "m2 s-2", "K km-1", "m s-1", "%", "degree", "degC", "1"].map(unitText), ["J/kg", "m²/s²", "K/km", "m/s", "%", "°", "°C", ""]);
  assert.equal(elapsed(-61), "−1:01");
  assert.equal(elapsed(5405), "1:30:05");
});

test("ticks are round, labels tell them apart, ranges stand still on whole steps", () => {
  assert.equal(step(32000, 12), 5000);
  assert.deepEqual(multiples(0.05, 0.35, 0.1), [0.1, 0.2, 0.3]);
  for (const by of [0.002, 0.05, 0.5, 2, 20, 5000]) {
    const labels = multiples(0, by * 20, by).map((v) => format(v, decimalsOf(by)));
    assert.equal(new Set(labels).size, labels.length, `labels repeat at steps of ${by}`);
    labels.forEach((t, i) => assert.ok(Math.abs(Number(t.replaceAll("\u202f", "")) - i * by) < by / 100, `${t} stands for ${i * by}`));
  }
  assert.deepEqual(snapped(-61.2, 18.3, 4, 4), [-80, 20]);
  assert.deepEqual(snapped(5, 5, 4, 4), [3, 7]);
});

const row = (more: Partial<Row>): Row => ({
  id: "1", name: "north-pier-20310603T2304", site: "north pier", top_m_msl: 31000, top_hpa: 9, verdict: "accept", line: "", reasons: [], findings: {}, open: 0, state: "new",
  reviewer: "", decisions: 0, revision: 0, method_set: "", serial: "", sheet: "", sources: [], sketch_temperature_k: [], sketch_humidity_pct: [], summary: [], ...more,
});

test("the logbook keeps the server's order, and worst first among equals", () => {
  const rows = [row({ id: "a", verdict: "refuse", site: "reed bay" }), row({ id: "b", verdict: "look", top_m_msl: 5000 }), row({ id: "c", top_m_msl: null, sources: ["Lake 7.txt"] })];
  assert.deepEqual(pick(rows, everything).map((r) => r.id), ["a", "b", "c"]);
  assert.deepEqual(pick(rows, { ...everything, sort: "site" }).map((r) => r.id), ["b", "c", "a"]);
  assert.deepEqual(pick(rows, { ...everything, sort: "top", falling: true }).map((r) => r.id), ["a", "b", "c"]);
  assert.deepEqual(pick(rows, { ...everything, verdict: "look" }).map((r) => r.id), ["b"]);
  assert.deepEqual(pick(rows, { ...everything, text: "lake pier" }).map((r) => r.id), ["c"]);
});

const event = (found: boolean, at: number): Event => ({ found, row: at, line: at + 13, time_s: at, utc: "2031-06-03T23:04:11Z", u_s: 0.5, height_m_msl: null, pressure_hpa: null, method: "" });

const finding = (more: Partial<Finding>): Finding => ({
  id: "f", check: "spike", variable: "temperature", severity: "bad", stage: "raw", spans: [], first_line: 0, last_line: 0, first_time_s: null, last_time_s: null, first_utc: "", last_utc: "",
  bottom_m_msl: null, top_m_msl: null, measured: null, limit: null, unit: "", sentence: "", ...more,
});

/** 1,200 rows: 100 on the ground, an ascent of 5 m/s to row 1000, a fall. */
function bench(findings: Finding[] = [], more: Partial<Flight> = {}, without: readonly string[] = [], clock = { zero: "2031-06-03T23:04:11.000Z", shift: 0 }): Bench {
  const n = 1200;
  const time = Float64Array.from({ length: n }, (_, i) => i - 100 + clock.shift);
  const height = Float32Array.from({ length: n }, (_, i) => 250 + (i < 100 ? 0 : i < 1000 ? 5 * (i - 100) : Math.max(0, 4500 - 15 * (i - 1000))));
  const all = new Map<string, Values>([
    ["time/", time], ["line/", Int32Array.from({ length: n }, (_, i) => i + 13)], ["height_msl/final", height], ["height_msl/flag", new Uint8Array(n).fill(1)],
    ["pressure/final", height.map((z) => 1013 * Math.exp(-z / 8000))], ["temperature/final", height.map((z) => 288 - 0.0065 * z)], ["temperature/flag", new Uint8Array(n).fill(1)],
  ]);
  for (const k of without) all.delete(k);
  const columns: Columns = { header: { rows: n, revision: 0, zero_utc: clock.zero, columns: [] }, get: (name, part) => all.get(`${name}/${part}`) };
  const flight: Flight = {
    id: "1", name: "north-pier", revision: 0, rows: n, zero_utc: clock.zero, summary: [], verdict: { word: "look", line: "", reasons: [] },
    events: { release: event(true, 100), burst: event(true, 1000), top: event(true, 1000), landing: event(false, 0), end: "burst",
      phases: [{ phase: "before release", from_row: 0, to_row: 100 }, { phase: "ascent", from_row: 100, to_row: 1000 }, { phase: "descent", from_row: 1000, to_row: n }] },
    record: [], ticks: [], findings, decisions: [], steps: [], runs: [], levels: { levels: [], tropopause_note: "", profile: "ascent" }, profiles: ["ascent"], tallies: [], sheet: { name: "", title: "" }, sources: [],
    variables: [{ name: "temperature", label: "Temperature", unit: "K", profile: true }, { name: "height_msl", label: "Height", unit: "m", profile: true }], method_set: "", sign_off: { state: "new" }, history: [], undo: "", redo: "", ...more,
  };
  return new Bench(flight, columns);
}

test("a flight opens on its whole ascent; descent and the ground are added on request", () => {
  const b = bench();
  assert.deepEqual([...b.shown()], [100, 1000]);
  assert.ok(b.lo < 250 && b.lo > 150 && b.hi > 4745 && b.hi < 4850);
  b.toggle("descent");
  b.toggle("before");
  assert.deepEqual([...b.shown()], [0, 1200]);
});

test("pan and zoom stay within the flight", () => {
  const b = bench();
  const [lo, hi] = b.whole();
  b.zoom(0.1, 2000);
  assert.ok(Math.abs(b.hi - b.lo - (hi - lo) / 10) < 1e-6);
  assert.ok(b.lo < 2000 && b.hi > 2000);
  b.pan(1e6);
  assert.ok(Math.abs(b.hi - hi) < 1e-6, "panned beyond the top");
  b.zoom(1e6);
  assert.ok(b.isWhole());
  b.zoom(1e-9, 2000);
  assert.ok(b.hi - b.lo >= 4.999, "zoomed closer than samples can be told apart");
});

test("changing the axis keeps the samples in view", () => {
  const b = bench();
  b.show(1000, 2000);
  const rows = [b.rowAt(b.lo), b.rowAt(b.hi)];
  b.nextAxis();
  assert.equal(b.axis, "pressure");
  assert.deepEqual([b.rowAt(b.lo), b.rowAt(b.hi)], rows);
  b.nextAxis();
  assert.equal(b.axis, "time");
  assert.deepEqual([b.rowAt(b.lo), b.rowAt(b.hi)], rows);
});

test("a finding takes the panels there with its surroundings, into the descent too", () => {
  const b = bench([finding({ id: "air", spans: [{ from_row: 400, to_row: 440 }] }), finding({ id: "fall", severity: "note", spans: [{ from_row: 1100, to_row: 1110 }] }), finding({ id: "record", severity: "questionable", field: "surface.pressure_hpa" })]);
  assert.deepEqual(b.findings.map((f) => f.id), ["air", "record", "fall"]);
  b.nextFinding(1);
  assert.equal(b.selected, "air");
  assert.ok(b.lo < 1750 - 500 && b.hi > 1945 + 500, "no surroundings");
  assert.ok(b.hi - b.lo < 2000, "not gone there");
  assert.equal(b.cursor, 400);
  b.nextFinding(1);
  assert.ok(b.isWhole(), "a finding about the record shows the whole flight");
  b.nextFinding(1);
  assert.ok(b.descent, "the descent was not switched on");
  b.nextFinding(1);
  assert.equal(b.selected, "air", "the list does not go round");
});

test("places of one finding are visited one by one", () => {
  const b = bench([finding({ id: "spikes", spans: [{ from_row: 300, to_row: 301 }, { from_row: 900, to_row: 901 }] })]);
  b.goTo("spikes");
  const wide = b.hi - b.lo;
  b.nextPlace(1);
  assert.equal(b.cursor, 300);
  assert.ok(b.hi - b.lo < wide / 2);
  b.nextPlace(1);
  assert.equal(b.cursor, 900);
});

test("a flight without heights falls back to pressure, without either to time", () => {
  assert.equal(bench([], {}, ["height_msl/final"]).axis, "pressure");
  assert.equal(bench([], {}, ["height_msl/final", "pressure/final"]).axis, "time");
});

test("scales follow the visible samples and stand on round values", () => {
  const b = bench();
  const t = panels[0]!;
  const wide = b.range(t);
  assert.ok(wide[0] <= -16.2 && wide[1] >= 13.2);
  b.show(2000, 2300);
  const close = b.range(t);
  assert.ok(close[1] - close[0] < 8, `still ${close.join(" to ")}`);
  b.box("temperature", 2000, 2300, -1, 1);
  assert.deepEqual([...b.range(t)], [-1, 1]);
  b.reset();
  assert.deepEqual(b.range(t), wide);
});

test("rows after a gap are not joined", () => {
  const time = [0, 1, 2, 3, 4, 5, 20, 21, 22];
  assert.deepEqual([...breaksOf(time)], [0, 0, 0, 0, 0, 0, 1, 0, 0]);
});

test("a decision carries instants of the clock, not rows", () => {
  const b = bench([finding({ id: "f1", spans: [{ from_row: 200, to_row: 260 }] })]);
  const first = offers(b, { from: 160, to: 220 }, ["temperature", "humidity"])[0]!;
  assert.equal(first.key, "1");
  assert.deepEqual(decisionOf(first.draft, b, "wet bulb", "Ida"), {
    id: "", action: "exclude", reason: "wet bulb", who: "Ida", variables: ["temperature"], from_utc: "2031-06-03T23:05:11.000Z", to_utc: "2031-06-03T23:06:11.000Z",
  });
  b.goTo("f1");
  assert.deepEqual(spanOfFinding(b), { span: { from: 200, to: 259 }, spans: [{ from: 200, to: 259 }], variables: ["temperature"] });
});

test("instants keep what lies below a millisecond", () => {
  assert.equal(msOf("2031-06-03T23:04:11Z"), Date.UTC(2031, 5, 3, 23, 4, 11));
  assert.ok(Math.abs(msOf("2031-06-03T23:04:11.779789Z") - Date.UTC(2031, 5, 3, 23, 4, 11) - 779.789) < 1e-3);
  // 1,000.220211 s after it a sample is received on the full second; its decision says so.
  const b = bench([], {}, [], { zero: "2031-06-03T23:04:11.779789Z", shift: 0.220211 });
  assert.equal(b.profile.utc(100), "2031-06-03T23:04:12.000Z");
  assert.equal(b.profile.rowAt("2031-06-03T23:04:12.000Z"), 100);
});

test("every stretch that a decision withholds is drawn, also where it names several", () => {
  const withheld = (d: Partial<Decision>) => {
    const b = bench([], { decisions: [{ id: "d1", action: "exclude", variables: ["temperature"], reason: "wet", who: "Ida", ...d }] });
    return b.withheld(panelOf("temperature")!);
  };
  const at = (row: number) => new Date(Date.UTC(2031, 5, 3, 23, 4, 11) + (row - 100) * 1000).toISOString();
  assert.deepEqual(withheld({ from_utc: at(200), to_utc: at(210) }), [{ from: 200, to: 210 }]);
  assert.deepEqual(withheld({ spans: [{ from_utc: at(200), to_utc: at(210) }, { from_utc: at(300), to_utc: at(300) }] }), [{ from: 200, to: 210 }, { from: 300, to: 300 }]);
  assert.deepEqual(withheld({ spans: [{ from_utc: at(200), to_utc: at(210) }], variables: ["wind_speed"] }), []);
});

test("a finding in several places is decided about place by place, and nothing between them", () => {
  const b = bench([finding({ id: "f1", spans: [{ from_row: 260, to_row: 264 }, { from_row: 200, to_row: 202 }] })]);
  b.goTo("f1");
  const all = spanOfFinding(b)!;
  assert.deepEqual(all.spans, [{ from: 200, to: 201 }, { from: 260, to: 263 }]);
  assert.deepEqual(all.span, { from: 200, to: 263 });
  const draft = { ...offers(b, all.span, ["temperature"])[0]!.draft, spans: all.spans };
  const d = decisionOf(draft, b, "spikes", "Ida");
  assert.equal(d.spans?.length, 2);
  assert.equal(d.from_utc, undefined);
  b.goTo("f1", 0);
  assert.deepEqual(spanOfFinding(b)?.spans, [{ from: 260, to: 263 }]);
});

test("a server's sentence is shown with a true minus sign and readable instants, and else as it is", () => {
  assert.equal(prose("declared for 2031-06-03T23:04:11Z, -24 m from 1097 m (-0.5 K); sensor A-B, 2031-06-03"), "declared for 2031-06-03 23:04:11 UTC, −24 m from 1097 m (−0.5 K); sensor A-B, 2031-06-03");
});

test("withheld spans are those of decisions in force about the panel's variables", () => {
  const decision = { id: "d1", action: "exclude" as const, variables: ["temperature" as const], from_utc: "2031-06-03T23:05:11.000Z", to_utc: "2031-06-03T23:06:11.000Z", reason: "x", who: "Ida" };
  const b = bench([], { decisions: [decision, { ...decision, id: "d2", revoked: { reason: "no", who: "Ida", when_utc: "" } }] });
  assert.deepEqual(b.withheld(panels[0]!), [{ from: 160, to: 220 }]);
  assert.deepEqual(b.withheld(panels[2]!), []);
});

test("findings: open before settled, evidence in words, every variable has a lane", () => {
  const list = [finding({ id: "a", state: "accepted" }), finding({ id: "b", severity: "note" }), finding({ id: "c" })];
  assert.deepEqual(ordered(list).map((f) => f.id), ["c", "b", "a"]);
  assert.equal(evidence(finding({ measured: -3.7312, limit: 1, unit: "K" })), "−3.731 K, limit 1 K");
  assert.equal(evidence(finding({})), "");
  assert.equal(laneOf("wind_u"), laneOf("wind_speed"));
  assert.equal(laneOf("none"), 5);
});

// WMO-No. 485, plotting of wind: half feather 5 kt, feather 10 kt, pennant 50 kt.
test("wind barbs have the feathers of the trade", () => {
  const knot = 1852 / 3600;
  assert.deepEqual(feathers(2 * knot), { pennants: 0, whole: 0, half: 0 });
  assert.deepEqual(feathers(5 * knot), { pennants: 0, whole: 0, half: 1 });
  assert.deepEqual(feathers(25 * knot), { pennants: 0, whole: 2, half: 1 });
  assert.deepEqual(feathers(48 * knot), { pennants: 1, whole: 0, half: 0 });
  assert.deepEqual(feathers(115 * knot), { pennants: 2, whole: 1, half: 1 });
});

test("an isotherm of the diagram leans by 45 degrees, a pressure is one line", () => {
  const f = frame(600, 500);
  const rise = f.y(1000) - f.y(500), run = f.x(0, 500) - f.x(0, 1000);
  assert.ok(Math.abs(rise - run) < 1e-9 && rise > 0);
  assert.ok(Math.abs(f.y(1050) - f.bottom) < 1e-9 && Math.abs(f.y(100) - f.top) < 1e-9);
});

test("a track is kilometres from release, over the date line, too", () => {
  const n = 1200;
  const b = bench();
  const lat = Float64Array.from({ length: n }, (_, i) => 10 + i * 1e-4), lon = Float64Array.from({ length: n }, (_, i) => (i < 600 ? 179.95 + i * 1e-4 : -180.05 + i * 1e-4));
  const old = b.profile.columns;
  const columns: Columns = { header: old.header, get: (name, part) => (part === "final" && name === "latitude" ? lat : part === "final" && name === "longitude" ? lon : old.get(name, part)) };
  const t = trackOf(new Bench(b.flight, columns))!;
  assert.equal(t.east[100], 0);
  // 0.09 degrees from row 100 to row 1000: 10.0 km on the meridian, 9.8 km along 10° N (1° of the meridian is 111.2 km on the sphere of 6,371 km).
  assert.ok(Math.abs((t.north[1000] as number) - 10.0) < 0.02, `${t.north[1000]} km north`);
  assert.ok(Math.abs((t.east[1000] as number) - 9.85) < 0.05, `${t.east[1000]} km east`);
});

test("files dropped together are told apart by their head", () => {
  assert.equal(kindOf("flight.txt", "[site]\nname = 1"), "source");
  assert.equal(kindOf("launch.toml", '[site]\nname = "north pier"\n'), "record");
  assert.equal(kindOf("launch.toml", 'operator = "first"\n'), "record");
  assert.equal(kindOf("launch.json", '{"site": {"name": "north pier"}}'), "record");
  assert.equal(kindOf("frames.json", '[{"t": 1}]'), "source");
  assert.equal(kindOf("receiver.toml", 'format = "text"\n[text]\ndelimiter = ","\n[[column]]\n'), "recipe");
  assert.equal(kindOf("sonde.toml", 'name = "x"\n[temperature]\nnoise_k = 0.1\n[humidity]\n'), "sheet");
});

test("findings before and after a decision: gone, come, or with other figures", () => {
  const one = finding({ id: "a", check: "spike", variable: "temperature" }), two = finding({ id: "b", check: "gap", variable: "none" }), three = finding({ id: "c", check: "step", variable: "pressure" });
  const moved = finding({ id: "a2", check: "spike", variable: "temperature" });
  assert.deepEqual(turnover([one, two], [moved, three]), { goes: [two], comes: [three], changes: [moved] });
  assert.deepEqual(turnover([], []), { goes: [], comes: [], changes: [] });
  // Two of a kind: one stays with other figures, one goes.
  assert.deepEqual(turnover([one, { ...one, id: "d" }], [moved]), { goes: [{ ...one, id: "d" }], comes: [], changes: [moved] });
});

test("a suggested value of the launch record wears the unit it is read in", () => {
  assert.equal(recordValue("951.2", "hPa"), "951.2 hPa");
  assert.equal(recordValue("298.65", "°C"), "25.5 °C");
  assert.equal(recordValue("-70.2", "°"), "-70.2 deg");
  assert.equal(recordValue("298.65 K", "°C"), "298.65 K");
  assert.equal(recordValue("2026-01-25T17:44:22Z", ""), "2026-01-25T17:44:22Z");
});

test("a note has a key of its own, with a span, a finding, or nothing in hand", () => {
  const b = bench([finding({ id: "f1", spans: [{ from_row: 260, to_row: 264 }, { from_row: 200, to_row: 202 }] })]);
  assert.deepEqual(offers(b, { from: 160, to: 220 }, ["temperature"]).filter((o) => o.draft.action === "note").map((o) => o.key), ["m"]);
  assert.equal(decisionOf(note(b), b, "hail", "Ida").from_utc, undefined);
  b.goTo("f1");
  const d = decisionOf(note(b), b, "hail", "Ida");
  // A note takes one stretch only.
  assert.deepEqual([d.from_utc, d.to_utc, d.spans], [b.profile.utc(200), b.profile.utc(263), undefined]);
});

test("a finding that flags no sample but speaks of a stretch goes there; one about the record shows the flight", () => {
  const at = (row: number) => new Date(Date.UTC(2031, 5, 3, 23, 4, 11) + (row - 100) * 1000).toISOString();
  const b = bench([
    finding({ id: "sinks", check: "ascent", variable: "none", first_time_s: 300, last_time_s: 360, first_utc: at(400), last_utc: at(460) }),
    finding({ id: "record", check: "launch-record", variable: "none", severity: "note" }),
  ]);
  const whole = [b.lo, b.hi];
  b.goTo("sinks");
  assert.equal(b.cursor, 400);
  assert.deepEqual(b.stretches(b.finding()!), [{ from_row: 400, to_row: 461 }]);
  assert.ok(b.lo < 1750 && b.lo > 1000 && b.hi > 2050 && b.hi < 2900, `${b.lo} to ${b.hi}`);
  assert.equal(spanOfFinding(b), undefined, "nothing is flagged: there is nothing to exclude");
  b.goTo("record");
  assert.deepEqual([b.lo, b.hi], whole);
});

test("panels without data are named once and left out; charts are told in words", () => {
  const full = bench();
  assert.match(panelsText(full), /^Profiles of temperature.* on one vertical axis of height\. The ascent goes from 250 m to 4745 m\./);
  assert.match(airText(full), /^From .* °C at .* km to .* °C at .* km\.$/);
  assert.match(windText(full), /No usable wind/);
  assert.ok(full.absent().includes("no humidity in this flight"), full.absent().join());
  assert.ok(!full.panels().some((p) => p.id === "humidity"));
  assert.ok(full.panels().some((p) => p.id === "temperature"));
  const none = bench([], {}, ["temperature/final", "temperature/flag"]);
  assert.match(airText(none), /No usable temperature/);
  assert.equal(none.absent().filter((x) => x === "no wind in this flight").length, 1);
});

test("a bare number typed for the launch record is in the unit beside the item", () => {
  const item = (unit: string) => ({ path: "surface.temperature_k", label: "surface temperature", unit, value: "25.5", given: "25.5", instant: false });
  const value = (typed: string, unit: string) => decisionOf(recordCorrection("surface.temperature_k", "surface temperature", typed), bench([], { record: [item(unit)] }), "mistyped", "Ida").value;
  assert.equal(value("26.5", "°C"), "26.5 °C");
  assert.equal(value(" −3,5 ", "°C"), "−3,5 °C");
  assert.equal(value("299.65 K", "°C"), "299.65 K");
  assert.equal(value("none", "°C"), "none");
  assert.equal(value("180", "°"), "180 deg");
  assert.equal(value("180", ""), "180");
});
