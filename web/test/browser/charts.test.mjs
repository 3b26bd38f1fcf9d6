// The charts in a real browser: maps on their ground, u and v, panning that moves the panels alone.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { fingerprints, launch, open, openFlight, serve, settled } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser, server;
before(async () => {
  [browser, server] = await Promise.all([launch(), serve("campaign")]);
});
after(async () => {
  await browser?.close();
  await server?.stop();
});

/** How many pixels of the track's canvas have the colour of water. */
const water = (page) => page.evaluate(() => {
  const canvas = [...document.querySelectorAll(".charts canvas[role=img]")].at(-1);
  const wanted = getComputedStyle(document.documentElement).getPropertyValue("--water").trim();
  const d = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  let n = 0;
  for (let i = 0; i < d.length; i += 4) if (`#${[d[i], d[i + 1], d[i + 2]].map((x) => x.toString(16).padStart(2, "0")).join("")}` === wanted) n++;
  return n / (d.length / 4);
});
// Where the simulated flights lie: 3 at 29° N 28° W, 1 at 46° N 22° E: open sea and a plain, by the world's own coast.
const atSea = 3, onLand = 1;

test("the coast comes from the program itself, packed, only when a map is shown, and once", async () => {
  const asked = [];
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const page = await context.newPage();
  page.on("request", (q) => asked.push(q.url()));
  const grounds = () => asked.filter((u) => u.endsWith("/ground.bin")).length;
  await page.goto(server.url);
  await page.waitForSelector(".rows .row");
  await page.waitForTimeout(300);
  assert.equal(grounds(), 0, "the logbook asks for the coast");
  const [answer] = await Promise.all([page.waitForResponse((r) => r.url().endsWith("/ground.bin")), page.goto(`${server.url}#/flight/${atSea}`)]);
  assert.equal(answer.headers()["content-encoding"], "gzip");
  assert.equal((await fetch(`${server.url}ground.bin`, { headers: { "Accept-Encoding": "identity" } })).headers.get("content-encoding"), null);
  await page.waitForFunction(() => performance.getEntriesByName("leadline-drawn").length > 0);
  await settled(page);
  await page.goto(`${server.url}#/flight/${onLand}`);
  await page.waitForSelector(".charts canvas");
  await settled(page);
  assert.equal(grounds(), 1);
  await context.close();
});

test("a flight over the sea stands on water, one on the plain does not, and without the coast the track is drawn all the same", async () => {
  for (const colorScheme of ["light", "dark"]) {
    const sea = await openFlight(browser, server, atSea, { colorScheme });
    await sea.page.waitForSelector(".charts canvas");
    await sea.page.waitForTimeout(300);
    assert.ok((await water(sea.page)) > 0.8, `${await water(sea.page)} of the map is water`);
    assert.deepEqual(sea.troubles, []);
    await sea.close();
  }
  const plain = await openFlight(browser, server, onLand);
  await plain.page.waitForSelector(".charts canvas");
  await plain.page.waitForTimeout(300);
  assert.ok((await water(plain.page)) < 0.01, `${await water(plain.page)} of the map is water`);
  assert.match(await plain.page.getAttribute(".charts figure:last-child canvas[role=img]", "aria-label"), /coast, lakes and borders/);
  await plain.close();
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (e) => errors.push(e.message));
  await page.route("**/ground.bin", (r) => r.abort());
  await page.goto(`${server.url}#/flight/${atSea}`);
  await page.waitForSelector(".charts canvas");
  await page.waitForTimeout(300);
  assert.equal(await water(page), 0);
  assert.deepEqual(errors, []);
  await context.close();
});

test("u and v come beside speed and direction at a key, with a legend, and go again", async () => {
  const tab = await openFlight(browser, server, 1);
  const { page } = tab;
  await settled(page);
  const before = await fingerprints(page);
  await page.keyboard.press("w");
  await settled(page);
  assert.match(await page.textContent(".panel-head:has-text('Wind u, v')"), /u east/);
  assert.match(await page.textContent(".panel-head:has-text('Wind u, v')"), /v north/);
  assert.equal(await page.getAttribute(".toggle:has-text('u, v'), button:has-text('u, v')", "aria-pressed"), "true");
  assert.equal(Object.keys(await fingerprints(page)).length, Object.keys(before).length + 1);
  await page.keyboard.press("w");
  await settled(page);
  assert.deepEqual(await fingerprints(page), before);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("panning and zooming move the panels and touch nothing else of the page", async () => {
  const tab = await openFlight(browser, server, 1);
  const { page } = tab;
  await page.waitForSelector(".below table");
  await page.keyboard.press("+");
  await page.waitForTimeout(500);
  const before = await fingerprints(page);
  const touched = await page.evaluate(async () => {
    const seen = [];
    const watch = new MutationObserver((list) => seen.push(...list.map((m) => m.target.nodeName)));
    watch.observe(document.querySelector(".flight"), { subtree: true, childList: true, attributes: true, characterData: true });
    const canvas = document.querySelectorAll(".canvas canvas")[1], r = canvas.getBoundingClientRect();
    for (let i = 0; i < 20; i++) {
      canvas.dispatchEvent(new WheelEvent("wheel", { deltaY: i < 10 ? 8 : -4, shiftKey: i % 3 !== 0, clientX: r.left + 300, clientY: r.top + 200, cancelable: true, bubbles: true }));
      await new Promise((done) => requestAnimationFrame(done));
    }
    watch.disconnect();
    return seen;
  });
  await settled(page);
  assert.deepEqual(touched, []);
  assert.notDeepEqual(await fingerprints(page), before, "nothing moved: this proves nothing");
  // The unit above the axis follows all the same.
  assert.match(await page.textContent(".axis-head"), /km/);
  for (let i = 0; i < 14; i++) await page.keyboard.press("+");
  await settled(page);
  assert.match(await page.textContent(".axis-head"), /(?<!k)m/);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("the drift map of the desk stands on the coast, also over the date line", async () => {
  const tab = await open(browser, `${server.url}#/desk`);
  const { page } = tab;
  await page.waitForSelector("#desk-list .tick");
  const plan = [["release.nominal_utc", "2031-06-04 00:00"], ["time_zone", "UTC"], ["site.name", "outer pier"], ["site.latitude_deg", "-16.8"], ["site.longitude_deg", "179.98"], ["site.height_m_msl", "31.2"], ["fill.purity_pct", "99"], ["balloon.mass_kg", "0.8"], ["balloon.payload_kg", "0.23"], ["balloon.target_ascent_rate_m_s", "5"],
    ["surface.time_utc", "2031-06-03 23:05"], ["surface.pressure_hpa", "1005.4"], ["surface.temperature_c", "24.3"], ["surface.humidity_pct", "61"], ["surface.wind_speed_m_s", "4 kt"], ["surface.wind_direction_deg", "250"]];
  for (const [path, text] of plan) await page.fill(`input[name="${path}"]`, text);
  await page.click("button:has-text('helium')");
  await page.selectOption("#desk-drift select", { index: 1 });
  await page.waitForSelector(".driftmap .ground-coast:not([d=''])", { state: "attached" });
  const words = await page.$$eval(".driftmap .ground-text", (all) => all.map((x) => x.textContent));
  assert.ok(words.includes("coast to about 1 km, lakes to about 5 km"), words.join(", "));
  assert.ok(words.some((w) => /° S|′ S/.test(w)) && words.some((w) => /180°|E$/.test(w)) && words.some((w) => w.endsWith(" km")) && words.includes("N"), words.join(", "));
  const box = await page.$eval(".driftmap .way-up", (x) => x.getBBox().width);
  assert.ok(box > 20 && box < 720, `the way up is ${box} wide: torn apart at the date line`);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("axe finds no serious fault with u and v and the maps, light and dark, wide and narrow", async () => {
  for (const [colorScheme, width] of [["light", 1280], ["dark", 800]]) {
    const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, bypassCSP: true });
    await context.addInitScript(axe);
    const page = await context.newPage();
    await page.goto(`${server.url}#/flight/3`);
    await page.waitForSelector(".charts canvas");
    await page.keyboard.press("w");
    await settled(page);
    const serious = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations.filter((v) => v.impact === "serious" || v.impact === "critical").map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 140)}`));
    assert.deepEqual(serious, []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth + 1), `wider than ${width} px`);
    await context.close();
  }
});
