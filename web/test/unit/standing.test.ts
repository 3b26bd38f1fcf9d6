import assert from "node:assert/strict";
import { test } from "node:test";
import type { Flight, Ruling, Row, Signature } from "../../src/api/types";
import { everything, inState, pick } from "../../src/model/rows";
import { handedOver, standing } from "../../src/model/standing";

const signature: Signature = { who: "A. Reviewer", when_utc: "2031-06-04T10:12:00Z", note: "iced", revision: 3, method_set: "m", digest_sha256: "00", verdict: "look", open_findings: 1 };
const flight = (sign_off: Flight["sign_off"], history: readonly Ruling[] = []): Flight => ({ sign_off, history }) as unknown as Flight;

test("a flight says where it stands", () => {
  assert.equal(standing(flight({ state: "new" }), ""), "new");
  assert.equal(standing(flight({ state: "in review" }), "B. Other"), "in review, B. Other");
  assert.equal(standing(flight({ state: "in review", reopened: { who: "B. Other", reason: "late file", when_utc: "2031-06-05T08:00:00Z" } }), ""), "in review, reopened by B. Other, 2031-06-05 08:00 UTC: late file");
  assert.equal(standing(flight({ state: "signed off", signature }), "B. Other"), "signed off by A. Reviewer, 2031-06-04 10:12 UTC: iced");
  assert.equal(standing(flight({ state: "signed off, differs now", signature, differs: ["x"] }), ""), "differs from what was signed off by A. Reviewer, 2031-06-04 10:12 UTC: iced");
  assert.match(handedOver(flight({ state: "new" })), /not signed off/);
  assert.match(handedOver(flight({ state: "signed off, differs now", signature })), /signed off by A\. Reviewer.*differs/);
});

test("rows are found by who signed and by state", () => {
  const row = (id: string, state: string, signer?: string): Row => ({ id, state, name: "", site: "", line: "", reviewer: "", serial: "", sheet: "", sources: [], reasons: [], ...(signer === undefined ? {} : { signer }) }) as unknown as Row;
  const rows = [row("1", "new"), row("2", "in review"), row("3", "signed off", "A. Reviewer"), row("4", "signed off, differs now", "B. Other")];
  const ids = (state: Parameters<typeof inState>[1]): string[] => pick(rows, { ...everything, state }).map((r) => r.id);
  assert.deepEqual(ids("new"), ["1"]);
  assert.deepEqual(ids("not signed off"), ["1", "2"]);
  assert.deepEqual(ids("signed off"), ["3", "4"]);
  assert.deepEqual(ids("signed off, differs now"), ["4"]);
  assert.deepEqual(pick(rows, { ...everything, text: "other" }).map((r) => r.id), ["4"]);
});
