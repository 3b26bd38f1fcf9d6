// Writes the built front end into internal/web/dist, byte for byte the same on every
// machine. The bundler is pinned in go.mod, so no install script runs.
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, readdirSync, rmSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = join(here, "..", "internal", "web", "dist");
const names = ["app.js", "app.css", "icon.svg", "index.html", "ground.bin.gz"];

mkdirSync(out, { recursive: true });
for (const name of readdirSync(out)) if (!names.includes(name)) rmSync(join(out, name));

const bundle = (entry, file, more) =>
  execFileSync("go", ["tool", "esbuild", entry, `--outfile=${join(out, file)}`, "--bundle", "--minify", "--charset=utf8",
    "--legal-comments=eof", "--log-level=warning", ...more], { cwd: here, stdio: "inherit" });

bundle("src/main.tsx", "app.js", ["--format=esm", "--target=es2022", "--jsx=automatic", "--jsx-import-source=preact"]);
bundle("src/app.css", "app.css", []);
for (const name of ["icon.svg", "index.html", "ground.bin.gz"]) copyFileSync(join(here, "src", name), join(out, name));
