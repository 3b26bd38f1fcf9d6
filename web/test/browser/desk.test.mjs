// The launch desk in a real browser.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { launch, open, serve } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser, server;
before(async () => {
  [browser, server] = await Promise.all([launch(), serve("campaign")]);
});
after(async () => {
  await browser?.close();
  await server?.stop();
});

const desk = async (options) => {
  const tab = await open(browser, `${server.url}#/desk`, options);
  await tab.page.waitForSelector("#desk-list .tick");
  return tab;
};
const status = (page, b) => page.textContent(`#desk-${b} > header .desk-status`);
const plan = [
  ["release.nominal_utc", "2031-06-04 00:00"], ["time_zone", "Europe/Zurich"], ["site.name", "north pier"], ["site.latitude_deg", "46.21022"], ["site.longitude_deg", "6.14533"], ["site.height_m_msl", "431.2"],
  ["fill.purity_pct", "99"], ["balloon.mass_kg", "0.8"], ["balloon.payload_kg", "0.23"], ["balloon.target_ascent_rate_m_s", "5"],
  ["surface.time_utc", "2031-06-03 23:05"], ["surface.pressure_hpa", "965.4"], ["surface.temperature_c", "17.3"], ["surface.humidity_pct", "61"], ["surface.wind_speed_m_s", "4 kt"], ["surface.wind_direction_deg", "250"],
];
const fill = async (page, values = plan) => {
  for (const [path, text] of values) await page.fill(`input[name="${path}"]`, text);
};

test("a plan typed on the keyboard alone gives a fill and a landing", async () => {
  const tab = await desk();
  const { page } = tab;
  assert.equal(await status(page, "fill"), "open");
  assert.match(await page.textContent("#desk-fill .waits"), /surface pressure is not given/);
  assert.match(await page.textContent("#desk-fill .caution"), /trained practice/);
  // From the first field on: a text and Enter, Tab past what is no text field, Space for a choice.
  const wanted = new Map(plan);
  await page.focus('input[name="release.nominal_utc"]');
  const reached = new Set();
  for (let i = 0; i < 160 && reached.size < wanted.size + 1; i++) {
    const at = await page.evaluate(() => ({ name: document.activeElement?.getAttribute("name") ?? "", text: document.activeElement?.textContent ?? "" }));
    if (wanted.has(at.name)) {
      await page.keyboard.type(wanted.get(at.name));
      reached.add(at.name);
    } else if (at.text === "helium") {
      await page.keyboard.press("Space");
      reached.add("gas");
    }
    await page.keyboard.press("Tab");
  }
  assert.equal(reached.size, wanted.size + 1, `reached ${[...reached]}`);
  await page.waitForSelector(".lift");
  // The command gives 995 to 997 g for this load, rate and air (internal/prelaunch, checked there against the simulator).
  const lift = Number(/nozzle lift of (\d+) ±/.exec(await page.textContent(".lift"))[1]);
  assert.ok(lift > 980 && lift < 1010, `${lift} g`);
  assert.match(await page.textContent("#desk-drift .answer"), /Landing about [\d.]+ km towards \d{3}°/);
  assert.equal(await page.$$eval(".driftmap .ellipse", (all) => all.length), 2);
  assert.match(await page.textContent("#desk-drift .desk-remarks"), /there is no wind profile/);
  assert.equal(await status(page, "drift"), "look");
  assert.match(await page.textContent("#desk-drift"), /airspace authority of the State decides/);
  assert.equal(await status(page, "slot"), "done");
  assert.match(await page.textContent("#desk-slot .answer"), /Release 23:15–00:00 UTC, best 2031-06-03 23:30 UTC.*01:30 \+02:00/);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("Enter goes to the next field, n to the next part that is not done, g d comes here", async () => {
  const tab = await open(browser, server.url);
  const { page } = tab;
  await page.waitForSelector(".rows .row");
  await page.keyboard.press("g");
  await page.keyboard.press("d");
  await page.waitForSelector("#desk-list .tick");
  await page.focus('input[name="site.latitude_deg"]');
  await page.keyboard.press("Enter");
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute("name")), "site.longitude_deg");
  await page.evaluate(() => document.activeElement.blur());
  await page.keyboard.press("n");
  assert.equal(await page.evaluate(() => document.activeElement.id), "desk-slot");
  await page.keyboard.press("n");
  assert.equal(await page.evaluate(() => document.activeElement.id), "desk-place");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("wrong surface values are named beside their field, and what cannot be read names its line's field", async () => {
  const tab = await desk();
  const { page } = tab;
  await fill(page);
  await page.click("#desk-fill button:text-is('helium')");
  await page.waitForSelector(".lift");
  assert.doesNotMatch(await page.textContent("#desk-surface"), /reduced to sea level\?/);
  await page.fill('input[name="surface.pressure_hpa"]', "1016.2");
  await page.waitForSelector("#desk-surface .remark-warning:has-text('was it reduced to sea level')");
  assert.equal(await status(page, "surface"), "look");
  await page.fill('input[name="surface.pressure_hpa"]', "28.51");
  await page.waitForSelector("#desk-surface .remark-stop:has-text('was it read in inHg? That would be 965.5 hPa')");
  assert.equal(await status(page, "surface"), "stop");
  assert.equal(await page.$(".lift"), null, "a fill from a pressure that cannot be");
  await page.fill('input[name="surface.pressure_hpa"]', "lots");
  await page.waitForSelector("#desk-surface .desk-refused");
  assert.equal(await page.getAttribute('input[name="surface.pressure_hpa"]', "aria-invalid"), "true");
  await page.fill('input[name="surface.pressure_hpa"]', "28.51 inHg");
  await page.waitForSelector(".lift");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("ticks carry name and time, stay when the page is opened anew; every target is 48 px high", async () => {
  const tab = await desk();
  const { page } = tab;
  await page.click(".launch-list .tick >> nth=0");
  assert.match(await page.textContent("#desk-list .said"), /carries a name/);
  assert.equal(await page.evaluate(() => document.activeElement.id), "desk-who");
  await page.keyboard.type("A. Operator");
  await page.click(".launch-list .tick >> nth=0");
  await page.waitForSelector(".ticked");
  assert.match(await page.textContent(".ticked"), /^ \d\d:\d\d:\d\d UTC A\. Operator$/);
  assert.match(await page.textContent(".launch-list .step-caution"), /authority/);
  assert.equal(await page.getAttribute(".launch-list .tick >> nth=0", "aria-checked"), "true");
  await page.reload();
  await page.waitForSelector(".ticked");
  await page.click(".launch-list .tick >> nth=0");
  await page.waitForFunction(() => document.querySelector(".ticked") === null);
  // 48 px for every target.
  const small = await page.$$eval(".desk button, .desk .button, .desk input[type=text], .desk select, .desk summary, .desk-steps a", (all) =>
    all.filter((x) => x.offsetParent !== null && x.getBoundingClientRect().height < 48).map((x) => x.outerHTML.slice(0, 80)));
  assert.deepEqual(small, []);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("launch record and sheet are handed over, and the record opens again", async () => {
  const tab = await desk({ acceptDownloads: true });
  const { page } = tab;
  assert.equal(await page.isDisabled("button:has-text('Launch sheet (PDF)')"), true);
  await page.click("button:has-text('Example of an invented place')");
  await page.waitForSelector(".lift");
  await page.click("button:has-text('Released now')");
  await page.waitForFunction(() => /^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d$/.test(document.querySelector('input[name="release.declared_utc"]').value));
  const get = async (label) => {
    const [d] = await Promise.all([page.waitForEvent("download"), page.click(`button:has-text('${label}')`)]);
    return { name: d.suggestedFilename(), bytes: readFileSync(await d.path()) };
  };
  const pdf = await get("Launch sheet (PDF)");
  assert.match(pdf.name, /^North-pier-\d{8}-\d{4}\.sheet\.pdf$/);
  assert.equal(pdf.bytes.subarray(0, 5).toString(), "%PDF-");
  const record = await get("Launch record (TOML)");
  assert.match(record.bytes.toString(), /nozzle_lift_kg = 0\.99/);
  assert.match(record.bytes.toString(), /declared_utc = \d{4}-/);
  await page.click("button:has-text('Empty one')");
  await page.waitForFunction(() => document.querySelector('input[name="site.name"]').value === "");
  await page.setInputFiles(".desk-head input[type=file]", { name: record.name, mimeType: "text/plain", buffer: record.bytes });
  await page.waitForFunction(() => document.querySelector('input[name="site.name"]').value === "North pier");
  assert.equal(await page.inputValue('input[name="surface.temperature_c"]'), "17.3");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("wind and drag come from flights of the logbook, a forecast instead of one", async () => {
  const tab = await desk();
  const { page } = tab;
  await fill(page);
  await page.click("#desk-fill button:text-is('helium')");
  await page.waitForSelector(".lift");
  const calm = await page.textContent("#desk-drift .answer");
  await page.selectOption("#desk-drift select", { index: 1 });
  await page.waitForSelector("#desk-drift .answer:has-text('Wind: flight')");
  assert.notEqual(await page.textContent("#desk-drift .answer"), calm);
  await page.check("#desk-fill input[type=checkbox]");
  await page.waitForSelector("#desk-fill .desk-remarks:has-text('flight')");
  await page.setInputFiles('input[aria-label="Wind profile, such as a forecast"]', { name: "forecast.txt", mimeType: "text/plain", buffer: Buffer.from("# source = lake basin model\nheight_m_msl,wind_speed_kt,wind_direction_deg,temperature_c\n431,4,270,17\n12000,70,270,-58\n") });
  await page.waitForSelector("#desk-drift .answer:has-text('Wind: lake basin model')");
  assert.match(await page.textContent("#desk-drift .answer"), /towards 0[89]\d°/); // wind from the west carries it east
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("markup from files and fields is shown as text, and a broken plan changes nothing", async () => {
  const tab = await desk();
  const { page } = tab;
  const bad = '<img src=x onerror="document.title=1"><script>document.title=2</script>';
  await fill(page);
  await page.click("#desk-fill button:text-is('helium')");
  await page.fill('input[name="site.name"]', bad);
  const area = JSON.stringify({ type: "Feature", properties: { name: bad }, geometry: { type: "Polygon", coordinates: [[[6, 46], [7, 46], [7, 47], [6, 46]]] } });
  await page.setInputFiles('input[aria-label="Keep-out areas and lines (GeoJSON)"]', { name: `${bad.slice(0, 20)}.geojson`, mimeType: "application/json", buffer: Buffer.from(area) });
  const list = `[[step]]\nid = "x"\nwhen = "before"\ntext = '${bad}'\ncaution = '${bad}'\n`;
  await page.setInputFiles('input[aria-label="The site\'s own list (TOML)"]', { name: "list.toml", mimeType: "text/plain", buffer: Buffer.from(list) });
  await page.waitForFunction(() => document.querySelectorAll(".launch-list .tick").length === 1);
  await page.waitForSelector(".given-area text");
  assert.equal(await page.textContent(".given-area text"), bad);
  assert.ok((await page.textContent(".launch-list .tick-text")).startsWith(bad));
  assert.equal(await page.$$eval(".desk img, .desk script", (all) => all.length), 0);
  assert.notEqual(await page.title(), "1");
  const before = await page.inputValue('input[name="surface.pressure_hpa"]');
  await page.setInputFiles(".desk-head input[type=file]", { name: "broken.toml", mimeType: "text/plain", buffer: Buffer.from("[site]\nlatitude_deg = 146\n") });
  await page.waitForSelector(".desk-head .said:has-text('line 2')");
  assert.equal(await page.inputValue('input[name="surface.pressure_hpa"]'), before);
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("axe finds no serious fault on the desk: light, dark, high contrast, narrow", async () => {
  for (const [colorScheme, high, width] of [["light", false, 1280], ["dark", false, 1280], ["light", true, 820], ["dark", true, 820]]) {
    const context = await browser.newContext({ viewport: { width, height: 1000 }, colorScheme, bypassCSP: true });
    await context.addInitScript(axe);
    const page = await context.newPage();
    await page.goto(`${server.url}#/desk`);
    await page.waitForSelector("#desk-list .tick");
    await page.click("button:has-text('Example of an invented place')");
    await page.waitForSelector(".lift");
    if (high) {
      await page.click("button:has-text('High contrast')");
      await page.waitForSelector("html[data-contrast=high]");
      assert.deepEqual(await page.evaluate(() => [getComputedStyle(document.body).backgroundColor, getComputedStyle(document.querySelector(".desk .quiet")).color]), ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]);
    }
    const found = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations
      .map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 140)} ${n.any[0]?.message ?? ""}`).join(" | ")}`));
    assert.deepEqual(found.filter((x) => x.startsWith("serious") || x.startsWith("critical")), [], `${colorScheme} ${high ? "high" : ""}`);
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(over <= 0, `the page is ${over} px wider than a window of ${width}`);
    if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/desk-${colorScheme}-${high ? "high" : "plain"}-${width}.png`, fullPage: true });
    await context.close();
  }
});

test("a radiosonde that the check rejects flies only by a ruling with name and reason, and both travel", async () => {
  const tab = await desk({ acceptDownloads: true });
  const { page } = tab;
  await page.click("button:has-text('Example of an invented place')");
  await page.waitForSelector(".lift");
  await page.fill('input[name="ground_check.temperature_c"]', "21.4");
  await page.waitForSelector("#desk-check .remark-stop:has-text('reject: temperature reads')");
  assert.equal(await status(page, "check"), "stop");
  await page.fill("#desk-who", "A. Operator");
  await page.click("#desk-check button:text-is('fly it')");
  assert.equal(await page.inputValue('input[name="ground_check.ruled_by"]'), "A. Operator");
  await page.waitForSelector("#desk-check .remark-stop:has-text('a name and a reason are wanted')");
  await page.fill('input[name="ground_check.ruling_reason"]', "the last one, compared twice");
  await page.waitForSelector("#desk-check .remark-warning:has-text('flown against the ground check, ruled accept by A. Operator: the last one, compared twice')");
  assert.match(await page.textContent("#desk-check"), /In force: accept/);
  assert.equal(await status(page, "check"), "look");
  // A tick with a note.
  await page.click(".launch-list .tick:has-text('aircraft looked')");
  await page.fill('input[name="note.sky"]', "one at 2 km, waited");
  const [d] = await Promise.all([page.waitForEvent("download"), page.click("button:has-text('Launch record (TOML)')")]);
  const record = readFileSync(await d.path(), "utf8");
  for (const line of [/result = "reject: temperature reads \+1\.60 K/, /ruling = "accept"/, /ruled_by = "A\. Operator"/, /ruling_reason = "the last one, compared twice"/, /step = "sky"\ntext = "aircraft looked and listened for"\nat_utc = \S+\nwho = "A\. Operator"\nnote = "one at 2 km, waited"/]) assert.match(record, line);
  // It opens again with all of it.
  await page.click("button:has-text('Empty one')");
  await page.waitForFunction(() => document.querySelector(".ticked") === null && document.querySelector(".lift") === null);
  await page.setInputFiles(".desk-head input[type=file]", { name: "again.toml", mimeType: "text/plain", buffer: Buffer.from(record) });
  await page.waitForSelector(".launch-list .ticked");
  assert.equal(await page.inputValue('input[name="note.sky"]'), "one at 2 km, waited");
  assert.equal(await page.inputValue('input[name="ground_check.ruling_reason"]'), "the last one, compared twice");
  await page.click("#desk-check button:text-is('take another')");
  await page.waitForSelector("#desk-check .remark-stop:has-text('take another radiosonde')");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("stock is counted down from the logbook, extra releases have their windows, and remarks speak the fields' words", async () => {
  const tab = await desk();
  const { page } = tab;
  assert.match(await page.textContent("#desk-slot .desk-remarks"), /write “Nominal hour”, or “Nominal hour by the local clock, instead”/);
  assert.doesNotMatch(await page.textContent(".desk"), /nominal_utc|payload_kg|time_zone|payload\.package/);
  await fill(page);
  await page.click("#desk-fill button:text-is('helium')");
  await page.fill('input[name="slot.extra"]', "2031-06-04 15:00");
  await page.waitForSelector("#desk-slot li:has-text('Extra release 2031-06-04 15:00 UTC: window 14:15–15:00 UTC, best 14:30')");
  await page.fill('input[name="slot.extra"]', "tea time");
  await page.waitForSelector("#desk-slot .desk-remarks:has-text('tea time')");
  await page.fill('input[name="slot.extra"]', "");
  await page.click("#desk-fill summary:has-text('Stock')");
  await page.click("button:has-text('Count radiosondes, balloons and strings')");
  const row = "#desk-fill .row-fields:has(input)";
  const at = (n, label) => page.locator(`${row}`).nth(n).getByLabel(label, { exact: true });
  await at(0, "counted").fill("5");
  await at(0, "counted at, UTC").fill("2000-01-01 00:00");
  await at(1, "counted").fill("30");
  await at(2, "counted").fill("30");
  // Three flights of the north pier are in the logbook.
  await page.waitForSelector(".fill-answer dd:has-text('3 flown since 2000-01-01 00:00 UTC, 2 left')");
  await page.fill('input[name="slot.releases"]', "3");
  await page.waitForSelector("#desk-fill .remark-warning:has-text('radiosondes: 2 left, 3 needed for 3 releases to come: 1 short')");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});

test("the label is printed alone", async () => {
  const tab = await desk();
  const { page } = tab;
  await page.click("button:has-text('Example of an invented place')");
  await page.waitForSelector(".lift");
  await page.click("summary:has-text('Finder')");
  await page.evaluate(() => {
    window.print = () => {
      window.printed = document.documentElement.dataset.print;
    };
  });
  await page.click("#desk-release button:has-text('Print the label')");
  assert.equal(await page.evaluate(() => window.printed), "label");
  await page.emulateMedia({ media: "print" });
  const seen = await page.evaluate(() => [...document.querySelectorAll("body *")].filter((x) => getComputedStyle(x).visibility === "visible" && x.offsetParent !== null).map((x) => x.className));
  assert.deepEqual(seen, []); // a fixed box has no offset parent; nothing else is to be seen
  assert.equal(await page.evaluate(() => getComputedStyle(document.querySelector(".label-text")).visibility), "visible");
  const pdf = await page.pdf({ format: "A4" });
  assert.equal(pdf.toString("latin1").match(/\/Type \/Page\b/g).length, 1, "one sheet of paper");
  if (process.env.SHOTS) writeFileSync(`${process.env.SHOTS}/label.pdf`, pdf);
  await page.evaluate(() => window.dispatchEvent(new Event("afterprint")));
  assert.equal(await page.evaluate(() => document.documentElement.dataset.print ?? "none"), "none");
  await tab.close();
});

test("after the flight: last position, expected landing, label, and a log that the desk shows", async () => {
  const tab = await open(browser, `${server.url}#/flight/1`);
  const { page } = tab;
  await page.click("#tab-recovery");
  await page.waitForSelector(".recovery .places b");
  assert.match(await page.textContent(".recovery .places"), /last received.*° [NS], .*at [\d,  ]+ m.*UTC/);
  assert.match(await page.textContent(".recovery .places"), /95 % within [\d.]+ by [\d.]+ km/);
  assert.match(await page.textContent(".recovery"), /Nothing is worth climbing/);
  await page.fill('input[name="contact.name"]', "Lake hut");
  await page.fill('input[name="contact.phone"]', "+00 000");
  await page.waitForSelector(".label-text:has-text('Lake hut')");
  await page.click("summary:has-text('Write down what became of it')");
  await page.click("button:has-text('Write it down')");
  await page.waitForSelector(".recovery .said:has-text('says not who wrote it')");
  await page.fill('input[name="recovery.who"]', "A. Operator");
  await page.fill('input[name="recovery.latitude"]', "46.5");
  await page.click("button:has-text('Write it down')");
  await page.waitForSelector(".recovery .said:has-text('is no number')");
  await page.fill('input[name="recovery.longitude"]', "6.25");
  await page.fill('input[name="recovery.note"]', "by the fence <b>");
  await page.click("button:has-text('Write it down')");
  await page.waitForSelector(".recovery-log li:has-text('by the fence <b>')");
  assert.equal(await page.$(".recovery-log li b + b"), null);
  assert.match(await page.textContent(".label-text"), /Lake hut/);
  if (process.env.SHOTS) await page.locator(".below").screenshot({ path: `${process.env.SHOTS}/recovery.png` });
  await page.goto(`${server.url}#/desk`);
  await page.waitForSelector(".recovery-overview summary:has-text('1 still out, 1 in the log')");
  await page.click(".recovery-overview summary");
  assert.match(await page.getAttribute(".recovery-overview a", "href"), /#\/flight\/1$/);
  assert.equal(await page.inputValue("#desk-who"), "A. Operator");
  assert.deepEqual(tab.troubles, []);
  await tab.close();
});
