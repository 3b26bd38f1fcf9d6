import assert from "node:assert/strict";
import { test } from "node:test";
import type { Flight } from "../../src/api/types";
import { aroundStep, boundsOf, codeOf, compareAddress, comparedPanels, sidesIn, versionOf, versionsOf, withSettings, wordsOf } from "../../src/model/versions";

test("a version is written as the command line takes it, and read back", () => {
  for (const code of ["3", "3@raw", "3@without:d2", "3@revision:0", "3@shipped", "3@without:d2@shipped@raw"]) {
    const v = versionOf(code);
    assert.ok(v !== undefined, code);
    assert.equal(codeOf(v), code);
  }
  const file = { name: "mine.toml", text: "[wind]\n" };
  assert.equal(versionOf("3@settings:mine.toml"), undefined, "a file that is not at hand");
  assert.deepEqual(versionOf("3@settings:mine.toml", [{ name: "other.toml", text: "" }, file]), { flight: "3", settings: "given", settings_name: "mine.toml", settings_text: "[wind]\n" });
  assert.equal(versionOf("3@settings:mine.toml", [{ name: "other.toml", text: "" }]), undefined, "another file is at hand");
  const odd = { name: "mine@home 2/2.toml", text: "[wind]\n" };
  assert.equal(versionOf(withSettings("3", odd), [file, odd])?.settings_name, odd.name, "a name with the sign that divides the parts");
  assert.equal(withSettings("3", { name: "shipped", text: "" }), "3@shipped");
  for (const bad of ["", "@raw", "3@first", "3@revision:x", "3@without:"]) assert.equal(versionOf(bad), undefined, bad);
  assert.equal(wordsOf({ flight: "3", stage: "raw", without: "d2" }), "as received, without decision d2");
});

test("sides stand in the address", () => {
  const codes = ["3@without:d2", "5"];
  assert.deepEqual(sidesIn(compareAddress(codes).replace("/compare/", "")), codes);
  assert.deepEqual(sidesIn(""), []);
  assert.deepEqual(sidesIn("3/%E0%A4"), ["3", "%E0%A4"], "an address that was cut off");
  assert.equal(sidesIn("1/2/3/4/5/6/7/8").length, 6);
});

test("a flight offers a version without each decision in force and one before each step", () => {
  const d = (id: string, revoked: boolean) => ({ id, action: "exclude", reason: "wet", who: "a", ...(revoked ? { revoked: { reason: "r", who: "b", when_utc: "" } } : {}) });
  const flight = { id: "3", decisions: [d("d1", true), d("d2", false)], history: [{ revision: 1, kind: "decision", who: "a" }, { revision: 2, kind: "decision", who: "a" }, { revision: 3, kind: "undo", who: "b" }] } as unknown as Flight;
  assert.deepEqual(versionsOf(flight).map(([code]) => code), ["3", "3@raw", "3@without:d2", "3@revision:0", "3@revision:1", "3@revision:2", "3@shipped"]);
  assert.equal(versionsOf(flight, [{ name: "m.toml", text: "[wind]" }, { name: "n.toml", text: "[wind]" }]).slice(-2).map(([c]) => c).join(" "), "3@settings:m.toml 3@settings:n.toml");
  assert.deepEqual(aroundStep({ id: "3", revision: 3 }, 2), ["3@revision:1", "3@revision:2"]);
  assert.deepEqual(aroundStep({ id: "3", revision: 3 }, 3), ["3@revision:2", "3"]);
});

test("bounds of layers fall, or it is said what is wrong", () => {
  assert.deepEqual(boundsOf(" 1000, 500;100 10"), [1000, 500, 100, 10]);
  assert.deepEqual(boundsOf(""), []);
  assert.match(boundsOf("1000 x") as string, /“x” is no pressure/);
  assert.match(boundsOf("500") as string, /two bounds/);
  assert.match(boundsOf("500 700") as string, /700 follows 500/);
});

test("the last panel is the pressure, or the height where pressures are equal", () => {
  assert.equal(comparedPanels((v) => v === "pressure" || v === "height_msl").at(-1)?.name, "pressure");
  assert.equal(comparedPanels((v) => v === "height_msl").at(-1)?.name, "height_msl");
  assert.equal(comparedPanels(() => false).length, 4);
});
