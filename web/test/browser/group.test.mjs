// Many flights at once: selection, one decision, taking it back; folders; accessibility.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { clean, flightOf, flightsOf, launch, open, openFlight, serve, settled } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
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
const groups = async () => (await fetch(`${server.url}api/groups`)).json();
const item = (f, path) => f.record.find((i) => i.path === path);

test("by keyboard alone: select, correct a record item, see the effects, store, see it on a flight, take it back as one", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.focus("input[type=search]");
  await page.keyboard.type("north");
  await page.keyboard.press("Enter");
  const ids = await page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", "")));
  assert.equal(ids.length, 3);
  await page.keyboard.press("Home");
  await page.keyboard.press("x");
  await page.keyboard.press("Shift+ArrowDown");
  await page.keyboard.press("Shift+ArrowDown");
  assert.deepEqual(await page.$$eval(".rows .row[aria-selected=true]", (all) => all.map((x) => x.id.replace("flight-", ""))), ids);
  await page.keyboard.press("d");
  await page.waitForSelector(".group h2:has-text('One decision for 3 flights')");
  const was = await Promise.all(ids.map(flight));
  // The first radio has the focus; Tab reaches item and value.
  await page.keyboard.press("Tab");
  await page.keyboard.type("height of the release");
  await page.keyboard.press("Tab");
  await page.keyboard.type("55 m");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".sum:has-text('3 of 3 flights would change')", { timeout: 20000 });
  const effects = await page.$$eval(".effects tbody tr", (all) => all.map((x) => x.textContent));
  assert.equal(effects.length, 3);
  for (const [i, text] of effects.entries()) assert.match(text, new RegExp(`height of the release point ${item(was[i], "site.height_m_msl").value.replace(".", "\\.")} → 55`), text);
  assert.ok(effects.some((t) => /\d+ (value|flag|level)/.test(t)), effects.join("\n"));
  assert.equal((await groups()).length, 0, "a preview was stored");
  assert.ok(await page.isDisabled(".group .main"), "a decision without a reason can be stored");
  await page.fill(".group label:has-text('Reason') input", "typed wrong once");
  await page.fill(".group label:has-text('Decided by') input", "first reviewer");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('g1 is stored for 3 flights')", { timeout: 20000 });
  const now = await Promise.all(ids.map(flight));
  for (const f of now) assert.deepEqual([item(f, "site.height_m_msl").value, f.decisions[0].group, f.decisions[0].reason, f.decisions[0].who], ["55", "g1", "typed wrong once", "first reviewer"]);
  // The rows show what a flight opened now shows.
  for (const r of await flights()) if (ids.includes(r.id)) assert.deepEqual([r.verdict, r.state, r.reviewer], [now[ids.indexOf(r.id)].verdict.word, "in review", "first reviewer"]);

  const one = await openFlight(browser, server, ids[0]);
  await one.page.click("[role=tab]:has-text('History')");
  assert.match(await one.page.textContent(".decisions"), /first reviewer corrected height of the release point to 55 m/);
  assert.match(await one.page.textContent(".decisions"), /Part of g1, one decision for many flights/);

  await page.keyboard.press("u");
  await page.waitForSelector(".group h2:has-text('Take g1 back')");
  await page.waitForSelector(".sum:has-text('3 of 3 flights would change')", { timeout: 20000 });
  assert.match((await page.$$eval(".effects tbody tr", (all) => all.map((x) => x.textContent))).join(), /55 → /);
  await page.keyboard.type("the survey was right");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('g1 was taken back')", { timeout: 20000 });
  assert.match(await page.textContent(".groups .decisions"), /in force on 0 of 3 flights/);
  for (const [i, id] of ids.entries()) {
    const f = await flight(id);
    assert.equal(item(f, "site.height_m_msl").value, item(was[i], "site.height_m_msl").value);
    assert.deepEqual([f.verdict, f.decisions[0].revoked.group], [was[i].verdict, "g1"]);
  }
  // The flight that was open on another page shows it as well.
  await one.page.waitForSelector(".decisions:has-text('taken back by first reviewer: the survey was right')", { timeout: 20000 });
  clean(one);
  await one.close();
  await page.keyboard.press("Escape");
  await page.waitForSelector(".rows .row");
  clean(tab);
  await tab.close();
});

test("an item is shifted on many flights: each keeps its own", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.focus("input[type=search]");
  await page.keyboard.type("north");
  await page.keyboard.press("Enter");
  const ids = await page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", "")));
  const was = await Promise.all(ids.map(flight));
  await page.keyboard.press("Shift+A");
  await page.keyboard.press("d");
  await page.waitForSelector(".group h2:has-text('One decision for')");
  await page.keyboard.press("Tab");
  await page.keyboard.type("surface pressure");
  assert.equal(await page.$eval(".group select", (x) => x.selectedOptions[0].parentElement.label), "Surface observation");
  await page.check(".group label:has-text('Added to what each flight has') input");
  await page.fill(".group label:has-text('Shifted by') input", "-1.5 hPa");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".sum:has-text('would change')", { timeout: 20000 });
  await page.fill(".group label:has-text('Reason') input", "barometer read high");
  await page.fill(".group label:has-text('Decided by') input", "first reviewer");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('corrected surface pressure, shifted by')", { timeout: 20000 });
  const now = await Promise.all(ids.map(flight));
  const numbers = (list) => list.map((f) => Number(item(f, "surface.pressure_hpa").value));
  assert.ok(new Set(numbers(was)).size > 1, "all flights have one pressure: nothing is tested");
  assert.deepEqual(numbers(now).map((x) => x.toFixed(4)), numbers(was).map((x) => (x - 1.5).toFixed(4)));
  clean(tab);
  await tab.close();
});

test("a flight that moved on is named, nothing is stored, and it goes without that flight", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.selectOption("label:has-text('Site') select", "reed bay");
  const ids = await page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", "")));
  assert.equal(ids.length, 3);
  // By mouse: one box, then Shift+click further down.
  await page.click(`#flight-${ids[0]} .c-pick`);
  await page.click(`#flight-${ids[2]}`, { modifiers: ["Shift"] });
  assert.match(await page.textContent(".chosen"), /3 selected/);
  await page.click(".chosen .main");
  await page.click(".kinds label:has-text('exclude a kind of span')");
  await page.click("button:has-text('Add a range')");
  await page.fill(".range input[aria-label=from]", "400");
  await page.fill(".range input[aria-label=to]", "300");
  await page.click("fieldset label:has-text('temperature')");
  await page.click(".group .main");
  await page.waitForSelector(".sum:has-text('3 of 3 flights would change')", { timeout: 20000 });
  assert.match(await page.textContent(".effects tbody tr"), /samples in \d+ span/);
  const revision = (await flight(ids[1])).revision;
  const noted = await fetch(`${server.url}api/flights/${ids[1]}/decisions`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ revision, decision: { id: "", action: "note", reason: "seen from the mast", who: "second reviewer" } }) });
  assert.equal(noted.status, 200);
  const before = (await groups()).length;
  await page.fill(".group label:has-text('Reason') input", "wet thermometer");
  await page.fill(".group label:has-text('Decided by') input", "first reviewer");
  await page.click(".group .main");
  await page.waitForSelector(".refused", { timeout: 20000 });
  assert.match(await page.textContent(".refused"), /one flight stands against it.*seen from the mast/s);
  assert.equal((await groups()).length, before);
  await page.click(".refused button:has-text('Leave it out')");
  await page.click(".group .main:has-text('Store for 2 flights')");
  await page.waitForSelector(".said:has-text('is stored for 2 flights')", { timeout: 20000 });
  const stored = await flight(ids[0]);
  const d = stored.decisions.at(-1);
  assert.deepEqual([d.action, d.variables, d.rule], ["exclude", ["temperature"], "every sample, where pressure_hpa is 300 to 400, of temperature"]);
  assert.ok(!(await flight(ids[1])).decisions.some((x) => x.action === "exclude"));
  clean(tab);
  await tab.close();
});

test("worst first is kept: after filters, selection, another sort and back", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  const shown = () => page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", "")));
  const order = (await flights()).map((r) => r.id);
  assert.deepEqual(await shown(), order);
  await page.keyboard.press("Shift+A");
  assert.match(await page.textContent(".chosen"), /7 selected/);
  assert.deepEqual(await shown(), order);
  for (const name of ["Verdict", "Slot", "Site", "Top", "Temp", "Humid", "Open", "State", "Reviewer"]) {
    await page.click(`button.sort:has-text('${name}')`);
    assert.match(await page.textContent(".explain"), /Sorted by .*(rising|falling); equals stay worst first/);
    assert.equal(await page.$$eval("[role=columnheader][aria-sort]", (all) => all.length), 1);
  }
  await page.click("button:has-text('Worst first again')");
  assert.deepEqual(await shown(), order);
  assert.match(await page.textContent(".explain"), /Worst first/);
  await page.selectOption("label:has-text('Sheet') select", "twin-humidity");
  const rows = await flights();
  assert.deepEqual(await shown(), rows.filter((r) => r.sheet === "twin-humidity").map((r) => r.id));
  assert.match(await page.textContent(".chosen"), /7 selected \(4 of them not shown\)/);
  await page.keyboard.press("Escape");
  assert.doesNotMatch(await page.textContent(".chosen"), /selected \(/);
  clean(tab);
  await tab.close();
});

test("a folder is added: files of one name are one flight, each has its result, failures first", async () => {
  const empty = await serve("empty");
  const dir = mkdtempSync(join(tmpdir(), "leadline-folder-"));
  try {
    const rows = await flights();
    const source = async (r) => Buffer.from(await (await fetch(`${server.url}api/flights/${r.id}/sources/${(await flight(r.id)).sources[0].sha256}`)).arrayBuffer());
    const [a, b] = rows.filter((r) => r.site === "north pier");
    mkdirSync(join(dir, "june"));
    writeFileSync(join(dir, "june", "f1.txt"), await source(a));
    writeFileSync(join(dir, "june", "f1.launch.toml"), 'operator = "night shift"\n[site]\nname = "south mole"\n');
    writeFileSync(join(dir, "june", "f2.txt"), await source(b));
    writeFileSync(join(dir, "june", "f3.launch.toml"), '[site]\nname = "east quay"\n[release]\nnominal_utc = 2031-06-03T12:00:00Z\n');
    writeFileSync(join(dir, "notes.md"), "milk");
    writeFileSync(join(dir, "shopping.txt"), "milk\nbread");
    const tab = await open(browser, empty.url);
    const { page } = tab;
    await page.waitForSelector(".empty");
    await page.setInputFiles("input[aria-label='Folder to add']", dir);
    await page.waitForSelector(".sent h2:has-text('read: 3 flights added, 1 failed')", { timeout: 30000 });
    const results = await page.$$eval(".sent li", (all) => all.map((x) => x.textContent));
    assert.match(results[0], /shopping\.txt: /);
    assert.ok(results.some((t) => /june\/f1\.txt: .*(accept|look|refuse)/.test(t)), results.join("\n"));
    assert.ok(results.some((t) => /june\/f1\.launch\.toml: the launch record of f1\.txt/.test(t)), results.join("\n"));
    assert.ok(results.some((t) => /june\/f3\.launch\.toml: .*refuse, there are no radiosonde data/.test(t)), results.join("\n"));
    assert.ok(results.some((t) => /notes\.md: left alone/.test(t)), results.join("\n"));
    await page.waitForFunction(() => document.querySelectorAll(".rows .row").length === 3);
    assert.match(await page.textContent(".rows"), /south mole/);
    clean(tab);
    await tab.close();
  } finally {
    rmSync(dir, { recursive: true, force: true });
    await empty.stop();
  }
});

test("axe finds no serious fault while deciding for many, light and dark", async () => {
  for (const colorScheme of ["light", "dark"]) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 860 }, colorScheme, bypassCSP: true });
    await context.addInitScript(axe);
    const page = await context.newPage();
    const judge = async (what) => {
      await settled(page);
      const found = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations
        .map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 140)} ${n.any[0]?.message ?? ""}`).join(" | ")}`));
      assert.deepEqual(found.filter((x) => x.startsWith("serious") || x.startsWith("critical")), [], `${what}, ${colorScheme}`);
    };
    await page.goto(server.url);
    await page.waitForSelector(".rows .row");
    await page.keyboard.press("Shift+A");
    await judge("selection");
    await page.keyboard.press("d");
    await page.waitForSelector(".group select");
    await judge("form");
    for (const label of ["choose a sheet", "set a kind of span questionable"]) {
      await page.click(`.kinds label:has-text('${label}')`);
      await judge(label);
    }
    await page.click("button:has-text('Add a range')");
    await page.fill(".range input[aria-label=to]", "300");
    await page.click("fieldset label:has-text('humidity')");
    await page.click(".group .main");
    await page.waitForSelector(".sum:has-text('flights would change')", { timeout: 20000 });
    await judge("effects");
    await page.keyboard.press("Escape");
    await page.waitForSelector(".rows .row");
    await page.keyboard.press("u");
    await page.waitForSelector(".groups");
    await judge("groups");
    await context.close();
  }
});
