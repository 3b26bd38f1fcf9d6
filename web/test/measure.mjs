// Measures what docs/performance-web.md states: npm run measure; of the logbook alone: npm run measure logbook.
import { readFileSync } from "node:fs";
import { cpus, loadavg } from "node:os";
import { gzipSync } from "node:zlib";
import { fingerprints, launch, middleOf, open, openFlight, serve, settled } from "./browser/harness.mjs";

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1];
const p95 = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length * 0.95)];
const spread = (list) => `${ms(Math.min(...list))} / ${ms(median(list))}`;
const say = (what, value) => console.log(`${what.padEnd(64)} ${value}`);
const ms = (x) => `${x.toFixed(1)} ms`;

async function served(url, n) {
  const times = [];
  let bytes = 0;
  for (let i = 0; i < n; i++) {
    const began = performance.now();
    bytes = (await (await fetch(url)).arrayBuffer()).byteLength;
    times.push(performance.now() - began);
  }
  return { times, bytes };
}

const drawn = async (page) => JSON.stringify(await fingerprints(page));

/** Frames while the view is panned by the wheel's shift, as a hand would, for two seconds. */
const frames = (page) => page.evaluate(async () => {
  const canvas = document.querySelectorAll(".canvas canvas")[1];
  const box = canvas.getBoundingClientRect();
  const gaps = [];
  let last = 0;
  const end = performance.now() + 2000;
  while (performance.now() < end) {
    const now = await new Promise((done) => requestAnimationFrame(done));
    if (last > 0) gaps.push(now - last);
    last = now;
    const away = Math.floor((performance.now() - end + 2000) / 500) % 2 === 0 ? 1 : -1;
    canvas.dispatchEvent(new WheelEvent("wheel", { deltaY: 6 * away, shiftKey: true, clientX: box.left + box.width / 2, clientY: box.top + box.height / 2, cancelable: true, bubbles: true }));
  }
  return gaps;
});

/** Returns a function that says how many ms of processor the page's main thread has taken since: unlike frames, it does not depend on who else is at work. */
async function processor(page) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Performance.setTimeDomain", { timeDomain: "threadTicks" });
  await cdp.send("Performance.enable");
  const now = async () => (await cdp.send("Performance.getMetrics")).metrics.find((m) => m.name === "TaskDuration").value * 1000;
  const began = await now();
  return async () => (await now()) - began;
}

say("load of the machine over the last minute", `${loadavg()[0].toFixed(1)} on ${cpus().length} cores`);
const browser = await launch();
const part = process.argv[2] ?? "";
const campaign = await serve(part === "logbook" ? "empty" : "campaign"), hard = await serve(part === "logbook" ? "empty" : "hard"), years = await serve("years");
try {
  const dist = (name) => readFileSync(new URL(`../../internal/web/dist/${name}`, import.meta.url));
  for (const name of ["app.js", "app.css"]) say(`${name}, bytes (gzip)`, `${dist(name).length} (${gzipSync(dist(name)).length})`);

  if (part !== "logbook") {
  const f = await (await fetch(`${campaign.url}api/flights/1`)).json();
  say("flight of", `${f.rows} rows`);
  const others = [2, 3, 4, 5, 6];
  const cold = [];
  for (let k = 0; k < 3; k++) for (const id of others) {
    // Five flights go round a cache of four: each is read and run anew.
    const began = performance.now();
    await (await fetch(`${campaign.url}api/flights/${id}`)).arrayBuffer();
    cold.push(performance.now() - began);
  }
  say("server, flight run anew (read, path, JSON): best / median", spread(cold));
  const warm = await served(`${campaign.url}api/flights/1`, 20), cols = await served(`${campaign.url}api/flights/1/columns`, 20);
  say("server, flight in memory, JSON: best / median", `${spread(warm.times)}, ${warm.bytes} bytes`);
  say("server, columns: best / median", `${spread(cols.times)}, ${cols.bytes} bytes`);

  for (const [server, id, what] of [[campaign, 1, "8,700 rows"], [hard, 1, "43,000 rows"]]) {
    const draws = [];
    for (let i = 0; i < 9; i++) {
      const tab = await openFlight(browser, server, id);
      draws.push(await tab.page.evaluate(() => performance.getEntriesByName("leadline-drawn")[0].startTime));
      await tab.close();
    }
    say(`first full draw from navigation, ${what}: best / median of 9`, spread(draws));
    const tab = await openFlight(browser, server, id);
    await settled(tab.page);
    for (const [name, keys] of [["whole flight less a little", ["+"]], ["an eighth", ["+", "+", "+", "+"]]]) {
      await tab.page.keyboard.press("0");
      for (const k of keys) await tab.page.keyboard.press(k);
      await settled(tab.page);
      const before = await drawn(tab.page);
      // One push the same way moves the picture; after the two seconds to and fro it may stand where it began.
      const at = await middleOf(tab.page, "Temperature");
      await tab.page.mouse.move(at.x, at.y);
      await tab.page.keyboard.down("Shift");
      await tab.page.mouse.wheel(0, 60);
      await tab.page.keyboard.up("Shift");
      await settled(tab.page);
      const moved = (await drawn(tab.page)) !== before;
      const busy = await processor(tab.page);
      const gaps = await frames(tab.page);
      const spent = (await busy()) / gaps.length;
      say(`frame while panning, ${what}, ${name}: median / p95`, `${ms(median(gaps))} / ${ms(p95(gaps))}, ${ms(spent)} of the main thread's processor a frame${moved ? "" : " (did not move)"}`);
    }
    await tab.close();
  }

  }
  const memory = () => {
    const text = readFileSync(`/proc/${years.pid}/status`, "utf8");
    return ["VmRSS", "VmHWM"].map((k) => `${(Number(new RegExp(`${k}:\\s+(\\d+)`).exec(text)?.[1] ?? 0) / 1024).toFixed(0)} MiB`).join(", most ");
  };
  const book = await served(`${years.url}api/flights`, 5);
  say("server, 5,007 rows: best / median", `${spread(book.times)}, ${book.bytes} bytes`);
  const shown = [];
  for (let i = 0; i < 5; i++) {
    const t = await open(browser, years.url);
    await t.page.waitForSelector(".rows .row");
    shown.push(await t.page.evaluate(() => performance.now()));
    await t.close();
  }
  say("5,007 flights, first rows after navigation: best / median of 5", spread(shown));
  const tab = await open(browser, years.url);
  await tab.page.waitForSelector(".rows .row");
  const session = await tab.page.context().newCDPSession(tab.page);
  await session.send("HeapProfiler.collectGarbage");
  const { usedSize } = await session.send("Runtime.getHeapUsage");
  say("browser's script memory with 5,007 flights", `${(usedSize / 1e6).toFixed(1)} MB`);
  say("server's memory after that", memory());
  for (const [what, selected] of [["none", false], ["all", true]]) {
    if (selected) await tab.page.keyboard.press("Shift+A");
    const scroll = await tab.page.evaluate(async () => {
      const box = document.querySelector(".grid");
      box.scrollTop = 0;
      const gaps = [];
      let last = 0;
      for (let i = 0; i < 180; i++) {
        const now = await new Promise((done) => requestAnimationFrame(done));
        if (last > 0) gaps.push(now - last);
        last = now;
        box.scrollTop += 120;
      }
      return gaps;
    });
    say(`frame while scrolling 5,007 flights, ${what} selected: median / p95`, `${ms(median(scroll))} / ${ms(p95(scroll))}`);
  }
  const typed = await tab.page.evaluate(async () => {
    const box = document.querySelector("input[type=search]"), times = [];
    for (const text of ["r", "re", "ree", "reed"]) {
      const began = performance.now();
      box.value = text;
      box.dispatchEvent(new Event("input", { bubbles: true }));
      await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
      times.push(performance.now() - began);
    }
    return times;
  });
  say("a letter typed into the search until it is drawn: median", ms(median(typed)));
  await tab.close();

  // One decision for 500 flights, every one computed by the path before and after.
  const ids = Array.from({ length: 500 }, (_, i) => String(i + 8));
  const proposal = { action: "correct-record", field: "site.height_m_msl", value: "55 m", reason: "measured", who: "first reviewer" };
  const post = async (path, q) => {
    const began = performance.now();
    const answer = await fetch(`${years.url}${path}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(q) });
    const lines = (await answer.text()).trim().split("\n").map((l) => JSON.parse(l));
    return { lines, time: performance.now() - began };
  };
  const listed = await post("api/groups/effects", { flights: ids, proposal });
  const seen = listed.lines.filter((l) => l.effect?.effect === "changes").map((l) => ({ flight: l.effect.flight, revision: l.effect.revision }));
  say(`effect of one decision on 500 flights (${seen.length} change)`, `${ms(listed.time)}; server ${memory()}`);
  const stored = await post("api/groups", { flights: seen, proposal });
  say(`stored for ${stored.lines.at(-1).group?.parts.length} flights, computed again`, `${ms(stored.time)}; server ${memory()}`);
} finally {
  await browser.close();
  await Promise.all([campaign.stop(), hard.stop(), years.stop()]);
}
