// The honest states: empty, gone, huge, without humidity, bad all over; accessibility.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { launch, middleOf, open, openFlight, serve, settled } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
before(async () => {
  browser = await launch();
});
after(() => browser?.close());

const text = (lines) => Buffer.from(lines.join("\n"));

test("an empty logbook says how to begin, and takes dropped files with a result for each", async () => {
  const server = await serve("empty");
  const source = await serve("campaign");
  try {
    const tab = await open(browser, server.url);
    const { page } = tab;
    await page.waitForSelector(".empty");
    assert.match(await page.textContent(".empty"), /leadline add/);
    const book = await (await fetch(`${source.url}api/flights`)).json();
    const row = book.flights.find((r) => r.site === "north pier");
    const f = await (await fetch(`${source.url}api/flights/${row.id}`)).json();
    const bytes = Buffer.from(await (await fetch(`${source.url}api/flights/${row.id}/sources/${f.sources[0].sha256}`)).arrayBuffer());
    // A drop as the browser makes it.
    const files = [{ name: "flight.txt", body: bytes.toString("base64") }, { name: "shopping.txt", body: text(["milk", "bread"]).toString("base64") }, { name: "again.txt", body: bytes.toString("base64") },
      { name: "launch.toml", body: text(['operator = "first reviewer"', "[site]", 'name = "south mole"']).toString("base64") }];
    const data = await page.evaluateHandle((list) => {
      const d = new DataTransfer();
      for (const f of list) d.items.add(new File([Uint8Array.from(atob(f.body), (c) => c.charCodeAt(0))], f.name));
      return d;
    }, files);
    await page.dispatchEvent(".drop", "dragover", { dataTransfer: data });
    await page.dispatchEvent(".drop", "drop", { dataTransfer: data });
    await page.waitForSelector(".sent h2:has-text('4 files read')", { timeout: 20000 });
    const results = await page.$$eval(".sent li", (all) => all.map((x) => x.textContent));
    // What failed comes first.
    assert.match(results[0], /^shopping\.txt: .{10,}/);
    assert.doesNotMatch(results[0], /accept|look,/);
    const of = (name) => results.find((x) => x.startsWith(`${name}: `)) ?? "";
    assert.match(of("flight.txt"), /(accept|look|refuse)/);
    assert.match(of("again.txt"), /already there/);
    assert.match(of("launch.toml"), /taken as the launch record/);
    await page.waitForSelector(".rows .row");
    assert.equal(await page.$$eval(".rows .row", (all) => all.length), 1);
    assert.match(await page.textContent(".rows .c-site"), /south mole/);
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
    await source.stop();
  }
});

test("when the server goes, the page says so and loses nothing; when it is back, it goes on", async () => {
  const server = await serve("campaign");
  const tab = await openFlight(browser, server, 1);
  const { page } = tab;
  await server.stop();
  await page.waitForSelector(".notice:has-text('does not answer')", { timeout: 20000 });
  assert.ok(await page.isVisible(".canvas canvas"), "what was on screen is gone");
  await page.keyboard.press("n");
  await page.keyboard.press("Space");
  await page.fill(".decide input[list=reasons]", "seen");
  await page.fill(".decide label:has-text('Decided by') input", "first reviewer");
  await page.click(".decide .main");
  await page.waitForSelector(".decide .failed:has-text('does not answer')");
  assert.equal(await page.inputValue(".decide input[list=reasons]"), "seen", "the reason typed is lost");
  const again = await serve("campaign", new URL(server.url).host);
  try {
    await page.waitForSelector(".notice", { state: "detached", timeout: 20000 });
    await page.click(".decide .main");
    await page.waitForSelector(".said:has-text('Stored as')");
  } finally {
    await tab.close();
    await again.stop();
  }
});

test("the hard flights open, each with its own honest state", async () => {
  const server = await serve("hard");
  try {
    const rows = (await (await fetch(`${server.url}api/flights`)).json()).flights;
    const details = await Promise.all(rows.map(async (r) => (await fetch(`${server.url}api/flights/${r.id}`)).json()));
    const long = details.find((f) => f.rows >= 40000);
    assert.ok(long, `no flight has 40,000 rows: ${details.map((f) => f.rows)}`);
    const tab = await openFlight(browser, server, long.id);
    const { page } = tab;
    await page.keyboard.press("d");
    await page.keyboard.press("b");
    await settled(page);
    assert.match(await page.textContent(".facts-line"), /rows\s*\d\d\s\d{3}/);
    assert.deepEqual(tab.troubles, []);
    await tab.close();
    for (const f of details.filter((x) => x !== long)) {
      const t = await openFlight(browser, server, f.id);
      await t.page.keyboard.press("n");
      await t.page.keyboard.press("t");
      await settled(t.page);
      assert.match(await t.page.textContent(".summary"), /\w{4}/);
      assert.deepEqual(t.troubles, []);
      await t.close();
    }
    const gone = await open(browser, `${server.url}#/flight/99`);
    await gone.page.waitForSelector(".notice:has-text('no such flight')");
    await gone.close();
  } finally {
    await server.stop();
  }
});

test("5,000 flights scroll, sort and search, and few rows are in the page", async () => {
  const server = await serve("many");
  try {
    const tab = await open(browser, server.url);
    const { page } = tab;
    await page.waitForSelector(".rows .row");
    assert.match(await page.textContent(".logbook-head"), /all 5007/);
    assert.ok((await page.$$eval(".row", (all) => all.length)) < 60);
    await page.keyboard.press("End");
    await settled(page);
    assert.ok(await page.isVisible(".rows .row.current"));
    // Wherever one scrolls, the window is full of rows, and few are in the page.
    const bare = await page.evaluate(async () => {
      const box = document.querySelector(".grid");
      const out = [];
      for (let i = 0; i < 40; i++) {
        box.scrollTop = (i * 3331) % (box.scrollHeight - box.clientHeight);
        await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 20))));
        const r = box.getBoundingClientRect();
        for (const part of [0.2, 0.5, 0.9]) {
          if (document.elementFromPoint(r.left + 60, r.top + r.height * part)?.closest(".rows .row") === null) out.push(`${box.scrollTop} at ${part}`);
        }
        if (document.querySelectorAll(".row").length > 60) out.push("too many rows");
      }
      return out;
    });
    assert.deepEqual(bare, []);
    await page.fill("input[type=search]", "reed");
    await settled(page);
    assert.match(await page.textContent(".explain"), /of 5007 flights/);
    assert.deepEqual(tab.troubles, []);
    await tab.close();
  } finally {
    await server.stop();
  }
});

test("a printed logbook holds every flight, with its heading and its reasons whole", async () => {
  const server = await serve("many");
  try {
    const tab = await open(browser, server.url);
    const { page } = tab;
    await page.waitForSelector(".rows .row");
    const all = Number(await page.getAttribute(".grid", "aria-rowcount")) - 1;
    assert.ok(await page.locator(".rows .row").count() < all);
    await page.keyboard.press("/");
    await page.keyboard.press("Escape");
    assert.ok(await page.evaluate(() => document.activeElement.classList.contains("grid")), "the list has the focus again");
    await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
    await page.emulateMedia({ media: "print" });
    await settled(page);
    assert.equal(await page.locator(".rows .row").count(), all);
    assert.ok(await page.isVisible("h1"));
    const cut = await page.$$eval(".rows .row", (rows) => rows.slice(0, 40).filter((r) => {
      const why = r.querySelector(".reason");
      return why.scrollHeight > why.clientHeight + 1 || r.scrollHeight > r.clientHeight + 1 || r.getBoundingClientRect().bottom > (r.nextElementSibling?.getBoundingClientRect().top ?? 1e9) + 1;
    }).length);
    assert.equal(cut, 0);
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
    await page.emulateMedia({ media: "screen" });
    await settled(page);
    assert.ok(await page.locator(".rows .row").count() < all);
    await tab.close();
    assert.deepEqual(tab.troubles, []);
  } finally {
    await server.stop();
  }
});

test("with the system's colours the chosen is told apart; at twice the size nothing of the logbook lies over another", async () => {
  const server = await serve("campaign");
  try {
    const tab = await open(browser, server.url);
    const { page } = tab;
    await page.waitForSelector(".rows .row");
    await page.emulateMedia({ forcedColors: "active" });
    const colour = (q) => page.$eval(q, (e) => getComputedStyle(e).backgroundColor);
    const chosen = await page.evaluate(() => {
      const probe = document.body.appendChild(document.createElement("i"));
      probe.style.cssText = "forced-color-adjust: none; background: Highlight";
      const c = getComputedStyle(probe).backgroundColor;
      probe.remove();
      return c;
    });
    assert.equal(await colour(".logbook-head [aria-pressed='true']"), chosen);
    assert.notEqual(await colour(".logbook-head [aria-pressed='false']"), chosen);
    assert.equal(await colour("nav [aria-current='page']"), chosen);
    assert.equal(await page.$eval(".rows .row.current", (e) => getComputedStyle(e).outlineStyle), "solid");
    await page.emulateMedia({ forcedColors: "none" });
    await page.setViewportSize({ width: 640, height: 400 });
    await settled(page);
    const [above, list, below] = await page.evaluate(() => [document.querySelector(".grid").previousElementSibling, document.querySelector(".grid"), document.querySelector(".adding")].map((e) => {
      const r = e.getBoundingClientRect();
      return { top: r.top, bottom: r.bottom };
    }));
    assert.ok(above.bottom <= list.top + 1 && list.bottom <= below.top + 1 && list.bottom - list.top >= 200, JSON.stringify([above, list, below]));
    assert.ok(await page.$eval(".grid", (e) => e.scrollWidth <= e.clientWidth + 1), "columns are cut off");
    await tab.close();
    assert.deepEqual(tab.troubles, []);
  } finally {
    await server.stop();
  }
});

test("axe finds no serious fault on any screen, light and dark", async () => {
  const [server, empty] = [await serve("campaign"), await serve("empty")];
  try {
    const judge = async (page, what) => {
      // The page's policy forbids added scripts, as it should; the check runs outside it.
      const found = await page.evaluate(async () => (await globalThis.axe.run(document, { resultTypes: ["violations"] })).violations
        .map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 140)} ${n.any[0]?.message ?? ""}`).join(" | ")}`));
      const serious = found.filter((x) => x.startsWith("serious") || x.startsWith("critical"));
      assert.deepEqual(serious, [], what);
    };
    for (const colorScheme of ["light", "dark"]) {
      const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, colorScheme, bypassCSP: true });
      await context.addInitScript(axe);
      const page = await context.newPage();
      await page.goto(server.url);
      await page.waitForSelector(".rows .row");
      await judge(page, `logbook, ${colorScheme}`);
      await page.keyboard.press("?");
      await page.waitForSelector("dialog[open]");
      await judge(page, `keys, ${colorScheme}`);
      await page.keyboard.press("Escape");
      await page.goto(`${server.url}#/flight/3`);
      await page.waitForSelector(".canvas canvas");
      await page.keyboard.press("n");
      await settled(page);
      await judge(page, `flight, ${colorScheme}`);
      for (const tab of ["Launch record", "Checks", "Corrections", "Sources", "Settings", "History", "Trail", "Compare", "Indices", "Hand over"]) {
        await page.click(`[role=tab]:has-text('${tab}')`);
        await settled(page);
        await judge(page, `${tab}, ${colorScheme}`);
      }
      await page.evaluate(() => window.scrollTo(0, 0));
      const at = await middleOf(page, "Temperature");
      await page.mouse.move(at.x, at.y - 20);
      await page.mouse.down();
      await page.mouse.move(at.x, at.y + 20, { steps: 3 });
      await page.mouse.up();
      await page.waitForSelector(".actions");
      await judge(page, `actions, ${colorScheme}`);
      await page.keyboard.press("1");
      await page.waitForSelector(".effect");
      await judge(page, `decision, ${colorScheme}`);
      await page.keyboard.press("Escape");
      for (const [what, text] of [["sign", "Signed off"], ["reopen", "Reopened"]]) {
        await page.waitForSelector(".decide", { state: "detached" });
        await page.keyboard.press("s");
        await page.waitForSelector(".decide");
        await judge(page, `${what}, ${colorScheme}`);
        if ((await page.$(".against input")) !== null) await page.check(".against input");
        await page.fill(".decide input[list=reasons]", "as the forms on paper say");
        await page.fill(".decide label:has-text('ed by') input", "first reviewer");
        await page.keyboard.press("Enter");
        await page.waitForSelector(`.said:has-text('${text}')`);
        await judge(page, `after ${what}, ${colorScheme}`);
      }
      await page.goto(`${server.url}#/settings`);
      await page.waitForSelector(".facts");
      await judge(page, `settings, ${colorScheme}`);
      await page.goto(empty.url);
      await page.waitForSelector(".empty");
      await judge(page, `empty, ${colorScheme}`);
      await context.close();
    }
  } finally {
    await server.stop();
    await empty.stop();
  }
});
