// Sign-off, undo and redo, and the history, in a real browser.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { clean, flightOf, flightsOf, launch, open, openFlight, serve, settled } from "./harness.mjs";

let browser, server;
before(async () => {
  [browser, server] = await Promise.all([launch(), serve("campaign")]);
});
after(async () => {
  await browser?.close();
  await server?.stop();
});

const flights = () => flightsOf(server);
const flight = (id) => flightOf(server, id);
const post = (path, body) => fetch(`${server.url}api/flights/${path}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
const isOpen = (f) => f.severity !== "note" && (f.state ?? "") === "";
const said = (page, text) => page.waitForSelector(`.said:has-text(${JSON.stringify(text)})`);
const count = async (page, selector) => (await page.$$(selector)).length;
const note = async (page, text, who) => {
  await page.fill(".decide input[list=reasons]", text);
  await page.fill(".decide label:has-text('ed by') input", who);
};

test("a flight is signed off by the keyboard, locked, reopened with a reason, and decided again", async () => {
  const id = (await flights()).find((r) => r.open > 0 && r.verdict === "look").id;
  const tab = await openFlight(browser, server, id);
  const { page } = tab;
  assert.match(await page.textContent(".flight-head .title"), /new/);
  await page.keyboard.press("s");
  await page.waitForSelector(".decide h2:has-text('Sign the flight off')");
  // What is open stands there, and Enter alone does not sign.
  const was = await flight(id);
  assert.match(await page.textContent(".against"), new RegExp(`${was.findings.filter(isOpen).length} findings? (is|are) open`));
  await page.keyboard.press("Enter");
  await settled(page);
  assert.equal((await flight(id)).revision, 0, "a flight with open findings was signed by Enter alone");
  assert.ok(await page.isDisabled(".decide .main"));
  await page.keyboard.press("Space");
  assert.ok(await page.isChecked(".against input"));
  assert.ok(await page.isDisabled(".decide .main"), "signed without a note");
  await page.keyboard.press("Tab");
  await page.keyboard.type("spikes are the string");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Control+A");
  await page.keyboard.type("first reviewer");
  await page.keyboard.press("Enter");
  await said(page, "Signed off");
  const signed = await flight(id);
  assert.deepEqual([signed.sign_off.state, signed.sign_off.signature.who, signed.sign_off.signature.note, signed.sign_off.signature.verdict], ["signed off", "first reviewer", "spikes are the string", was.verdict.word]);
  assert.match(await page.textContent(".flight-head .title .signed"), /signed off by first reviewer, \d{4}-\d\d-\d\d \d\d:\d\d UTC: spikes are the string/);

  // Locked: on the screen, and for who asks the server past it.
  await page.keyboard.press("n");
  await page.keyboard.press("Space");
  await said(page, "It is locked");
  assert.equal(await count(page, ".decide"), 0, "a decision is begun on a locked flight");
  assert.equal(await count(page, ".finding-actions button:has-text('Accept')"), 0, "a locked flight offers to accept");
  await page.keyboard.press("u");
  await settled(page);
  assert.equal(await count(page, ".decide"), 0, "undo is begun on a locked flight");
  const refused = await post(`${id}/decisions`, { revision: 1, decision: { id: "", action: "note", reason: "x", who: "second reviewer" } });
  assert.equal(refused.status, 423);
  const problem = await refused.json();
  assert.match(problem.error, /signed off by first reviewer.*locked/);
  assert.equal(problem.signed.who, "first reviewer");
  await page.click("[role=tab]:has-text('Hand over')");
  assert.match(await page.textContent("#pane-handover"), /signed off by first reviewer/);
  const report = await (await fetch(`${server.url}api/flights/${id}/products/report`)).text();
  assert.match(report, /Signed off by first reviewer/);

  // Reopened with a reason, and decided again.
  await page.keyboard.press("s");
  await page.waitForSelector(".decide h2:has-text('Reopen')");
  assert.ok(await page.isDisabled(".decide .main"), "reopened without a reason");
  await note(page, "a late file came in", "second reviewer");
  await page.keyboard.press("Enter");
  await said(page, "Reopened");
  assert.match(await page.textContent(".flight-head .title"), /in review, reopened by second reviewer.*a late file came in/);
  await page.keyboard.press("n");
  await page.keyboard.press("Space");
  await note(page, "seen", "second reviewer");
  await page.keyboard.press("Enter");
  await said(page, "Stored as d1");
  assert.deepEqual((await flight(id)).history.map((r) => r.kind), ["signature", "reopening", "decision"]);
  await page.click("[role=tab]:has-text('History')");
  const steps = await page.$$eval(".decisions li", (all) => all.map((x) => x.textContent));
  assert.equal(steps.length, 3);
  assert.match(steps[0], /d1 second reviewer accepted .*seen/);
  assert.match(steps[1], /second reviewer reopened the flight.*a late file came in/);
  assert.match(steps[2], /first reviewer signed the flight off.*spikes are the string/);
  clean(tab);
  await tab.close();
});

test("undo and redo by the keyboard, as long as nothing else was decided; the history keeps all of it", async () => {
  const id = (await flights()).find((r) => r.revision === 0 && r.id !== "2").id;
  for (const [i, reason] of ["first look", "second look"].entries()) {
    assert.equal((await post(`${id}/decisions`, { revision: i, decision: { id: "", action: "note", reason, who: "first reviewer" } })).status, 200);
  }
  const tab = await openFlight(browser, server, id);
  const { page } = tab;
  const inForce = async () => (await flight(id)).decisions.filter((d) => d.revoked === undefined).map((d) => d.id);
  await page.keyboard.press("Shift+U");
  await said(page, "nothing to put back");
  for (const d of ["d2", "d1"]) {
    await page.keyboard.press("u");
    await page.waitForSelector(`.decide h2:has-text('Undo ${d}')`);
    await note(page, "one too many", "first reviewer");
    await page.keyboard.press("Enter");
    await page.waitForSelector(".decide", { state: "detached" });
    await said(page, "Press Shift+U");
  }
  assert.deepEqual(await inForce(), []);
  await page.keyboard.press("Shift+U");
  await page.waitForSelector(".decide h2:has-text('Redo d1')");
  await note(page, "it was right", "first reviewer");
  await page.keyboard.press("Enter");
  await said(page, "d1 is in force again");
  assert.deepEqual(await inForce(), ["d1"]);
  await page.click("[role=tab]:has-text('History')");
  assert.deepEqual(await page.$$eval(".decisions li > p:first-child", (all) => all.map((x) => x.textContent)),
    ["first reviewer put back d1, note", "first reviewer undid d1, note", "first reviewer undid d2, note", "d2 first reviewer noted", "d1 first reviewer noted"]);
  // Any decision is taken back from the history; what was taken back last is offered again.
  await page.click(".decisions li:has-text('first look') button:has-text('Take back')");
  await page.waitForSelector(".decide h2:has-text('Take back d1')");
  await note(page, "wrong flight", "second reviewer");
  await page.keyboard.press("Enter");
  await said(page, "Taken back");
  await page.waitForSelector(".decisions button:has-text('Put back')");
  // Something else is decided: there is nothing to put back any more.
  const now = await flight(id);
  assert.deepEqual(now.history.map((r) => r.kind), ["decision", "decision", "undo", "undo", "redo", "revocation"]);
  assert.equal((await post(`${id}/decisions`, { revision: now.revision, decision: { id: "", action: "note", reason: "third look", who: "second reviewer" } })).status, 200);
  await said(page, "Somebody else");
  await page.waitForFunction(() => [...document.querySelectorAll(".decisions button")].every((b) => !b.textContent.includes("Put back")));
  await page.keyboard.press("Shift+U");
  await said(page, "nothing to put back");
  clean(tab);
  await tab.close();
});

test("a signature on what has changed meanwhile is refused with what changed", async () => {
  const id = 2;
  const tab = await openFlight(browser, server, id);
  const { page } = tab;
  await page.keyboard.press("s");
  await page.waitForSelector(".decide");
  const other = await post(`${id}/decisions`, { revision: 0, decision: { id: "", action: "note", reason: "the gap is the valley", who: "second reviewer" } });
  assert.equal(other.status, 200);
  await page.waitForSelector(".said:has-text('would be refused')");
  if ((await page.$(".against input")) !== null) await page.check(".against input");
  await note(page, "fine", "first reviewer");
  await page.click(".decide .main");
  await page.waitForSelector(".failed");
  assert.match(await page.textContent(".failed"), /second reviewer noted: the gap is the valley/);
  assert.equal((await flight(id)).sign_off.signature, undefined);
  await page.click("button:has-text('Show the flight as it is now')");
  await page.waitForSelector(".decide", { state: "detached" });
  assert.match(await page.textContent(".flight-head .title"), /in review, second reviewer/);
  // A flight that is signed while a decision is in the making says so instead of storing it.
  await page.keyboard.press("n");
  await page.keyboard.press("Space");
  await page.waitForSelector(".decide");
  await note(page, "seen", "first reviewer");
  assert.equal((await post(`${id}/signature`, { revision: 1, who: "third reviewer", note: "done", despite_open: true })).status, 200);
  await page.click(".decide .main");
  await page.waitForSelector(".failed");
  assert.match(await page.textContent(".failed"), /signed off by third reviewer/);
  await page.click("button:has-text('Show the flight as it is now')");
  await page.waitForSelector(".flight-head .signed:has-text('third reviewer')");
  assert.equal(await count(page, ".decide"), 0);
  assert.equal((await flight(id)).decisions.length, 1);
  await tab.close();
});

test("the logbook shows who signed, and filters by state", async () => {
  const rows = await flights();
  const signed = rows.filter((r) => (r.signer ?? "") !== "");
  const third = signed.find((r) => r.signer === "third reviewer");
  assert.ok(third, "the test before signs one flight");
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  assert.match(await page.textContent(`#flight-${third.id} .c-state`), /signed off.*third reviewer/);
  await page.selectOption(".logbook-head select", "signed off");
  assert.deepEqual(await page.$$eval(".rows .row", (all) => all.map((x) => x.id)), signed.map((r) => `flight-${r.id}`));
  await page.selectOption(".logbook-head select", "not signed off");
  assert.equal(await page.$$eval(".rows .row", (all) => all.length), rows.length - signed.length);
  clean(tab);
  await tab.close();
});

test("the list of keys names sign, undo and redo", async () => {
  const tab = await openFlight(browser, server, 1);
  await tab.page.keyboard.press("?");
  const text = await tab.page.textContent("dialog.help");
  for (const want of [/Shift\+U.*redo/, /undo: take the last decision back/, /sign the flight off, or reopen it/]) assert.match(text, want);
  clean(tab);
  await tab.close();
});
