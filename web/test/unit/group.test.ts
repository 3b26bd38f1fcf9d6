// Selection, proposals and files given together, as the logbook uses them.
import assert from "node:assert/strict";
import { test } from "node:test";
import type { Effect, Row } from "../../src/api/types";
import { plan, type Given } from "../../src/model/companions";
import { allShown, byPart, effectParts, emptyDraft, extended, groupWords, missing, nothing, proposalOf, refusalWords, sumOf, toggled } from "../../src/model/group";

const rows = ["a", "b", "c", "d"].map((id) => ({ id }) as Row);
const ids = (s: { readonly ids: ReadonlySet<string> }): string => [...s.ids].sort().join("");

test("a range is selected from the row it began on, both ways, and all shown are selected or let go", () => {
  const s = toggled(nothing, "b");
  assert.equal(ids(extended(s, "d", rows)), "bcd");
  assert.equal(ids(extended(extended(s, "d", rows), "a", rows)), "abcd");
  assert.equal(ids(toggled(s, "b")), "");
  // The row a range began on may be filtered out: then one row is selected, not all before it.
  assert.equal(ids(extended(s, "d", rows.slice(2))), "bd");
  assert.equal(ids(extended(s, "x", rows)), "b");
  assert.equal(ids(allShown(s, rows.slice(1, 3))), "bc");
  assert.equal(ids(allShown(allShown(s, rows), rows.slice(0, 2))), "cd");
  assert.equal(ids(allShown(nothing, [])), "");
});

test("a proposal says what is missing, and carries the units of the server", () => {
  assert.match(missing(emptyDraft), /item/);
  assert.match(missing({ ...emptyDraft, field: "site.height_m_msl" }), /value/);
  const spans = { ...emptyDraft, kind: "exclude" as const };
  assert.match(missing(spans), /which kind/);
  const where = [{ of: "temperature", from: "", to: "−40,5" }];
  assert.match(missing({ ...spans, where }), /which variables/);
  assert.match(missing({ ...spans, where: [{ of: "time", from: "x", to: "" }], variables: ["humidity"] }), /no number/);
  assert.match(missing({ ...spans, where: [{ of: "time", from: "", to: " " }], variables: ["humidity"] }), /one end/);
  const ready = { ...spans, where, variables: ["humidity" as const] };
  assert.equal(missing(ready), "");
  const p = proposalOf(ready, "r", "w");
  assert.equal(p.kind?.where?.[0]?.from, null);
  assert.ok(Math.abs((p.kind?.where?.[0]?.to ?? 0) - 232.65) < 1e-9);
  assert.equal(p.value, undefined);
  assert.equal(proposalOf({ ...ready, kind: "flag" }, "r", "w").value, "questionable");
  assert.deepEqual(proposalOf({ ...emptyDraft, kind: "choose-sheet", sheet: "own.toml", sheetText: "x" }, "r", "w").sheet, { name: "own.toml", text: "x" });
});

const effect = (e: Partial<Effect>): Effect => ({
  flight: "1", name: "f", revision: 0, effect: "changes", spans: 0, samples: 0, verdict: ["accept", "accept"], line: ["", ""], release_s: null, variables: [], findings_gone: 0, findings_new: 0, levels: [9, 9], levels_changed: 0, method_set: ["", ""], ...e,
});
const variable = (v: string, flags: number, values: number, largest: number | null) => ({ variable: v, unit: "", flags_changed: flags, usable: [0, 0], values_changed: values, largest_change: largest, largest_row: 0 }) as NonNullable<Effect["variables"]>[number];

test("an effect is said in few words: one wind, what follows by name, what is too small by name", () => {
  const parts = effectParts(effect({ variables: [variable("humidity", 1, 0, null), variable("dew_point", 1, 0, null), variable("wind_speed", 0, 60, -1.26), variable("wind_u", 0, 60, 1), variable("pressure", 0, 9, 0.0001)], levels_changed: 1 }));
  assert.deepEqual(parts, ["humidity 1 flag", "wind 60 values by −1.3 m/s at most", "with it dew point", "by less than is shown: pressure", "1 level"]);
  assert.match(refusalWords(effect({ effect: "cannot", why: "it says so already" })), /^Cannot be applied: it says so already\.$/);
  assert.match(refusalWords(effect({ effect: "no effect", samples: 1, spans: 1 })), /its 1 sample of this kind is withheld already/);
  const sum = sumOf([effect({ verdict: ["look", "accept"] }), effect({ verdict: ["look", "accept"] }), effect({ effect: "cannot" }), effect({ effect: "no effect" })]);
  assert.deepEqual(sum, { changes: 2, none: 1, cannot: 1, verdicts: [["look", "accept", 2]] });
});

const given = (...list: (readonly [string, Given["kind"]])[]): Given[] => list.map(([path, kind]) => ({ path, kind }));

test("files dropped: a named launch record belongs to its own files, any other to all", () => {
  const p = plan(given(["f1.txt", "source"], ["f1.launch.toml", "record"], ["f2.txt", "source"], ["all.toml", "record"], ["more.toml", "record"], ["r.toml", "recipe"]), false);
  assert.deepEqual(p.sendings, [{ sources: [0], record: 1, recipe: 5 }, { sources: [2], record: 3, recipe: 5 }]);
  assert.match(p.said.get(4) ?? "", /left out: all\.toml/);
  assert.deepEqual(plan(given(["all.toml", "record"]), false).sendings, [{ sources: [], record: 0 }]);
  assert.deepEqual(plan([], false).sendings, []);
});

test("a folder: one stem is one flight, in each folder for itself; what is no source is left alone", () => {
  const p = plan(given(["c/june/f1.a.txt", "source"], ["c/june/f1.b.txt", "source"], ["c/june/f1.launch.toml", "record"], ["c/july/f1.txt", "source"], ["c/.hidden", "source"], ["c/read.md", "source"], ["c/own.toml", "sheet"], ["c/f9.launch.json", "record"]), true);
  assert.deepEqual(p.sendings, [{ sources: [0, 1], record: 2 }, { sources: [3] }, { sources: [], record: 7 }]);
  for (const i of [4, 5, 6]) assert.match(p.said.get(i) ?? "", /left alone/);
});

test("an item shifted on many flights: what is asked for, proposed, listed and said", () => {
  const shifted = { ...emptyDraft, field: "surface.pressure_hpa", shifted: true };
  assert.match(missing(shifted), /sign and unit/);
  assert.deepEqual(proposalOf({ ...shifted, value: " +0.4 hPa " }, "r", "w"), { action: "correct-record", reason: "r", who: "w", field: "surface.pressure_hpa", value: "+0.4 hPa", shifted: true });
  assert.equal(proposalOf({ ...shifted, shifted: false, value: "961" }, "r", "w", "hPa").value, "961 hPa");
  assert.equal(proposalOf({ ...shifted, value: "+0.4" }, "r", "w", "hPa").value, "+0.4", "the server asks for the unit of a shift");
  assert.equal("shifted" in proposalOf({ ...shifted, shifted: false, value: "961 hPa" }, "r", "w"), false);
  const item = (before: string, after: string, unit = "m") => effectParts(effect({ item: { path: "p", label: "height", unit, before, after } }))[0];
  assert.equal(item("10980.5", "-12"), "height 10\u202f980.5 → −12 m");
  assert.equal(item("", "2026-01-25T17:44:22Z", ""), "height not given → 2026-01-25 17:44:22 UTC");
  const group = { id: "g1", action: "correct-record" as const, field: "surface.pressure_hpa", label: "surface pressure", reason: "", who: "", when_utc: "", parts: [], revoked: [] };
  assert.equal(groupWords({ ...group, value: "+0.4 hPa", rule: "shifted by +0.4 hPa" }), "corrected surface pressure, shifted by +0.4 hPa");
  assert.equal(groupWords({ ...group, value: "-3 °C" }), "corrected surface pressure to −3 °C");
  assert.deepEqual(byPart([{ path: "surface.pressure_hpa" }, { path: "operator" }, { path: "site.name" }]), [["Site", [{ path: "site.name" }]], ["Surface observation", [{ path: "surface.pressure_hpa" }]], ["Other", [{ path: "operator" }]]]);
});
