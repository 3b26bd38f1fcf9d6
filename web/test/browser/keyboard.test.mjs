// What a review by the keyboard alone stumbled over, in a real browser.
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
const focus = (page) => page.evaluate(() => document.activeElement?.className ?? "");

/** The first flight with a finding that fits, and the finding. */
async function having(fits) {
  for (const r of await flights()) {
    const f = (await flight(r.id)).findings?.find(fits);
    if (f !== undefined) return [r.id, f];
  }
  return assert.fail("no flight of the campaign has such a finding");
}

/** Goes to a finding with n alone. */
async function goTo(page, f) {
  for (let i = 0; i < 60; i++) {
    await page.keyboard.press("n");
    await settled(page);
    const here = page.locator('.findings [aria-current="true"] .sentence');
    if ((await here.count()) === 1 && (await here.textContent()).toLowerCase().slice(0, 25) === f.sentence.toLowerCase().slice(0, 25)) return;
  }
  assert.fail(`n never comes to: ${f.sentence}`);
}

test("a finding without a stretch is seen to be selected, and can be read", async () => {
  const [id, f] = await having((x) => (x.spans ?? []).length === 0 && x.severity !== "note");
  const tab = await openFlight(browser, server, id);
  await goTo(tab.page, f);
  const item = await tab.page.locator('.findings [aria-current="true"]').boundingBox(), pane = await tab.page.locator(".side .pane").boundingBox();
  assert.ok(item.y >= pane.y - 1 && item.y < pane.y + pane.height - 20, "the finding is selected out of sight");
  clean(tab);
  await tab.close();
});

test("e excludes the places of a finding and nothing between them; one place where one is in hand", async () => {
  const [id, f] = await having((x) => (x.spans ?? []).length > 1 && x.spans[1].from_row > x.spans[0].to_row && x.variable !== "none");
  const tab = await openFlight(browser, server, id);
  const { page } = tab;
  await goTo(page, f);
  await page.keyboard.press("e");
  await page.waitForSelector(".effect");
  const n = f.spans.reduce((sum, s) => sum + s.to_row - s.from_row, 0);
  assert.match(await page.textContent(".decide"), new RegExp(`${n} samples in ${f.spans.length} places`));
  assert.equal(await page.isVisible(".values"), false, "at this height the values push the effect out of sight");
  await page.keyboard.type("by its places");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Control+A");
  await page.keyboard.type("first reviewer");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Stored as')");
  const d = (await flight(id)).decisions.at(-1);
  assert.equal(d.action, "exclude");
  assert.equal(d.spans.length, f.spans.length);
  assert.equal(d.from_utc, undefined);
  assert.match(await focus(page), /pane/, "after storing the focus is lost");
  await page.keyboard.press("u");
  await page.waitForSelector(".decide");
  await page.keyboard.type("tried");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Taken back')");
  await goTo(page, f);
  await page.keyboard.press("]");
  await page.keyboard.press("e");
  await page.waitForSelector(".effect");
  assert.doesNotMatch(await page.textContent(".decide"), /places/);
  await page.keyboard.press("Escape");
  await page.waitForSelector(".side .pane");
  assert.match(await focus(page), /pane/, "after leaving it the focus is lost");
  clean(tab);
  await tab.close();
});

test("a panel is taken in hand by keys: spans and trails are about it", async () => {
  const tab = await openFlight(browser, server, 2);
  const { page } = tab;
  const hand = () => page.$eval(".panel-head.in-hand h3", (x) => x.firstChild.textContent.trim());
  assert.equal(await hand(), "Temperature");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  await settled(page);
  assert.equal(await hand(), "Wind speed");
  await page.keyboard.press("Shift+PageUp");
  await page.waitForSelector(".actions");
  await page.keyboard.press("e");
  await page.waitForSelector(".decide");
  assert.deepEqual(await page.$$eval(".decide input[type=checkbox]:checked", (all) => all.map((x) => x.parentElement.textContent.trim())), ["wind"]);
  await page.keyboard.press("Escape");
  await page.keyboard.press("ArrowLeft");
  await page.keyboard.press("t");
  await page.waitForSelector(".trail table");
  assert.equal(await page.$eval("#pane-trail select", (x) => x.value), "humidity");
  clean(tab);
  await tab.close();
});

test("a flight opened by its address reads no list of flights until another is asked for", async () => {
  const list = await flights();
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
  const page = await context.newPage();
  const asked = [];
  page.on("request", (q) => asked.push(new URL(q.url()).pathname));
  await page.goto(`${server.url}#/flight/${list[0].id}`);
  await page.waitForFunction(() => performance.getEntriesByName("leadline-drawn").length > 0);
  await settled(page);
  assert.ok(asked.includes(`/api/flights/${list[0].id}`));
  assert.ok(!asked.includes("/api/flights"), "the whole list was read beside the flight");
  await page.keyboard.press("j");
  await page.waitForURL(`**/#/flight/${list[1].id}`);
  await context.close();
});

test("in the logbook the list has the focus, also after a search", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await settled(page);
  assert.equal(await focus(page), "grid");
  await page.keyboard.press("/");
  await page.keyboard.type("reed");
  await page.keyboard.press("Enter");
  assert.equal(await focus(page), "grid");
  clean(tab);
  await tab.close();
});

test("at the ends of the list j and k say so; the actions of a span taken by keys leave the span in sight", async () => {
  const list = await flights();
  const tab = await openFlight(browser, server, list.at(-1).id);
  const { page } = tab;
  await page.keyboard.press("j");
  await page.waitForSelector(".said:has-text('last flight of the list')");
  assert.match(page.url(), new RegExp(`#/flight/${list.at(-1).id}$`));
  const places = []; // below the cursor?
  for (const [key, times] of [["PageDown", 70], ["PageUp", 70]]) {
    await page.keyboard.press("Escape");
    for (let i = 0; i < times; i++) await page.keyboard.press(key);
    await page.keyboard.press("Shift+PageUp");
    await page.waitForSelector(".actions");
    await settled(page);
    const bar = await (await page.$(".actions")).boundingBox(), canvas = await (await page.$(".stage .canvas")).boundingBox();
    // The height at the cursor is written on the layer above the panels, beside the scale.
    const tag = await page.evaluate(() => {
      const layer = document.querySelectorAll(".canvas canvas")[1], scale = layer.height / layer.clientHeight;
      const drawn = layer.getContext("2d").getImageData(Math.round(50 * scale), 0, 1, layer.height).data;
      const rows = [];
      for (let y = 0; y < layer.height; y++) if (drawn[4 * y + 3] > 200) rows.push(y / scale);
      return layer.getBoundingClientRect().top + (rows[0] + rows.at(-1)) / 2;
    });
    assert.ok(tag > canvas.y && tag < canvas.y + canvas.height, `the cursor is not seen: ${tag}`);
    assert.ok(tag < bar.y || tag > bar.y + bar.height, `the bar, ${bar.y} to ${bar.y + bar.height}, covers the cursor at ${tag}`);
    places.push(bar.y > tag);
  }
  assert.deepEqual(places, [false, true]);
  clean(tab);
  await tab.close();
});

test("deciding on a flight moves it in the list; j still goes to the one that stood after it", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  const ids = await page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", "")));
  const at = ids.findIndex((_, i) => i > 0 && i < ids.length - 1);
  const before = await flight(ids[at]);
  await page.keyboard.press("Home");
  for (let i = 0; i < at; i++) await page.keyboard.press("j");
  await page.keyboard.press("Enter");
  await page.waitForURL(`**/#/flight/${ids[at]}`);
  await page.waitForSelector(".canvas canvas");
  // Somebody excludes all of it: it is the worst of all now.
  const all = { revision: before.revision, decision: { id: "", action: "exclude", variables: ["temperature", "humidity", "pressure"], from_utc: "2000-01-01T00:00:00Z", to_utc: "2100-01-01T00:00:00Z", reason: "tried", who: "second reviewer" } };
  const answer = await fetch(`${server.url}api/flights/${ids[at]}/decisions`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(all) });
  assert.equal(answer.status, 200, await answer.text());
  await page.waitForSelector(".said:has-text('Somebody else')");
  const now = (await flights()).map((r) => r.id);
  assert.notDeepEqual(now, ids, "the list did not change: nothing is tested");
  await page.keyboard.press("j");
  await page.waitForURL(`**/#/flight/${ids[at + 1]}`);
  clean(tab);
  await tab.close();
});

test("what is typed right after a key that opens a form goes into the form, on a slow machine, too", async () => {
  const tab = await openFlight(browser, server, (await flights())[0].id);
  const { page } = tab;
  const slow = await page.context().newCDPSession(page);
  await slow.send("Emulation.setCPUThrottlingRate", { rate: 6 });
  for (let i = 0; i < 3; i++) {
    await page.keyboard.press("m");
    await page.keyboard.type("seen exactly so");
    assert.equal(await page.inputValue(".decide input[list=reasons]"), "seen exactly so");
    await page.keyboard.press("Escape");
    await page.waitForSelector(".side .pane");
  }
  clean(tab);
  await tab.close();
});
