// A canvas that writes down what is drawn on it, and the comparison of such records.
//
// Records of draw calls and not pictures: they are the same on every machine, whatever its
// fonts and its rounding of edges; a difference names the curve, its colour and how far it
// has moved; and they are made in milliseconds without a browser. What they cannot show, how
// it looks, is looked at on the screens.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Palette, Tone } from "../../src/chart/palette";

const web = process.env["LEADLINE_WEB"] ?? ".";

interface State {
  fillStyle: string;
  strokeStyle: string;
  lineWidth: number;
  lineJoin: string;
  globalAlpha: number;
  font: string;
  textAlign: string;
  textBaseline: string;
  dash: readonly number[];
  within: string;
  m: readonly [number, number, number, number, number, number];
}

const n1 = (x: number): string => (Math.round(x * 10) / 10 + 0).toFixed(1);

export class Recorder implements State {
  fillStyle = "";
  strokeStyle = "";
  lineWidth = 1;
  lineJoin = "";
  globalAlpha = 1;
  font = "";
  textAlign = "";
  textBaseline = "";
  dash: readonly number[] = [];
  within = ""; // the width of what was clipped to
  m: readonly [number, number, number, number, number, number] = [1, 0, 0, 1, 0, 0];
  readonly lines: string[] = [];
  private path: string[] = []; // of M, L and shapes
  private points: (readonly [number, number] | undefined)[] = [];
  private kept: State[] = [];
  private dots: { key: string; at: number; n: number; x: number; y: number } | undefined;
  private x = 0;
  private y = 0;

  constructor(private readonly ink: Palette) {}

  private at(x: number, y: number): readonly [number, number] {
    const [a, b, c, d, e, f] = this.m;
    return [a * x + c * y + e, b * x + d * y + f];
  }

  private tone(colour: string): string {
    const found = (Object.keys(this.ink) as Tone[]).find((t) => this.ink[t] === colour);
    return found ?? colour;
  }

  save(): void {
    this.kept.push({ fillStyle: this.fillStyle, strokeStyle: this.strokeStyle, lineWidth: this.lineWidth, lineJoin: this.lineJoin, globalAlpha: this.globalAlpha, font: this.font, textAlign: this.textAlign, textBaseline: this.textBaseline, dash: this.dash, within: this.within, m: this.m });
  }

  restore(): void {
    const s = this.kept.pop();
    if (s === undefined) throw new Error("restored more often than saved");
    Object.assign(this, s);
  }

  translate(x: number, y: number): void {
    const [a, b, c, d] = this.m, [e, f] = this.at(x, y);
    this.m = [a, b, c, d, e, f];
  }

  rotate(by: number): void {
    const [a, b, c, d, e, f] = this.m, s = Math.sin(by), k = Math.cos(by);
    this.m = [a * k + c * s, b * k + d * s, c * k - a * s, d * k - b * s, e, f];
  }

  setLineDash(dash: readonly number[]): void {
    this.dash = [...dash];
  }

  beginPath(): void {
    this.path = [];
    this.points = [];
  }

  moveTo(x: number, y: number): void {
    if (this.points.length > 0) this.points.push(undefined);
    this.points.push(this.at(x, y));
    [this.x, this.y] = [x, y];
  }

  lineTo(x: number, y: number): void {
    this.points.push(this.at(x, y));
  }

  closePath(): void {
    this.points.push(this.at(this.x, this.y));
  }

  arc(x: number, y: number, r: number): void {
    const [px, py] = this.at(x, y);
    this.path.push(`circle ${n1(px)} ${n1(py)} r ${n1(r)}`);
  }

  rect(x: number, y: number, w: number, h: number): void {
    this.moveTo(x, y);
    this.lineTo(x + w, y);
    this.lineTo(x + w, y + h);
    this.lineTo(x, y + h);
  }

  clip(): void {
    const p = this.points.filter((q) => q !== undefined);
    this.within = ` in ${n1(Math.min(...p.map((q) => q[0])))} ${n1(Math.max(...p.map((q) => q[0])))}`;
  }

  /** Runs, bounds, length and a few points of the path. */
  private shape(): string {
    const drawn = this.points.filter((q) => q !== undefined);
    if (drawn.length === 0) return this.path.join(", ");
    let length = 0, runs = 1, [x0, x1, y0, y1] = [Infinity, -Infinity, Infinity, -Infinity];
    this.points.forEach((q, i) => {
      if (q === undefined) runs++;
      else {
        const before = this.points[i - 1];
        if (before !== undefined) length += Math.hypot(q[0] - before[0], q[1] - before[1]);
        x0 = Math.min(x0, q[0]);
        x1 = Math.max(x1, q[0]);
        y0 = Math.min(y0, q[1]);
        y1 = Math.max(y1, q[1]);
      }
    });
    // Places along the way, so that they do not depend on how many points there are.
    const some: string[] = [], steps = 12;
    let gone = 0, k = 0;
    for (let i = 0; i < this.points.length && k <= steps; i++) {
      const q = this.points[i], before = this.points[i - 1];
      if (q === undefined) continue;
      const part = before === undefined ? 0 : Math.hypot(q[0] - before[0], q[1] - before[1]);
      while (k <= steps && (gone + part >= (k / steps) * length - 1e-9 || i === this.points.length - 1)) {
        const t = part > 0 && before !== undefined ? Math.min(1, Math.max(0, ((k / steps) * length - gone) / part)) : 1;
        const from = before ?? q;
        some.push(`${n1(from[0] + t * (q[0] - from[0]))} ${n1(from[1] + t * (q[1] - from[1]))}`);
        k++;
      }
      gone += part;
    }
    return [...this.path, `line of ${runs} runs, ${drawn.length} points, length ${n1(length)}, x ${n1(x0)} ${n1(x1)} y ${n1(y0)} ${n1(y1)} by ${some.join(" ")}`].join(", ");
  }

  private note(what: string, colour: string, rest: string): void {
    const alpha = this.globalAlpha === 1 ? "" : ` alpha ${this.globalAlpha}`;
    this.lines.push(`${what} ${this.tone(colour)}${alpha}${this.within}: ${rest}`);
  }

  stroke(): void {
    const s = this.shape();
    if (s !== "") this.note("stroke", this.strokeStyle, `width ${this.lineWidth}${this.dash.length > 0 ? ` dash ${this.dash.join(" ")}` : ""} ${s}`);
  }

  fill(): void {
    const s = this.shape();
    if (s !== "") this.note("fill", this.fillStyle, s);
  }

  fillRect(x: number, y: number, w: number, h: number): void {
    const [px, py] = this.at(x, y);
    // Dots of a circular quantity are gathered, they would fill pages.
    if (w === 1.5 && h === 1.5) {
      const key = `dots ${this.tone(this.fillStyle)}${this.within}`;
      if (this.dots?.key !== key || this.dots.at !== this.lines.length - 1) this.dots = { key, at: this.lines.length, n: 0, x: 0, y: 0 };
      const d = this.dots;
      d.n++;
      d.x += px;
      d.y += py;
      this.lines[d.at] = `${key}: ${d.n} dots, mean x ${n1(d.x / d.n)} y ${n1(d.y / d.n)}`;
      return;
    }
    this.note("area", this.fillStyle, `${n1(px)} ${n1(py)} ${n1(w)} ${n1(h)}`);
  }

  strokeRect(x: number, y: number, w: number, h: number): void {
    const [px, py] = this.at(x, y);
    this.note("box", this.strokeStyle, `width ${this.lineWidth}${this.dash.length > 0 ? ` dash ${this.dash.join(" ")}` : ""} ${n1(px)} ${n1(py)} ${n1(w)} ${n1(h)}`);
  }

  clearRect(): void {
    this.lines.push("clear");
  }

  fillText(text: string, x: number, y: number): void {
    const [px, py] = this.at(x, y);
    this.note("text", this.fillStyle, `${n1(px)} ${n1(py)} ${this.textAlign} ${this.textBaseline} ${/^\d+/.exec(this.font)?.[0] ?? "?"} "${text}"`);
  }

  strokeText(): void {
    // The halo of a word; the word itself follows.
  }

  measureText(text: string): { width: number } {
    return { width: 0.55 * Number(/^\d+/.exec(this.font)?.[0] ?? 11) * text.length };
  }

  createPattern(): string {
    return "hatched";
  }

  asContext(): CanvasRenderingContext2D {
    return this as unknown as CanvasRenderingContext2D;
  }
}

/** Colours of light or dark as app.css has them. */
export function palettes(): { readonly light: Palette; readonly dark: Palette } {
  const css = readFileSync(join(web, "src", "app.css"), "utf8");
  const read = (selector: string): Palette => {
    const at = css.indexOf(selector);
    if (at < 0) throw new Error(`app.css has no ${selector}`);
    const body = css.slice(at, css.indexOf("}", at));
    return Object.fromEntries([...body.matchAll(/--([\w-]+): *(#[0-9a-f]{6})/g)].map((m) => [m[1], m[2]])) as unknown as Palette;
  };
  return { light: read(":root {"), dark: read(':root[data-theme="dark"] {') };
}

/** A palette of names, so that a record says "temperature" and not a number. */
export const names: Palette = Object.fromEntries(["temperature", "humidity", "sensor-a", "sensor-b", "wind", "ink", "raw", "ice", "paper", "panel", "grid", "frame", "quiet", "select", "bad", "questionable", "note", "water"].map((t) => [t, t])) as unknown as Palette;

/**
 * Where two records differ: every line must be there, with the same words; places may differ
 * by 0.3 pixels, counts of points and lengths by 2 %, for the last digits of sines differ
 * between machines. "" where they agree.
 */
export function difference(want: string, got: string): string {
  const a = want.trimEnd().split("\n"), b = got.trimEnd().split("\n");
  // Words, widths, dashes and runs are exact; the other numbers have their measure.
  const exact = /"[^"]*"|width [\d.]+|dash [\d. ]+|alpha [\d.]+|\d+ runs|-?\d+(?:\.\d+)?/g;
  const isNumber = (s: string): boolean => /^-?\d+(?:\.\d+)?$/.test(s);
  for (let i = 0; i < Math.max(a.length, b.length); i++) {
    const [x, y] = [a[i], b[i]];
    if (x === undefined || y === undefined) return `line ${i + 1}: ${x === undefined ? `drawn and not expected: ${y}` : `expected and not drawn: ${x}`}`;
    if (x === y) continue;
    const differ = `line ${i + 1}:\n  expected ${x}\n  drawn    ${y}`;
    const words = (s: string): string => s.replace(exact, (m) => (isNumber(m) ? "#" : m));
    if (words(x) !== words(y)) return differ;
    const xs = [...x.matchAll(exact)].filter((m) => isNumber(m[0])), ys = [...y.matchAll(exact)].filter((m) => isNumber(m[0]));
    for (const [k, m] of xs.entries()) {
      const u = Number(m[0]), v = Number(ys[k]?.[0]);
      const counted = /^ (points|dots)/.test(x.slice(m.index + m[0].length)) || x.slice(0, m.index).endsWith("length ");
      if (!(Math.abs(u - v) <= (counted ? Math.max(2, 0.02 * Math.abs(u)) : 0.3))) return `${u} became ${v} in ${differ}`;
    }
  }
  return "";
}

export const snapshotPath = (name: string): string => join(web, "test", "snapshots", `${name}.txt`);

/** Compares with the record kept, or keeps it where LEADLINE_SNAPSHOTS=write. Returns the difference. */
export function compared(name: string, got: string): string {
  if (process.env["LEADLINE_SNAPSHOTS"] === "write") {
    writeFileSync(snapshotPath(name), `${got.trimEnd()}\n`);
    return "";
  }
  let want: string;
  try {
    want = readFileSync(snapshotPath(name), "utf8");
  } catch {
    return `there is no record ${name}: look at the screen, then make it with LEADLINE_SNAPSHOTS=write npm test`;
  }
  return difference(want, got);
}
