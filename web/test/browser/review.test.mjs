// The review of a campaign in a real browser.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { after, before, test } from "node:test";
import { clean, fingerprints, flightOf, flightsOf, launch, middleOf, open, openFlight, serve, settled } from "./harness.mjs";

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

test("the logbook is worst first, and says so", async () => {
  const tab = await open(browser, server.url);
  await tab.page.waitForSelector(".rows .row");
  const words = await tab.page.$$eval(".rows .row .verdict", (all) => all.map((x) => x.textContent));
  const rank = { refuse: 0, look: 1, accept: 2 };
  assert.equal(words.length, 7);
  assert.ok(new Set(words).size > 1, "all verdicts are alike: the order proves nothing");
  assert.deepEqual(words, [...words].sort((a, b) => rank[a] - rank[b]));
  assert.deepEqual(await tab.page.$$eval(".rows .row", (all) => all.map((x) => x.id.replace("flight-", ""))), (await flights()).map((r) => r.id));
  assert.match(await tab.page.textContent(".explain"), /Worst first/);
  await tab.page.click("button.sort:has-text('Top')");
  const tops = (await tab.page.$$eval(".rows .c-top .number", (all) => all.map((x) => Number(x.textContent))));
  assert.deepEqual(tops, [...tops].sort((a, b) => b - a));
  await tab.page.fill("input[type=search]", "reed nowhere");
  assert.equal(await tab.page.$$eval(".rows .row", (all) => all.length), 0);
  await tab.page.fill("input[type=search]", "reed");
  assert.equal(await tab.page.$$eval(".rows .row", (all) => all.length), 4);
  clean(tab);
  await tab.close();
});

test("zoom, pan and axis move every panel, and back to exactly the first picture", async () => {
  const tab = await openFlight(browser, server, 3);
  const { page } = tab;
  await settled(page);
  const first = await fingerprints(page);
  assert.equal(Object.keys(first).length, 7);
  const differ = async (than, what) => {
    await settled(page);
    const now = await fingerprints(page);
    for (const [panel, sum] of Object.entries(now)) assert.notEqual(sum, than[panel], `${panel} did not follow ${what}`);
    return now;
  };
  const at = await middleOf(page, "Wind speed");
  await page.mouse.move(at.x, at.y);
  await page.mouse.wheel(0, -400);
  const zoomed = await differ(first, "the wheel");
  await page.mouse.move(40, at.y);
  await page.mouse.down();
  await page.mouse.move(40, at.y + 60, { steps: 4 });
  await page.mouse.up();
  await differ(zoomed, "the drag of the scale");
  await page.keyboard.press("a");
  await differ(first, "the change of axis");
  await page.keyboard.press("a");
  await page.keyboard.press("a");
  await page.keyboard.press("0");
  await settled(page);
  assert.deepEqual(await fingerprints(page), first);
  await page.keyboard.press("Shift+ArrowUp");
  await page.keyboard.press("Escape");
  const box = await middleOf(page, "Temperature");
  await page.keyboard.down("Shift");
  await page.mouse.move(box.left + 30, box.y - 40);
  await page.mouse.down();
  await page.mouse.move(box.right - 30, box.y + 40, { steps: 4 });
  await page.mouse.up();
  await page.keyboard.up("Shift");
  await differ(first, "the box");
  clean(tab);
  await tab.close();
});

test("a finding takes all panels and the cursor there", async () => {
  const tab = await openFlight(browser, server, 3);
  const { page } = tab;
  await settled(page);
  const first = await fingerprints(page);
  const list = (await flight(3)).findings;
  const wanted = list.find((f) => f.spans?.length === 1 && f.bottom_m_msl !== null && f.top_m_msl - f.bottom_m_msl < 2000);
  assert.ok(wanted, "the flight has no finding of one short span");
  await page.click(`.finding:has-text(${JSON.stringify(wanted.sentence.slice(1, 40))})`);
  await settled(page);
  const now = await fingerprints(page);
  for (const [panel, sum] of Object.entries(now)) assert.notEqual(sum, first[panel], `${panel} did not follow the finding`);
  const where = await page.textContent(".where b");
  assert.ok(Math.abs(Date.parse(`${wanted.first_utc.slice(0, 10)}T${where}Z`) - Date.parse(wanted.first_utc)) <= 1000, `${where} is not ${wanted.first_utc}`);
  assert.match(await page.textContent('[aria-current="true"] .evidence'), /km/);
  const height = await page.textContent('.values tr:has-text("Height") td');
  assert.ok(Number(height.replace(/[^\d.]/g, "")) >= wanted.bottom_m_msl - 30 && Number(height.replace(/[^\d.]/g, "")) <= wanted.top_m_msl + 30, height);
  clean(tab);
  await tab.close();
});

/** The CSV of the flight, taken from the page's own link as a person would: columns by name, and the bytes. */
async function handedOver(page) {
  await page.click("[role=tab]:has-text('Hand over')");
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("a:text-is('csv')")]);
  const text = await readFile(await download.path(), "utf8");
  const [names, , ...rows] = text.trimEnd().split("\n").map((line) => line.split(","));
  return { text, rows: rows.length, column: (name) => rows.map((r) => r[names.indexOf(name)]) };
}

test("a span is brushed, excluded, previewed, stored, and taken back; the file handed over follows", async () => {
  const tab = await openFlight(browser, server, 1);
  const { page } = tab;
  const before = await handedOver(page);
  await page.evaluate(() => scrollTo(0, 0));
  await settled(page);
  const at = await middleOf(page, "Temperature");
  await page.mouse.move(at.x, at.y - 20);
  await page.mouse.down();
  await page.mouse.move(at.x, at.y + 20, { steps: 5 });
  await page.mouse.up();
  await page.waitForSelector(".actions");
  await page.keyboard.press("1");
  await page.waitForSelector(".effect");
  assert.match(await page.textContent(".effect"), /temperature: .*flags/);
  assert.equal((await flight(1)).decisions.length, 0, "a preview was stored");
  assert.ok(await page.isDisabled(".decide .main"), "a decision without a reason can be stored");
  await page.fill(".decide input[list=reasons]", "wet bulb after cloud");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Stored as')");
  const stored = (await flight(1)).decisions;
  assert.equal(stored.length, 1);
  assert.deepEqual([stored[0].action, stored[0].variables, stored[0].reason, stored[0].who], ["exclude", ["temperature"], "wet bulb after cloud", "first reviewer"]);
  const after = await handedOver(page);
  assert.equal(after.rows, before.rows);
  // An excluded value is kept and flagged bad: 4 in IOC Manuals and Guides 54, volume 3.
  const was = before.column("temperature_flag"), now = after.column("temperature_flag");
  const bad = now.flatMap((flag, i) => (flag === "4" && was[i] !== "4" ? [i] : []));
  const times = after.column("time_utc").map(Date.parse), [from, to] = [stored[0].from_utc, stored[0].to_utc].map(Date.parse);
  const named = times.flatMap((t, i) => (t >= from && t <= to && was[i] !== "4" && was[i] !== "9" ? [i] : []));
  assert.ok(bad.length > 10, "next to nothing was excluded: the file proves nothing");
  assert.deepEqual(bad, named, "the file flags other samples than the decision names");
  assert.deepEqual(after.column("temperature_raw_k"), before.column("temperature_raw_k"), "what was received was changed");
  assert.deepEqual(after.column("wind_speed_m_s"), before.column("wind_speed_m_s"));
  await page.click("[role=tab]:has-text('History')");
  assert.match(await page.textContent(".decisions"), /first reviewer excluded temperature/);
  await page.keyboard.press("u");
  await page.fill(".decide input[list=reasons]", "it was the air");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Taken back')");
  assert.equal((await flight(1)).decisions[0].revoked.reason, "it was the air");
  assert.equal((await handedOver(page)).text, before.text, "a decision taken back leaves its trace in the values");
  clean(tab);
  await tab.close();
});

test("a stale decision is refused with what changed, and nothing is overwritten", async () => {
  const tab = await openFlight(browser, server, 4);
  const { page } = tab;
  await page.keyboard.press("n");
  await page.keyboard.press("Space");
  await page.waitForSelector(".decide");
  const seen = (await flight(4)).revision;
  const other = await fetch(`${server.url}api/flights/4/decisions`, { method: "POST", headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ revision: seen, decision: { id: "", action: "note", reason: "the gap is the valley", who: "second reviewer" } }) });
  assert.equal(other.status, 200);
  await page.waitForSelector(".said:has-text('would be refused')");
  await page.fill(".decide input[list=reasons]", "seen");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".failed, .said:has-text('Stored')");
  const failed = await page.$(".failed");
  const list = (await flight(4)).decisions;
  if (failed === null) assert.fail("the stale decision was stored");
  assert.match(await failed.textContent(), /second reviewer noted: the gap is the valley/);
  assert.equal(list.length, 1);
  assert.equal(list[0].who, "second reviewer");
  await page.click("button:has-text('Show the flight as it is now')");
  await page.waitForFunction(() => !document.querySelector(".decide .main")?.disabled);
  await page.keyboard.press("Tab");
  await page.click(".decide .main");
  await page.waitForSelector(".said:has-text('Stored as')");
  assert.equal((await flight(4)).decisions.length, 2);
  await tab.close();
});

test("a change by somebody else reaches an open page by itself", async () => {
  const tab = await openFlight(browser, server, 6);
  await tab.page.waitForTimeout(300);
  await fetch(`${server.url}api/flights/6/decisions`, { method: "POST", headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ revision: 0, decision: { id: "", action: "note", reason: "burst by hail", who: "second reviewer" } }) });
  await tab.page.waitForSelector(".said:has-text('Somebody else')");
  await tab.page.waitForSelector("[role=tab]:has-text('History 1')");
  clean(tab);
  await tab.close();
});

test("release is moved by the keyboard alone, from the logbook to the store", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.keyboard.press("j");
  await page.keyboard.press("k");
  await page.keyboard.press("End");
  await page.keyboard.press("Home");
  await settled(page);
  const id = await page.$eval(".rows .row.current", (x) => x.id.replace("flight-", ""));
  assert.equal(id, (await flights())[0].id, "Home does not go to the worst flight");
  await page.keyboard.press("Enter");
  await page.waitForURL(`**/#/flight/${id}`);
  await page.waitForSelector(".canvas canvas");
  await page.waitForFunction(() => performance.getEntriesByName("leadline-drawn").length > 0);
  await page.keyboard.press("b");
  await page.keyboard.press("n");
  await page.keyboard.press("t");
  await page.waitForSelector(".trail table");
  assert.match(await page.textContent(".trail"), /as received/);
  await page.keyboard.press("Shift+ArrowUp");
  await page.keyboard.press("Shift+PageUp");
  await page.waitForSelector(".actions");
  const label = await page.textContent(".actions button:has-text('Release')");
  await page.keyboard.press(label.trim().slice(-1));
  await page.waitForSelector(".decide");
  await page.keyboard.type("seen on the video");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Control+A");
  await page.keyboard.type("first reviewer");
  await page.waitForSelector(".effect");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Stored as')");
  const now = await flight(id);
  const d = now.decisions.at(-1);
  assert.equal(d.action, "set-release");
  assert.ok(Math.abs(Date.parse(now.events.release.utc) - Date.parse(d.value)) < 1500, `release ${now.events.release.utc}, decided ${d.value}`);
  await page.keyboard.press("u");
  await page.waitForSelector(".decide");
  await page.keyboard.type("tried");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".said:has-text('Taken back')");
  await page.keyboard.press("g");
  await page.keyboard.press("l");
  await page.waitForSelector(".rows .row");
  await page.keyboard.press("?");
  await page.waitForSelector("dialog[open]");
  await page.keyboard.press("Escape");
  clean(tab);
  await tab.close();
});

test("a humidity sensor is chosen over a span", async () => {
  const tab = await openFlight(browser, server, 2);
  const { page } = tab;
  const at = await middleOf(page, "Humidity");
  await page.mouse.move(at.x, at.y + 150);
  await page.mouse.down();
  await page.mouse.move(at.x, at.y + 60, { steps: 5 });
  await page.mouse.up();
  await page.click(".actions button:has-text('Sensor B')");
  await page.waitForSelector(".effect");
  await page.fill(".decide input[list=reasons]", "sensor A iced");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.click(".decide .main");
  await page.waitForSelector(".said:has-text('Stored as')");
  const d = (await flight(2)).decisions.at(-1);
  assert.deepEqual([d.action, d.value], ["choose-sensor", "b"]);
  assert.ok(Date.parse(d.to_utc) > Date.parse(d.from_utc));
  clean(tab);
  await tab.close();
});

test("an item of the launch record is corrected from its table", async () => {
  const tab = await openFlight(browser, server, 5);
  const { page } = tab;
  await page.click("[role=tab]:has-text('Launch record')");
  await page.click("button[aria-label='Correct surface pressure']");
  await page.fill(".decide label:has-text('New value') input", "1009.5 hPa");
  await page.fill(".decide input[list=reasons]", "mistyped, checked against the paper form");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.waitForSelector(".effect");
  await page.click(".decide .main");
  await page.waitForSelector(".said:has-text('Stored as')");
  const item = (await flight(5)).record.find((i) => i.path === "surface.pressure_hpa");
  assert.equal(item.value, "1009.5");
  assert.notEqual(item.given, "1009.5");
  clean(tab);
  await tab.close();
});

test("markup in names and notes is shown as text and does nothing", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  assert.match(await page.textContent(".rows"), /<img src=x onerror=/);
  const id = (await flights()).find((r) => r.sources[0].startsWith("<img")).id;
  await page.goto(`${server.url}#/flight/${id}`);
  await page.waitForSelector(".canvas canvas");
  assert.match(await page.textContent(".facts-line"), /<b>reed<\/b> & "bay"/);
  await page.click("[role=tab]:has-text('Launch record')");
  assert.match(await page.textContent("#pane-record"), /<script>document\.title='run'<\/script>/);
  await page.click("[role=tab]:has-text('Sources')");
  assert.match(await page.textContent("#pane-sources"), /<img src=x/);
  assert.equal(await page.title(), "leadline");
  assert.equal(await page.$$eval("main img, main b b, main script, .facts-line b", (all) => all.length), 0);
  clean(tab);
  await tab.close();
});

test("the source downloads bit for bit", async () => {
  const tab = await openFlight(browser, server, 3);
  await tab.page.click("[role=tab]:has-text('Sources')");
  const [download] = await Promise.all([tab.page.waitForEvent("download"), tab.page.click("a:has-text('as received')")]);
  const bytes = await readFile(await download.path());
  const sum = (await import("node:crypto")).createHash("sha256").update(bytes).digest("hex");
  assert.equal(sum, (await flight(3)).sources[0].sha256);
  await tab.close();
});

for (const [name, options] of [["narrow", { viewport: { width: 820, height: 1180 } }], ["1280, dark", { viewport: { width: 1280, height: 800 }, colorScheme: "dark" }], ["reduced motion, light", { reducedMotion: "reduce", colorScheme: "light" }]]) {
  test(`logbook and flight fit and are legible: ${name}`, async () => {
    const tab = await open(browser, server.url, options);
    const { page } = tab;
    await page.waitForSelector(".rows .row");
    const wide = () => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok((await wide()) <= 0, "the logbook is wider than the screen");
    await page.goto(`${server.url}#/flight/1`);
    await page.waitForSelector(".canvas canvas");
    assert.ok((await wide()) <= 0, "the flight is wider than the screen");
    const paper = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const light = Number(paper.match(/\d+/)[0]) > 128;
    assert.equal(light, options.colorScheme !== "dark");
    const heads = await page.$$eval(".panel-head h3", (all) => all.map((h) => h.scrollWidth - h.clientWidth));
    assert.ok(heads.length === 7 && heads.every((x) => x <= 1), `a panel's title is cut: ${heads}`);
    if (options.colorScheme === "dark") {
      await page.selectOption(".appearance select", "light");
      assert.ok(Number((await page.evaluate(() => getComputedStyle(document.body).backgroundColor)).match(/\d+/)[0]) > 128, "the choice of light is not kept");
    }
    clean(tab);
    await tab.close();
  });
}

test("charts are drawn, indices and files follow from the flight", async () => {
  const tab = await openFlight(browser, server, 3);
  const { page } = tab;
  await page.waitForFunction(() => document.querySelectorAll(".charts option").length > 0, undefined, { timeout: 20000 });
  await settled(page);
  // Ink on the canvas in the colours of temperature and of wind: the curves are there.
  const tones = await page.evaluate(() => {
    const near = (d, i, c) => Math.abs(d[i] - c[0]) + Math.abs(d[i + 1] - c[1]) + Math.abs(d[i + 2] - c[2]) < 60;
    return [[0, [213, 94, 0]], [1, [170, 68, 153]], [2, [28, 27, 25]]].map(([k, c]) => {
      const canvas = document.querySelectorAll(".chart-canvas canvas:first-child")[k];
      const d = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
      let n = 0;
      for (let i = 0; i < d.length; i += 4) if (near(d, i, c)) n++;
      return n;
    });
  });
  assert.ok(tones.every((n) => n > 150), `few pixels of the curves: ${tones}`);
  await page.click("[role=tab]:has-text('Indices')");
  const indices = await (await fetch(`${server.url}api/flights/3/indices`)).json();
  const water = indices.set.indices.find((i) => i.name === "precipitable_water");
  assert.ok(water.value > 1, "the flight has no precipitable water");
  assert.ok((await page.textContent(`#pane-indices tr:has-text(${JSON.stringify(water.label)})`)).includes(water.value.toFixed(1)));
  // Another profile of the flight: its table names it, and so does its file.
  await page.selectOption("#pane-indices select", "descent");
  await page.waitForSelector("#pane-indices th:has-text('index, descent')");
  assert.match(await page.textContent("#pane-indices"), /the way down, corrected as a descent/);
  await page.click("[role=tab]:has-text('Levels')");
  await page.selectOption("#pane-levels select", "merged");
  await page.waitForSelector("#pane-levels th:has-text('ascent and descent merged')");
  await page.click("[role=tab]:has-text('Hand over')");
  await page.selectOption("#pane-handover select", "descent");
  const [down] = await Promise.all([page.waitForEvent("download"), page.click("#pane-handover a:has-text('levels')")]);
  assert.match(down.suggestedFilename(), /-descent\.levels\.csv$/);
  await page.selectOption("#pane-handover select", "ascent");
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("#pane-handover a:has-text('csv')")]);
  assert.match(download.suggestedFilename(), /\.csv$/);
  clean(tab);
  await tab.close();
});

test("another flight is laid over this one, and taken away again", async () => {
  const tab = await openFlight(browser, server, 1);
  const { page } = tab;
  await settled(page);
  const alone = await fingerprints(page);
  await page.keyboard.press("c");
  await page.click(".choices button");
  await page.waitForSelector(".layers");
  await settled(page);
  const both = await fingerprints(page);
  for (const panel of Object.keys(alone)) if (/Temp|Hum|Wind|Asc/.test(panel)) assert.notEqual(both[panel], alone[panel], `${panel} shows no second flight`);
  assert.ok((await page.$$eval(".layers tbody tr", (all) => all.length)) > 3);
  await page.click("button:has-text('Take it away')");
  await settled(page);
  assert.deepEqual(await fingerprints(page), alone);
  clean(tab);
  await tab.close();
});

test("a suggestion is looked at, its effect seen, and stored only by a person", async () => {
  const tab = await openFlight(browser, server, 3);
  const { page } = tab;
  await page.waitForSelector(".suggestion");
  assert.match(await page.textContent(".suggestion"), /declared/);
  await page.click(".suggestion summary");
  assert.ok((await page.$$eval(".suggestion tbody tr", (all) => all.length)) > 0, "a suggestion without evidence");
  const before = (await flight(3)).decisions.length;
  await page.click(".suggestion button:has-text('Look at')");
  await page.waitForSelector(".effect");
  assert.equal((await flight(3)).decisions.length, before, "a suggestion took effect by itself");
  assert.ok((await page.inputValue(".decide input[list=reasons]")).length > 5, "no reason is offered");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.click(".decide .main");
  await page.waitForSelector(".said:has-text('Stored as')");
  const d = (await flight(3)).decisions.at(-1);
  assert.deepEqual([d.action, d.field], ["correct-record", "release.declared_utc"]);
  await page.waitForFunction(() => document.querySelector(".suggestion") === null);
  clean(tab);
  await tab.close();
});
