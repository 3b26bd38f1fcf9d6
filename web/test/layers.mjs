// Imports only point down: api < model < chart < view < main. Nobody writes markup or asks
// another machine for anything; only api/ speaks to the server.
import { readdirSync, readFileSync, statSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const src = join(dirname(fileURLToPath(import.meta.url)), "..", "src");
const layers = ["api", "model", "chart", "view", "main.tsx"];
const packages = { "preact": "view", "preact/hooks": "view" };
const forbidden = [
  [/\b(innerHTML|outerHTML|insertAdjacentHTML|dangerouslySetInnerHTML|document\.write|createContextualFragment|DOMParser)\b/, "writes markup: text from files must stay text"],
  [/\beval\(|new Function\(/, "runs text as code"],
  [/https?:\/\//, "names another machine"],
];

const files = [];
const walk = (dir) => {
  for (const name of readdirSync(dir)) {
    const path = join(dir, name);
    if (statSync(path).isDirectory()) walk(path);
    else if (/\.tsx?$/.test(name)) files.push(path);
  }
};
walk(src);

const layerOf = (path) => layers.indexOf(relative(src, path).split("/")[0]);
const problems = [];
for (const path of files) {
  const name = relative(src, path);
  const here = layerOf(path);
  if (here < 0) problems.push(`${name} stands in no layer`);
  const text = readFileSync(path, "utf8");
  for (const [, from] of text.matchAll(/(?:^|\n)(?:import|export)[^;]*?from "([^"]+)"/g)) {
    if (from.startsWith(".")) {
      const there = layerOf(resolve(dirname(path), from.endsWith("main") ? `${from}.tsx` : from));
      if (there > here) problems.push(`${name} imports ${from}, which is in a higher layer`);
    } else if (!(from in packages) || layers.indexOf(packages[from]) > here) problems.push(`${name} imports ${from}, which its layer may not`);
  }
  if (layers[here] !== "api" && /\b(fetch|EventSource|XMLHttpRequest|WebSocket)\b\s*\(/.test(text)) problems.push(`${name} speaks to the server: only api/ does`);
  const code = text.replace(/^\s*\/\/.*$/gm, "").replaceAll("http://www.w3.org/", "");
  for (const [pattern, why] of forbidden) if (pattern.test(code)) problems.push(`${name} ${why}`);
}
if (files.length < 10) problems.push("few files were found: the check proves nothing");
for (const p of problems) console.error(p);
process.exit(problems.length > 0 ? 1 : 0);
