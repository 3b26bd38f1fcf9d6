// Live: the four numbers, growing panels, alarms, the end of a flight, and the honest states.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { launch, open, serve, settled } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
before(async () => {
  browser = await launch();
});
after(() => browser?.close());

const figures = (page) => page.$$eval(".large .figure", (all) => all.map((x) => x.textContent));
const whole = (page) => page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth + 1);

test("a flight in progress: numbers move, panels grow, position and landing are drawn", async () => {
  const server = await serve("live");
  try {
    const tab = await open(browser, `${server.url}#/live`);
    const { page } = tab;
    await page.waitForFunction(() => /^\d+\.\d\d$/.test(document.querySelector(".large .figure")?.textContent ?? ""), undefined, { timeout: 30000 });
    const first = await figures(page);
    assert.match(first[1], /^−?\d+\.\d$/);
    assert.match(first[2], /^\d+$/);
    assert.match(first[3], /^\d+:\d\d$/);
    // Read across a vehicle: the figures are at least 44 px high.
    const px = await page.$eval(".large .figure", (x) => parseFloat(getComputedStyle(x).fontSize));
    assert.ok(px >= 44, `the figures are ${px} px`);
    const clipped = await page.$$eval(".large dd", (all) => all.filter((x) => x.scrollWidth > x.clientWidth + 1).length);
    assert.equal(clipped, 0, "a large number is clipped");
    await page.waitForSelector(".live-panels .canvas canvas", { timeout: 30000 });
    await page.waitForSelector(".landing .track", { state: "attached", timeout: 30000 });
    assert.ok(await page.isVisible(".landing .here"));
    assert.ok(await page.isVisible(".landing .area"));
    assert.match(await page.textContent(".places"), /landing\s*\d+\.\d{4}° N/);
    assert.match(await page.textContent(".live .values"), /Humidity sensor A/);
    const rows = async () => Number(/([\d\u202f]+) rows/.exec(await page.textContent(".link-line"))[1].replace(/\u202f/g, ""));
    const before = await rows();
    await page.waitForFunction((h) => Number(document.querySelector(".large .figure").textContent) > h, Number(first[0]), { timeout: 30000 });
    const deadline = Date.now() + 30000;
    while ((await rows()) <= before) {
      assert.ok(Date.now() < deadline, "no row came");
      await page.waitForTimeout(200);
    }
    assert.equal(await page.$$eval(".alarms-now li", (all) => all.length), 0, "a good flight has an alarm");
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
  }
});

test("an alarm stands large while it holds, and in the list with its end", async () => {
  const server = await serve("live-slow");
  try {
    const tab = await open(browser, `${server.url}#/live`);
    const { page } = tab;
    await page.waitForSelector(".alarms-now li:has-text('slow ascent')", { timeout: 60000 });
    assert.match(await page.textContent(".alarms-now li"), /planned were 5\.0 m\/s.*since \d\d:\d\d:\d\d/s);
    await page.waitForSelector(".alarm-list li.settled:has-text('Over ')", { timeout: 90000 });
    assert.deepEqual(await page.$$eval(".alarms-now li", (all) => all.map((x) => x.textContent)), []);
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
  }
});

test("the end: the flight is in the logbook and one click away", async () => {
  const server = await serve("live-end");
  try {
    const tab = await open(browser, `${server.url}#/live`);
    const { page } = tab;
    await page.waitForSelector(".notice a[href^='#/flight/']", { timeout: 90000 });
    assert.match(await page.textContent(".notice"), /is in the logbook/);
    assert.equal(await page.$$eval(".finish", (all) => all.length), 0, "a flight that is over can be ended again");
    await page.click(".notice a[href^='#/flight/']");
    await page.waitForSelector(".flight .canvas canvas");
    await page.keyboard.press("g");
    await page.keyboard.press("v");
    await page.waitForSelector(".live .large");
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
  }
});

test("ended by hand: asked twice, then stored", async () => {
  const server = await serve("live");
  try {
    const tab = await open(browser, `${server.url}#/live`);
    const { page } = tab;
    await page.waitForFunction(() => /^\d/.test(document.querySelector(".large .figure")?.textContent ?? ""), undefined, { timeout: 30000 });
    await page.click("button:has-text('End the flight …')");
    await page.click("button:has-text('Go on')");
    await page.click("button:has-text('End the flight …')");
    await page.click("button:has-text('End the flight now')");
    await page.waitForSelector(".notice a[href^='#/flight/']", { timeout: 30000 });
    assert.match(await page.textContent(".notice"), /ended on the screen/);
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
  }
});

test("no input, nothing followed, and a server that goes, each say so", async () => {
  const waiting = await serve("live-wait");
  const tab = await open(browser, `${waiting.url}#/live`);
  await tab.page.waitForSelector(".link-line:has-text('Waiting for the file received.txt')");
  assert.deepEqual(await figures(tab.page), ["–", "–", "–", "–"]);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
  await waiting.stop();

  const idle = await serve("empty");
  const none = await open(browser, `${idle.url}#/live`);
  await none.page.waitForSelector(".live .empty");
  assert.match(await none.page.textContent(".live .empty"), /leadline follow received\.txt/);
  assert.deepEqual(none.troubles, []);
  await none.close();
  await idle.stop();

  const server = await serve("live");
  const gone = await open(browser, `${server.url}#/live`);
  await gone.page.waitForFunction(() => /^\d/.test(document.querySelector(".large .figure")?.textContent ?? ""), undefined, { timeout: 30000 });
  const height = (await figures(gone.page))[0];
  await server.stop();
  await gone.page.waitForSelector(".notice:has-text('as of')", { timeout: 20000 });
  assert.ok(await gone.page.$(".large.old"), "old numbers look like new ones");
  const age = Number((await figures(gone.page))[2]);
  await gone.page.waitForTimeout(2500);
  const now = await figures(gone.page);
  assert.ok(Number(now[2]) > age, `the age stands still at ${now[2]}`);
  assert.ok(Math.abs(Number(now[0]) - Number(height)) < 0.5);
  await gone.close();
});

test("light, dark and narrow: no serious fault of accessibility, nothing beside the page", async () => {
  const server = await serve("live-slow");
  try {
    for (const options of [{ colorScheme: "light" }, { colorScheme: "dark" }, { viewport: { width: 390, height: 800 } }]) {
      const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, bypassCSP: true, ...options });
      await context.addInitScript(axe);
      const page = await context.newPage();
      await page.goto(`${server.url}#/live`);
      await page.waitForSelector(".live-panels .canvas canvas", { timeout: 30000 });
      await settled(page);
      const found = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations
        .map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 140)} ${n.any[0]?.message ?? ""}`).join(" | ")}`));
      assert.deepEqual(found.filter((x) => x.startsWith("serious") || x.startsWith("critical")), [], JSON.stringify(options));
      assert.ok(await whole(page), `the page is wider than the window: ${JSON.stringify(options)}`);
      await context.close();
    }
  } finally {
    await server.stop();
  }
});
