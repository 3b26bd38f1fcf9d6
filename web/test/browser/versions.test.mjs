// Flights and versions laid over one another; what other settings would change.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { clean, launch, open, serve, settled } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser, server;
before(async () => {
  [browser, server] = await Promise.all([launch(), serve("campaign")]);
});
after(async () => {
  await browser?.close();
  await server?.stop();
});

const post = async (path, body, to = server) => (await fetch(`${to.url}api/${path}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) })).json();
const get = async (path, to = server) => (await fetch(`${to.url}api/${path}`)).json();
const mine = { name: "mine.toml", mimeType: "text/plain", buffer: Buffer.from("[wind.filter]\nshortest_cutoff_s = 55.0 # a longer string\n") };

/** The cells of a row of the statistics. */
const cells = (page, head) => page.$$eval(".layers tbody tr", (all, h) => [...(all.find((r) => r.cells[0].textContent === h)?.cells ?? [])].map((c) => c.textContent), head);
const plain = (text) => Number(text.replace("−", "-").replace("\u202f", "").replace("+", ""));
/** Sums of the pixels of every panel: values and differences in turn. */
const panels = (page) => page.evaluate(() => {
  const canvas = document.querySelector(".compare-panels canvas");
  const ctx = canvas.getContext("2d"), scale = canvas.width / canvas.clientWidth;
  return [...document.querySelectorAll(".compare-panels .panel-head")].slice(1).map((h) => {
    const d = ctx.getImageData(h.offsetLeft * scale, 0, h.offsetWidth * scale, canvas.height).data;
    let sum = 0;
    for (let i = 0; i < d.length; i += 4) sum = (sum * 31 + d[i] * 7 + d[i + 1] * 3 + d[i + 2]) % 2147483647;
    return sum;
  });
});
const compared = async (page) => {
  await page.waitForSelector(".layers tbody tr");
  await settled(page);
};

test("two flights: panels with differences, statistics as the server takes them, never beyond the ends", async () => {
  const tab = await open(browser, `${server.url}#/compare/1`);
  const { page } = tab;
  await page.waitForSelector(".compare-panels canvas");
  await settled(page);
  const alone = await panels(page);
  await page.click("button:has-text('Add a flight')");
  await page.fill(".flights input[type=search]", "north pier");
  await page.click(".choices button:has-text('5:')");
  await compared(page);
  const both = await panels(page);
  assert.equal(both.length, 10, "five panels and their differences");
  for (let i = 0; i < 8; i++) assert.notEqual(both[i], alone[i], `panel ${i} shows no second flight`);
  const want = await post("compare", { a: { flight: "1" }, b: { flight: "5" } });
  const t = want.result.variables.find((v) => v.variable === "temperature");
  const whole = await cells(page, "whole");
  assert.equal(plain(whole[1]), t.whole.n);
  assert.ok(Math.abs(plain(whole[2]) - t.whole.mean) < 0.006 && Math.abs(plain(whole[4]) - t.whole.rms) < 0.006, whole.join(" "));
  assert.ok(t.whole.n < t.whole.n_a, "one flight ends below the other: not all of A can be compared");
  assert.match(await page.textContent(".rule"), /never beyond its ends/);
  await page.fill(".bounds", "1000 500 100");
  await page.waitForFunction(() => document.querySelectorAll(".layers tbody tr").length === 3);
  await page.fill(".bounds", "500 1000");
  assert.match(await page.textContent("#bounds-note"), /must fall/);
  await page.fill(".bounds", "");
  await compared(page);
  await page.click(".choice[aria-label='Compared at equal'] button:has-text('height')");
  await page.waitForSelector(".rule:has-text('equal height')");
  const equalHeight = (await post("compare", { a: { flight: "1" }, b: { flight: "5" }, axis: "height" })).result.variables.find((v) => v.variable === "temperature");
  await page.waitForFunction((n) => document.querySelector(".layers tbody tr:last-child")?.cells[1].textContent === String(n), equalHeight.whole.n);
  await page.selectOption("select:near(:text('Differences of'))", "pressure");
  await page.waitForFunction(() => document.querySelector(".layers thead").textContent.includes("hPa"));
  // By the keys alone: axis, closer, cursor with values of both.
  await settled(page);
  const first = await panels(page);
  await page.keyboard.press("Escape");
  await page.locator(".compare-panels canvas").last().focus();
  await page.keyboard.press("a");
  await settled(page);
  const axis = await panels(page);
  assert.notEqual(axis[0], first[0], "the axis did not change");
  // The differences drawn are the gaps between the lines drawn: they are taken along the axis shown.
  await page.waitForSelector(".rule:has-text('equal pressure')");
  await settled(page);
  await page.keyboard.press("+");
  await page.keyboard.press("ArrowUp");
  await settled(page);
  assert.notEqual((await panels(page))[0], axis[0], "it did not come closer");
  assert.match(await page.textContent(".at-cursor"), /Temperature [−\d.]+ °C \(B [+−][\d.]+ K\)/);
  clean(tab);
  await tab.close();
});

test("as received against final, and before a decision", async () => {
  const tab = await open(browser, `${server.url}#/compare/3@raw/3`);
  const { page } = tab;
  await compared(page);
  assert.match(await page.textContent(".rule"), /row by row/);
  const raw = await cells(page, "whole");
  assert.ok(plain(raw[4]) > 0, "corrections change nothing");
  assert.equal(await page.locator(".effect-line").count(), 0, "what was received is given a verdict");
  assert.deepEqual(await page.$$eval(".sides tbody tr", (all) => all.map((r) => r.cells[3].textContent.trim())), ["not judged", (await get("flights/3")).verdict.word]);
  assert.equal(await page.$$eval(".panel-head h3", (all) => all.filter((h) => h.textContent.endsWith(" none")).length), 2, "winds as received are given differences");
  const f = await get("flights/3");
  const at = (s) => new Date(Date.parse(f.events.release.utc) + s * 1000).toISOString();
  await post("flights/3/decisions", { revision: f.revision, decision: { id: "", action: "exclude", variables: ["temperature"], from_utc: at(1200), to_utc: at(1500), reason: "wet bulb", who: "first reviewer" } });
  await page.goto(`${server.url}#/flight/3`);
  await page.waitForSelector(".canvas canvas");
  await page.keyboard.press("c");
  await page.click(".own-versions button:has-text('without d1')");
  await page.waitForSelector(".layers");
  const side = await cells(page, "whole");
  await page.click("a:has-text('Differences along the profile')");
  await page.waitForSelector(".effect-line");
  const along = await cells(page, "whole");
  assert.ok(plain(along[7]) - plain(along[8]) > 250, `excluded samples are not told: ${along.join(" ")}`);
  assert.deepEqual([side[1], side[3]], [along[1], along[4]], "the pane and the screen give other numbers");
  assert.match(await page.textContent(".effect-line"), /flags of temperature/);
  assert.equal(await page.inputValue("select[aria-label='Version of A']"), "3@without:d1");
  await page.selectOption("select[aria-label='Version of A']", "3@revision:0");
  await page.waitForSelector(".effect-line:has-text('flags of temperature')");
  assert.match(page.url(), /3%40revision%3A0/);
  // From the history of the flight: before and after one step.
  await page.goto(`${server.url}#/flight/3`);
  await page.click("[role=tab]:has-text('History')");
  await page.click("a[aria-label='Compare before and after d1']");
  await page.waitForSelector(".effect-line:has-text('flags of temperature')");
  assert.deepEqual(await page.$$eval(".sides select", (all) => all.map((s) => s.value)), ["3@revision:0", "3"]);
  clean(tab);
  await tab.close();
});

test("settings A against B: shipped against a file", async () => {
  const tab = await open(browser, `${server.url}#/compare/4@shipped/4`);
  const { page } = tab;
  await compared(page);
  await page.setInputFiles(".file input", mine);
  await page.waitForSelector(".quiet:has-text('At hand: mine.toml')");
  await page.selectOption("select[aria-label='Version of B']", "4@settings:mine.toml");
  await page.waitForFunction(() => location.hash.includes("mine.toml"));
  await compared(page);
  await page.selectOption("select:near(:text('Differences of'))", "wind_speed");
  await page.waitForFunction(() => Number(document.querySelector(".layers tbody tr:last-child")?.cells[4].textContent) > 0);
  await page.selectOption("select:near(:text('Differences of'))", "temperature");
  await settled(page);
  assert.equal(plain((await cells(page, "whole"))[4]), 0, "the wind's filter changes the temperature");
  assert.equal((await get("flights/4")).revision, 0, "looking at it stored something");
  // One file against another, and the same file again after it was edited.
  const text = (s) => ({ mimeType: "text/plain", buffer: Buffer.from(`[wind.filter]\nshortest_cutoff_s = ${s}\n`) });
  await page.setInputFiles(".file input", { name: "other.toml", ...text("35.0") });
  await page.waitForSelector(".quiet:has-text('At hand: mine.toml, other.toml')");
  await page.selectOption("select[aria-label='Version of A']", "4@settings:other.toml");
  await page.waitForFunction(() => location.hash.includes("other.toml"));
  await page.selectOption("select:near(:text('Differences of'))", "wind_speed");
  const rms = async () => {
    await compared(page);
    return plain((await cells(page, "whole"))[4]);
  };
  const want = (s) => post("compare", { a: { flight: "4", settings: "given", settings_name: "other.toml", settings_text: text(s).buffer.toString() }, b: { flight: "4", settings: "given", settings_name: "mine.toml", settings_text: mine.buffer.toString() } });
  const first = (await want("35.0")).result.variables.find((v) => v.variable === "wind_speed").whole.rms;
  assert.ok(first > 0.005 && Math.abs((await rms()) - first) < 0.006, `${await rms()} is not ${first}`);
  await page.setInputFiles(".file input", { name: "other.toml", ...text("55.0") });
  await page.waitForFunction(() => document.querySelector(".layers tbody tr:last-child")?.cells[4].textContent === "0.00");
  assert.equal((await want("55.0")).result.variables.find((v) => v.variable === "wind_speed").whole.rms, 0);
  // A file that cannot be read says why, and what was there stays.
  await page.setInputFiles(".file input", { name: "wrong.toml", mimeType: "text/plain", buffer: Buffer.from("[wind]\nnonsense = 1\n") });
  await page.waitForSelector(".notice:has-text('unknown key')");
  clean(tab);
  await tab.close();
});

test("what a settings file would change is listed for every flight, then stored with a reason and taken back as one", async () => {
  const own = await serve("campaign");
  try {
    const signed = (await get("flights", own)).flights[0];
    await post(`flights/${signed.id}/signature`, { revision: 0, who: "second reviewer", note: "known", despite_open: true }, own);
    const tab = await open(browser, `${own.url}#/settings`);
    const { page } = tab;
    await page.waitForSelector(".values-of");
    await page.setInputFiles("input[type=file]", { name: "wrong.toml", mimeType: "text/plain", buffer: Buffer.from("[wind\n") });
    await page.waitForSelector(".failed:has-text('wrong.toml')");
    // The file is dropped on the page.
    const dropped = await page.evaluateHandle(([name, text]) => {
      const data = new DataTransfer();
      data.items.add(new File([text], name, { type: "text/plain" }));
      return data;
    }, [mine.name, mine.buffer.toString()]);
    await page.dispatchEvent("section[aria-label='Other settings']", "drop", { dataTransfer: dropped });
    await page.waitForSelector("p:has-text('mine.toml: 1 value differs')");
    assert.equal(await page.locator(".failed").count(), 0, "the fault of the file before stays");
    await page.click("button:has-text('List what changes')");
    await page.waitForSelector(".apply");
    const lines = await page.$$eval(".effects tbody tr", (all) => all.map((r) => r.textContent));
    assert.equal(lines.length, 7);
    assert.equal(lines.filter((l) => /wind \d+ values by/.test(l)).length, 7, lines.join("\n"));
    assert.ok(lines.every((l) => /0\.1\.0\+\w{8} → 0\.1\.0\+\w{8}/.test(l)), "a method set is missing");
    assert.match(lines.find((l) => l.includes(signed.name)), /Signed off by second reviewer: stays as it is/);
    assert.ok((await get("flights", own)).flights.every((r) => r.revision === (r.id === signed.id ? 1 : 0)), "the list stored something");
    assert.ok(await page.isDisabled(".apply .main"), "it can be stored without a reason");
    await page.fill(".apply label:has-text('Reason') input", "agreed on Monday");
    await page.fill(".apply label:has-text('Decided by') input", "first reviewer");
    await page.keyboard.press("Enter");
    await page.waitForSelector(".said:has-text('Stored as g1 for 6 flights')", { timeout: 20000 });
    const rows = (await get("flights", own)).flights;
    for (const r of rows) assert.equal(r.revision, 1, r.name);
    const other = rows.find((r) => r.id !== signed.id);
    const now = await get(`flights/${other.id}/settings`, own);
    assert.equal(now.from, "chosen by decision d1 of first reviewer: agreed on Monday");
    assert.equal((await get(`flights/${signed.id}/settings`, own)).from, "the shipped settings");
    // The flight's own settings against those that ship.
    const wind = async () => (await post("compare", { a: { flight: other.id, settings: "shipped" }, b: { flight: other.id } }, own)).result.variables.find((v) => v.variable === "wind_speed").whole;
    const apart = await wind();
    assert.ok(apart.rms > 0, "the file that was chosen is not in force");
    await page.goto(`${own.url}#/compare/${other.id}@shipped/${other.id}`);
    await compared(page);
    await page.selectOption("select:near(:text('Differences of'))", "wind_speed");
    assert.ok(Math.abs(plain((await cells(page, "whole"))[4]) - apart.rms) < 0.006, `${(await cells(page, "whole")).join(" ")} is not ${apart.rms}`);
    await page.goto(`${own.url}#/flight/${other.id}`);
    await page.waitForSelector(".canvas canvas");
    await page.click("[role=tab]:has-text('Settings')");
    await page.waitForSelector("#pane-settings .other");
    assert.match(await page.textContent("#pane-settings .other"), /shortest_cutoff_s.*55\.0.*shipped 15/);
    assert.match(await page.textContent("#pane-settings"), /chosen by decision d1/);
    await page.goto(`${own.url}#/`);
    await page.waitForSelector(".rows .row");
    await page.keyboard.press("u");
    await page.waitForSelector(".groups:has-text('chose the settings mine.toml')");
    await page.click("button:has-text('Take back')");
    await page.waitForSelector(".group h2:has-text('Take g1 back')");
    await page.fill(".group label:has-text('Reason') input", "the old filter was right");
    await page.waitForSelector(".group button[type=submit]:not([disabled])");
    await page.click(".group button[type=submit]");
    await page.waitForSelector(".said:has-text('g1 was taken back')", { timeout: 20000 });
    for (const r of (await get("flights", own)).flights) {
      const f = await get(`flights/${r.id}`, own);
      assert.equal((f.decisions ?? []).filter((d) => d.revoked == null).length, 0, `${r.name} keeps the file`);
      assert.equal((await get(`flights/${r.id}/settings`, own)).from, "the shipped settings");
    }
    assert.equal((await wind()).rms, 0, "values do not come back");
    clean(tab);
    await tab.close();
  } finally {
    await own.stop();
  }
});

test("from the logbook by keys; addresses that lead nowhere; an empty logbook", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.keyboard.press("x");
  await page.keyboard.press("j");
  await page.keyboard.press("x");
  await page.keyboard.press("c");
  await compared(page);
  const rows = (await get("flights")).flights;
  assert.deepEqual(await page.$$eval(".sides tbody td:nth-child(2) a", (all) => all.map((c) => c.textContent)), rows.slice(0, 2).map((r) => r.name));
  const where = await page.$$eval(".sides tbody td:nth-child(2) small", (all) => all.map((c) => c.textContent));
  rows.slice(0, 2).forEach((r, i) => assert.match(where[i], new RegExp(`^ \\d{4}-\\d\\d-\\d\\d \\d\\d:\\d\\d UTC, ${r.site}$`)));
  await page.keyboard.press("?");
  assert.match(await page.textContent("dialog"), /cursor by one sample of A/);
  await page.keyboard.press("Escape");
  for (const [address, says] of [["1/%E0%A4", /no such flight/], ["1/999", /flight 999: no such flight/], ["1@revision:77/1", /no revision 77/], ["1@settings:gone.toml/1", /gone\.toml is not at hand/], ["1@nonsense/1", /no version of a flight/]]) {
    await page.goto(`${server.url}#/compare/${address}`);
    await page.waitForFunction((s) => new RegExp(s).test(document.querySelector(".notice")?.textContent ?? ""), says.source);
    assert.ok(await page.isVisible("button:has-text('take A away')"), `no way on from ${address}`);
  }
  await page.goto(`${server.url}#/flight/%E0%A4`);
  await page.waitForFunction(() => /no such flight/.test(document.body.textContent));
  clean(tab);
  await tab.close();
  const none = await serve("empty");
  try {
    const empty = await open(browser, `${none.url}#/compare`);
    await empty.page.waitForSelector(".flights:has-text('The logbook is empty')");
    clean(empty);
    await empty.close();
  } finally {
    await none.stop();
  }
});

test("the list of effects can be stopped; what was computed stays, nothing is stored", async () => {
  const many = await serve("many");
  try {
    const n = (await get("flights", many)).flights.length;
    assert.ok(n > 50, `${n} flights`);
    const tab = await open(browser, `${many.url}#/settings`);
    const { page } = tab;
    await page.waitForSelector(".values-of");
    await page.click("button:has-text('Write it here')");
    await page.fill("textarea", mine.buffer.toString());
    await page.click("button:has-text('Take this text')");
    await page.waitForSelector("p:has-text('1 value differs')");
    await page.click("button:has-text('List what changes')");
    await page.waitForSelector(".effects tbody tr");
    await page.click("button:has-text('Stop')");
    await page.waitForSelector("button:has-text('Stop')", { state: "detached" });
    const got = await page.locator(".effects tbody tr").count();
    assert.ok(got > 0 && got < n, `${got} of ${n} lines`);
    assert.equal(await page.locator(".apply").count(), 0, "half a list can be stored");
    clean(tab);
    await tab.close();
  } finally {
    await many.stop();
  }
});

test("lines that an older program made say so, with what today's methods make of them", async () => {
  const old = await serve("older");
  try {
    const tab = await open(browser, old.url);
    const { page } = tab;
    await page.click("button:has-text('show them here')");
    await page.waitForFunction(() => document.querySelectorAll(".rows .row").length === 2);
    assert.deepEqual(await page.$$eval(".rows .c-state", (all) => all.map((c) => c.textContent)), ["newother set", "newother set"]);
    assert.match(await page.getAttribute(".rows .c-state", "title"), /method set 0\.0\.9\+00000000; 0\.1\.0\+\w{8} holds today/);
    await page.click("a.older:has-text('2 flights were last computed under another method set')");
    await page.waitForSelector("h2:has-text('Computed under another method set')");
    assert.match(await page.textContent("section[aria-label='Computed by another version']"), /2 flights were last computed/);
    await page.click("section[aria-label='Computed by another version'] button:has-text('List what changes')");
    await page.waitForSelector("section[aria-label='Computed by another version'] .effects");
    const lines = await page.$$eval("section[aria-label='Computed by another version'] .effects tbody tr", (all) => all.map((r) => r.textContent));
    assert.equal(lines.length, 2);
    for (const l of lines) assert.match(l, /\d → \d.*0\.0\.9\+00000000 → 0\.1\.0\+/);
    await page.click("button:has-text('Make their lines anew')");
    await page.waitForSelector(".said:has-text('The lines of 2 flights were made anew')");
    assert.ok((await get("flights", old)).flights.every((r) => (r.method_set_now ?? "") === ""));
    clean(tab);
    await tab.close();
  } finally {
    await old.stop();
  }
});

test("settings are searched by the keys alone, and sheets read with unit and source", async () => {
  const tab = await open(browser, `${server.url}#/settings`);
  const { page } = tab;
  await page.waitForSelector(".values-of");
  await page.keyboard.press("/");
  await page.keyboard.type("spike window");
  await page.waitForFunction(() => /^\d of/.test(document.querySelector(".settings [role=status]")?.textContent ?? ""));
  const row = await page.textContent("section[aria-label='Shipped settings'] tbody tr:has-text('window_s')");
  assert.match(row, /window_s15\.0sshipped.+/);
  await page.click("button:has-text('twin-humidity')");
  // What was searched for before does not hide the sheet without a word.
  await page.waitForSelector("section[aria-label='Instrument sheets'] [role=status]:has-text('0 of')");
  await page.click("button:has-text('Show the whole sheet')");
  await page.waitForSelector("section[aria-label='Instrument sheets'] .values-of");
  assert.match(await page.textContent("section[aria-label='Instrument sheets'] tr:has-text('noise_k')"), /noise_k0\.04Kshipped.*from memory/);
  await page.click("button:has-text('text of the file')");
  assert.match(await page.textContent("pre.text"), /^# Generic radiosonde/);
  // The search goes over the sheet, too, and over values and units.
  await page.click("section[aria-label='Instrument sheets'] button:has-text('values')");
  await page.fill("input[type=search]", "noise_k");
  const rows = await page.$$eval("section[aria-label='Instrument sheets'] .values-of tbody tr:not(.part)", (all) => all.map((r) => r.textContent));
  assert.ok(rows.length > 0 && rows.every((r) => r.includes("noise_k")), rows.join("\n"));
  assert.match(await page.textContent("section[aria-label='Instrument sheets'] [role=status]"), new RegExp(`^${rows.length} of \\d+ of this sheet`));
  await page.keyboard.press("Escape");
  await page.locator("h1").click();
  await page.keyboard.press("?");
  assert.match(await page.textContent("dialog"), /search settings and the sheet shown/);
  assert.doesNotMatch(await page.textContent("dialog"), /Shift\+A/);
  clean(tab);
  await tab.close();
});

test("axe finds no serious fault in comparisons and effects, light, dark and narrow", async () => {
  for (const [colorScheme, width] of [["light", 1280], ["dark", 1280], ["light", 800]]) {
    const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, bypassCSP: true });
    await context.addInitScript(axe);
    const page = await context.newPage();
    const judge = async (what) => {
      const found = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations
        .map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 140)} ${n.any[0]?.message ?? ""}`).join(" | ")}`));
      assert.deepEqual(found.filter((x) => x.startsWith("serious") || x.startsWith("critical")), [], `${what}, ${colorScheme}, ${width}`);
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)) <= 0, `${what} is wider than ${width}`);
    };
    await page.goto(`${server.url}#/compare/1/5/2`);
    await compared(page);
    await judge("compare");
    await page.goto(`${server.url}#/settings`);
    await page.waitForSelector(".values-of");
    await page.setInputFiles("input[type=file]", mine);
    await page.waitForSelector("p:has-text('1 value differs')");
    await page.click("button:has-text('List what changes')");
    await page.waitForSelector(".apply");
    await judge("effects");
    await context.close();
  }
});
