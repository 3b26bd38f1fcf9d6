// Starts the fixture server and a real Chromium for the browser tests.
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..", "..");
const work = mkdtempSync(join(tmpdir(), "leadline-browser-"));
const binary = join(work, "fixture");
execFileSync("go", ["build", "-o", binary, "./web/test/fixture"], { cwd: root, stdio: "inherit" });
process.on("exit", () => rmSync(work, { recursive: true, force: true }));

/** Starts a server over a set of flights; stop() ends it. */
export async function serve(set, addr = "127.0.0.1:0") {
  const child = spawn(binary, ["-set", set, "-addr", addr], { stdio: ["pipe", "pipe", "inherit"] });
  const url = await new Promise((resolve, reject) => {
    createInterface({ input: child.stdout }).once("line", resolve);
    child.once("exit", (code) => reject(new Error(`the fixture ended with ${code}`)));
  });
  const stop = () => new Promise((done) => {
    child.once("exit", done);
    child.stdin.end();
  });
  return { url, stop, pid: child.pid };
}

const flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

export const launch = () => chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: flags });

/**
 * Opens a page that notes every complaint and every request to another host, and fails the
 * test that closes it with any.
 */
export async function open(browser, url, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, ...options });
  const page = await context.newPage();
  const troubles = [];
  const host = new URL(url).host;
  page.on("pageerror", (e) => troubles.push(`error in the page: ${e.message}`));
  page.on("console", (m) => {
    if (m.type() === "error" && !/Failed to load resource|ERR_CONNECTION|ERR_INCOMPLETE|ERR_NETWORK/.test(m.text())) troubles.push(`console: ${m.text()}`);
  });
  page.on("request", (q) => {
    if (new URL(q.url()).host !== host) troubles.push(`a request to ${q.url()}`);
  });
  await page.goto(url);
  return { page, troubles, close: () => context.close() };
}

export async function openFlight(browser, server, id, options) {
  const tab = await open(browser, `${server.url}#/flight/${id}`, options);
  await tab.page.waitForSelector(".canvas canvas");
  await tab.page.waitForFunction(() => performance.getEntriesByName("leadline-drawn").length > 0);
  return tab;
}

/** Sums of each panel's pixels: a fingerprint of what it shows. */
export const fingerprints = (page) => page.evaluate(() => {
  const canvas = document.querySelector(".canvas canvas");
  const ctx = canvas.getContext("2d");
  const scale = canvas.width / canvas.clientWidth;
  const out = {};
  for (const head of document.querySelectorAll(".panel-head")) {
    const h = head.querySelector("h3");
    if (h === null) continue;
    const d = ctx.getImageData(head.offsetLeft * scale, 0, head.offsetWidth * scale, canvas.height).data;
    let sum = 0;
    for (let i = 0; i < d.length; i += 4) sum = (sum * 31 + d[i] * 7 + d[i + 1] * 3 + d[i + 2]) % 2147483647;
    out[h.textContent] = sum;
  }
  return out;
});

/** Waits until the next frames have been drawn. */
export const settled = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 30)))));

/** Middle of a panel on the page. */
export const middleOf = (page, title) => page.evaluate((t) => {
  const head = [...document.querySelectorAll(".panel-head")].find((h) => h.querySelector("h3")?.textContent.startsWith(t));
  const canvas = document.querySelector(".canvas").getBoundingClientRect();
  const r = head.getBoundingClientRect();
  return { x: r.left + r.width / 2, y: canvas.top + canvas.height / 2, top: canvas.top, bottom: canvas.bottom, left: r.left, right: r.right };
}, title);

const read = async (server, path) => (await fetch(`${server.url}api/${path}`)).json();

/** The flights of the logbook in its own order, and one of them, as the server has them now. */
export const flightsOf = async (server) => (await read(server, "flights")).flights;
export const flightOf = (server, id) => read(server, `flights/${id}`);

/** Fails where the page complained or asked another host. */
export const clean = (tab) => assert.deepEqual(tab.troubles, []);
