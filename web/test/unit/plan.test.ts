// The plan a preparation stands for, and the server's sentences in the words of the fields.
import assert from "node:assert/strict";
import { test } from "node:test";
import { emptyDraft, inWords, nextDraft, planText, type Draft } from "../../src/model/plan";
import { recoveryRequest } from "../../src/model/recovery";

const draft = (fields: { [k: string]: string }, lists: Draft["lists"] = {}): Draft => ({ ...emptyDraft, fields, lists });

test("keys of the plan file become the names of the fields", () => {
  for (const [said, want] of [
    ["the slot is not given: write release.nominal_utc, or slot.local with time_zone", "the slot is not given: write “Nominal hour”, or “Nominal hour by the local clock, instead” with “Local time of”"],
    ["the payload is not given: write balloon.payload_kg, or one [[payload.package]] for each thing tied on", "the payload is not given: write “Everything tied on below”, or one “Things tied on, one by one” for each thing tied on"],
    ["there is no wind profile: give wind.profile or wind.flight", "there is no wind profile: give “Wind profile, such as a forecast” or “Wind from a flight of the logbook”"],
    ["plan: line 12: fill.purity_pct of 3: want above 50 and at most 100 %", "“Purity” of 3: want above 50 and at most 100 %"],
    ["plan: line 3: surface.temperature_c: \"warm\" is no number", "“Temperature”: \"warm\" is no number"],
    ["plan: line 3, column 5: surface.temperature: cannot", "“Temperature”: cannot"],
    ["wind_compass_deg and surface.wind_direction_deg are both given: want one", "“or by compass” and “Wind from, true” are both given: want one"],
    ["was it read in inHg? counted and measured", "was it read in inHg? counted and measured"],
    ["nothing to change here, 3.5 m/s at site.names", "nothing to change here, 3.5 m/s at site.names"],
  ] as const) assert.equal(inWords(said), want);
});

test("instants of lists are written as the plan wants them, others are left for the server to name", () => {
  const text = planText(draft({ "slot.extra": "2031-06-04 15:00, 2031-06-04 18:00" }, {
    stock: [{ name: "radiosondes", had: "40", counted_utc: "2031-06-01 12:00" }, { name: "lights", counted_utc: "yesterday" }],
    tick: [{ step: "sky", at_utc: "2031-06-03T23:02:40Z", who: "A", note: "one at 2 km" }],
  })).text;
  for (const line of ['extra = ["2031-06-04 15:00", "2031-06-04 18:00"]', "counted_utc = 2031-06-01T12:00:00Z", 'counted_utc = "yesterday"', "had = 40", "at_utc = 2031-06-03T23:02:40Z", 'note = "one at 2 km"']) {
    assert.ok(text.split("\n").includes(line), `${line} in\n${text}`);
  }
});

test("the next release keeps the gear and counts one fewer to come", () => {
  const d = nextDraft(draft({
    "site.name": "pier", "balloon.mass_kg": "0.8", "balloon.nozzle_lift_kg": "0.995", "slot.releases": "12", "slot.local": "2031-06-04 02:00", "slot.extra": "2031-06-04 15:00", "payload.string_breaks_n": "115",
    "release.declared_utc": "2031-06-03 23:30:11", "ground_check.ruling": "accept", "ground_check.ruling_reason": "last one",
  }, { tick: [{ step: "sky" }], stock: [{ name: "radiosondes" }] }));
  assert.deepEqual(d.fields, { "site.name": "pier", "balloon.mass_kg": "0.8", "slot.releases": "11", "slot.extra": "2031-06-04 15:00", "payload.string_breaks_n": "115" });
  assert.deepEqual(Object.keys(d.lists), ["stock"]);
  assert.equal(nextDraft(draft({ "slot.releases": "12" })).fields["slot.releases"], "12", "not made yet");
});

test("an entry of the recovery log is read or refused with a sentence", () => {
  const e = { state: "found", who: " A. Operator ", at: "2031-06-07 09:00", latitude: "−46,5", longitude: "6.25", finder: "", note: "fence" };
  assert.deepEqual(recoveryRequest(e), { state: "found", who: "A. Operator", at_utc: "2031-06-07T09:00:00Z", place: { latitude_deg: -46.5, longitude_deg: 6.25 }, note: "fence" });
  assert.deepEqual(recoveryRequest({ ...e, at: "", latitude: "", longitude: "", note: "" }), { state: "found", who: "A. Operator" });
  assert.throws(() => recoveryRequest({ ...e, longitude: "" }), /longitude “” is no number/);
  assert.throws(() => recoveryRequest({ ...e, at: "noon" }), /“noon” is no instant/);
});
