// Bundles the unit tests (Node runs no TypeScript) and runs them.
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const web = join(dirname(fileURLToPath(import.meta.url)), "..");
const out = mkdtempSync(join(tmpdir(), "leadline-unit-"));
const tests = readdirSync(join(web, "test", "unit")).filter((n) => n.endsWith(".test.ts"));
if (tests.length === 0) throw new Error("there is no unit test: this would prove nothing");
let status = 1;
try {
  execFileSync("go", ["tool", "esbuild", ...tests.map((n) => `test/unit/${n}`), "--bundle", "--platform=node", "--format=esm", "--target=node20",
    "--out-extension:.js=.mjs", `--outdir=${out}`, "--log-level=warning"], { cwd: web, stdio: "inherit" });
  status = spawnSync(process.execPath, ["--test", ...tests.map((n) => join(out, n.replace(/\.ts$/, ".mjs")))], { stdio: "inherit", env: { ...process.env, LEADLINE_WEB: web } }).status ?? 1;
} finally {
  rmSync(out, { recursive: true, force: true });
}
process.exit(status);
