// The state of the flight screen: which part of which axis is shown, what is selected,
// where the cursor is. Panels draw it, keys and pointers change it through these methods.
import type { Decision, Finding, Flight, Span } from "../api/types";
import { ordered } from "./findings";
import { drawn } from "./flags";
import { panelOf, panels, type Panel, type PanelId } from "./panels";
import { Profile, type AxisKind } from "./profile";
import { snapped } from "./ticks";
import { msOf } from "./units";
import type { Columns } from "../api/columns";

export type DragMode = "span" | "pan" | "box";
export interface RowSpan {
  readonly from: number; // first row
  readonly to: number; // last row, included
}

const usual = panels.filter((p) => p.asked !== true);
const kinds: readonly AxisKind[] = ["height", "pressure", "time"];
/** Smallest stretch shown and margin around a finding, in the axis' own measure. */
const leastStretch: { readonly [k in AxisKind]: number } = { height: 5, pressure: 5e-4, time: 4 };
const leastAround: { readonly [k in AxisKind]: number } = { height: 600, pressure: 0.08, time: 120 };

export class Bench {
  flight: Flight;
  profile: Profile;
  after: Profile | undefined; // as a previewed decision would make it
  other: { readonly name: string; readonly profile: Profile } | undefined; // laid over for comparison
  axis: AxisKind = "height";
  lo = 0;
  hi = 1;
  raw = true;
  descent = false;
  before = false;
  fit = true;
  components = false; // u and v beside speed and direction
  drag: DragMode = "span";
  cursor: number | undefined; // row
  span: RowSpan | undefined;
  spanPanel: PanelId | undefined;
  hand: PanelId = "temperature"; // the panel that spans and trails taken by keys are about
  selected: string | undefined; // id of a finding
  place: number | undefined; // which of its spans the view went to; undefined: all
  findings: Finding[];
  boxes = new Map<PanelId, readonly [number, number]>();
  private ranges = new Map<PanelId, { readonly key: string; readonly range: readonly [number, number] }>();
  private listeners = new Set<() => void>();
  private waiting = false;

  constructor(flight: Flight, columns: Columns) {
    this.flight = flight;
    this.profile = new Profile(columns, flight);
    this.findings = ordered(flight.findings);
    if (!this.profile.has("height")) this.axis = this.profile.has("pressure") ? "pressure" : "time";
    if (!flight.events.release.found) {
      this.axis = "time";
      this.before = this.descent = true;
    }
    this.reset();
  }

  /** Takes the flight as it stands after a decision; view and selection stay. */
  replace(flight: Flight, columns: Columns): void {
    const from = this.profile.utc(this.rowAt(this.lo)), to = this.profile.utc(this.rowAt(this.hi));
    const whole = this.isWhole();
    this.flight = flight;
    this.profile = new Profile(columns, flight);
    this.findings = ordered(flight.findings);
    this.after = undefined;
    if (!this.findings.some((f) => f.id === this.selected)) this.selected = undefined;
    if (whole) this.reset();
    else if (this.axis === "time") {
      this.lo = (msOf(from) - this.profile.zero) / 1000;
      this.hi = (msOf(to) - this.profile.zero) / 1000;
    }
    this.changed();
  }

  subscribe(f: () => void): () => void {
    this.listeners.add(f);
    return () => this.listeners.delete(f);
  }

  /** Grows with every change of anything but the stretch shown, which only the panels draw. */
  version = 0;

  /** Tells listeners once, before the next thing is drawn; stretch: only that has moved. */
  changed(stretch = false): void {
    if (!stretch) this.version++;
    if (this.waiting) return;
    this.waiting = true;
    queueMicrotask(() => {
      this.waiting = false;
      for (const f of this.listeners) f();
    });
  }

  /** Rows that are shown: [from, to). */
  shown(): readonly [number, number] {
    return [this.before ? 0 : this.profile.release, this.descent ? this.profile.rows : this.profile.top];
  }

  along(): Float64Array {
    return this.profile.along(this.axis);
  }

  /** The whole stretch of the rows shown, with a little air. */
  whole(): readonly [number, number] {
    const a = this.along();
    const [from, to] = this.shown();
    let lo = Infinity, hi = -Infinity;
    for (let i = from; i < to; i++) {
      const v = a[i] as number;
      if (v < lo) lo = v;
      if (v > hi) hi = v;
    }
    if (!(hi >= lo)) return [0, 1];
    const air = Math.max((hi - lo) * 0.015, leastStretch[this.axis] / 2);
    return [lo - air, hi + air];
  }

  isWhole(): boolean {
    const [lo, hi] = this.whole();
    const e = (hi - lo) * 1e-6;
    return Math.abs(lo - this.lo) < e && Math.abs(hi - this.hi) < e;
  }

  reset(): void {
    [this.lo, this.hi] = this.whole();
    this.boxes.clear();
    this.changed(true);
  }

  /** Shows [lo, hi], kept within the data and no closer than samples can be told apart. */
  show(lo: number, hi: number): void {
    const [a, b] = this.whole();
    let size = Math.min(Math.max(hi - lo, leastStretch[this.axis]), b - a);
    if (!Number.isFinite(size)) size = b - a;
    const middle = (lo + hi) / 2;
    this.lo = Math.min(Math.max(middle - size / 2, a), b - size);
    this.hi = this.lo + size;
    this.changed(true);
  }

  pan(by: number): void {
    this.show(this.lo + by, this.hi + by);
  }

  zoom(factor: number, at = (this.lo + this.hi) / 2): void {
    const size = Math.min(Math.max((this.hi - this.lo) * factor, leastStretch[this.axis]), this.whole()[1] - this.whole()[0]);
    const share = (at - this.lo) / (this.hi - this.lo);
    this.show(at - share * size, at + (1 - share) * size);
  }

  box(panel: PanelId, lo: number, hi: number, x0: number, x1: number): void {
    if (x1 > x0) this.boxes.set(panel, [x0, x1]);
    this.show(lo, hi);
  }

  /** The next axis the flight has, showing the same samples as before. */
  nextAxis(): void {
    let next = this.axis;
    do next = kinds[(kinds.indexOf(next) + 1) % kinds.length] as AxisKind;
    while (!this.profile.has(next));
    this.setAxis(next);
  }

  setAxis(kind: AxisKind): void {
    if (kind === this.axis || !this.profile.has(kind)) return;
    const whole = this.isWhole();
    const from = this.rowAt(this.lo), to = this.rowAt(this.hi);
    this.axis = kind;
    if (whole) this.reset();
    else {
      const a = this.along();
      const x = a[from] as number, y = a[to] as number;
      this.show(Math.min(x, y), Math.max(x, y));
    }
    this.changed();
  }

  /** The shown row nearest to a place on the axis. */
  rowAt(place: number): number {
    const a = this.along();
    const [from, to] = this.shown();
    let best = from, off = Infinity;
    for (let i = from; i < to; i++) {
      const d = Math.abs((a[i] as number) - place);
      if (d < off) {
        off = d;
        best = i;
      }
    }
    return Math.min(best, Math.max(0, this.profile.rows - 1));
  }

  toggle(what: "raw" | "descent" | "before" | "fit" | "components"): void {
    const whole = this.isWhole();
    this[what] = !this[what];
    if (whole && (what === "descent" || what === "before")) this.reset();
    if (what === "fit") this.boxes.clear();
    this.changed();
  }

  point(row: number | undefined): void {
    if (row === this.cursor) return;
    this.cursor = row;
    this.changed();
  }

  /** Moves the cursor by rows; the view follows it. Without a cursor it starts in the middle. */
  step(by: number): void {
    const [from, to] = this.shown();
    const at = this.cursor ?? this.rowAt((this.lo + this.hi) / 2);
    this.cursor = Math.min(Math.max(at + (this.cursor === undefined ? 0 : by), from), Math.max(from, to - 1));
    const place = this.along()[this.cursor] as number;
    const edge = (this.hi - this.lo) * 0.1;
    if (place < this.lo + edge) this.pan(place - edge - this.lo);
    else if (place > this.hi - edge) this.pan(place + edge - this.hi);
    this.changed();
  }

  select(span: RowSpan | undefined, panel?: PanelId): void {
    this.span = span === undefined ? undefined : { from: Math.min(span.from, span.to), to: Math.max(span.from, span.to) };
    this.spanPanel = span === undefined ? undefined : panel;
    this.changed();
  }

  /** Selects a finding; every panel goes there, with its surroundings: to all of its spans, or to one. */
  goTo(id: string, span?: number): void {
    const f = this.findings.find((x) => x.id === id);
    if (f === undefined) return;
    this.selected = id;
    this.place = span;
    const spans = this.stretches(f).filter((_, i) => span === undefined || i === span);
    const first = Math.min(Infinity, ...spans.map((s) => s.from_row)), last = Math.max(-Infinity, ...spans.map((s) => s.to_row - 1));
    if (!Number.isFinite(first)) {
      this.reset();
      this.changed(); // it is selected, though no stretch belongs to it
      return;
    }
    this.hand = panelOf(f.variable)?.id ?? this.hand;
    if (first < this.profile.release) this.before = true;
    if (last >= this.profile.top) this.descent = true;
    const a = this.along();
    let lo = Infinity, hi = -Infinity;
    for (const s of spans) {
      for (let i = s.from_row; i < s.to_row; i++) {
        const v = a[i] as number;
        if (v < lo) lo = v;
        if (v > hi) hi = v;
      }
    }
    if (hi >= lo) {
      const around = Math.max((hi - lo) * 0.35, leastAround[this.axis]);
      this.boxes.clear();
      this.show(lo - around, hi + around);
    }
    this.cursor = Math.min(Math.max(spans[0]?.from_row ?? first, 0), this.profile.rows - 1);
    this.changed();
  }

  /** Where a finding is: the samples it flags, else the stretch it speaks of (a float, a slow climb); none for one about the record. */
  stretches(f: Finding): readonly Span[] {
    if ((f.spans ?? []).length > 0) return f.spans ?? [];
    if (f.first_time_s === null || f.last_time_s === null || f.last_time_s <= f.first_time_s || f.first_utc === "" || f.last_utc === "") return [];
    return [{ from_row: this.profile.rowAt(f.first_utc), to_row: Math.min(this.profile.rowAt(f.last_utc) + 1, this.profile.rows) }];
  }

  /** The next or previous span of the selected finding. */
  nextPlace(by: 1 | -1): void {
    const f = this.finding();
    const n = (f?.spans ?? []).length;
    if (f === undefined || n === 0) return;
    this.goTo(f.id, this.place === undefined ? (by > 0 ? 0 : n - 1) : (this.place + by + n) % n);
  }

  /** The next or previous finding in the list; from none, the first or last. */
  nextFinding(by: 1 | -1): void {
    if (this.findings.length === 0) return;
    const at = this.findings.findIndex((f) => f.id === this.selected);
    const n = this.findings.length;
    const next = at < 0 ? (by > 0 ? 0 : n - 1) : (at + by + n) % n;
    this.goTo((this.findings[next] as Finding).id);
  }

  finding(): Finding | undefined {
    return this.findings.find((f) => f.id === this.selected);
  }

  /** The horizontal range of a panel: what was boxed, else fitted to what is visible, else the whole. */
  range(p: Panel): readonly [number, number] {
    const boxed = this.boxes.get(p.id);
    if (boxed !== undefined) return boxed;
    const key = `${this.lo} ${this.hi} ${this.axis} ${this.raw} ${this.fit} ${this.shown().join()} ${this.flight.revision}`;
    const kept = this.ranges.get(p.id);
    if (kept?.key === key) return kept.range;
    const range = this.fitted(p);
    this.ranges.set(p.id, { key, range });
    return range;
  }

  private fitted(p: Panel): readonly [number, number] {
    if (!this.fit && p.whole !== undefined) return p.whole;
    const a = this.along();
    const [from, to] = this.shown();
    const [low, high] = this.fit ? [this.lo, this.hi] : [-Infinity, Infinity];
    let lo = Infinity, hi = -Infinity;
    for (const l of p.lines) {
      if (l.part === "raw" && !this.raw) continue;
      const v = this.profile.get(l.name, l.part);
      if (v === undefined || l.name === "ice_saturation") continue;
      const flags = l.part === "" ? undefined : this.profile.flags(l.name, l.part);
      for (let i = from; i < to; i++) {
        const x = v[i] as number;
        if (x >= lo && x <= hi) continue;
        if (x !== x) continue;
        const y = a[i] as number;
        if (!(y >= low && y <= high) || (flags !== undefined && !drawn(flags[i] as number))) continue;
        if (x < lo) lo = Math.max(x, p.lowest ?? x);
        if (x > hi) hi = x;
      }
    }
    if (!(hi >= lo)) return p.whole ?? [0, 1];
    if (p.id === "direction" && hi - lo > 200) return [0, 360];
    return snapped(lo, hi, p.least, 8);
  }

  /** Stretches withheld by decisions in force, for a panel's variables. */
  withheld(p: Panel): RowSpan[] {
    const out: RowSpan[] = [];
    for (const d of this.flight.decisions ?? []) {
      if (!isWithheld(d) || !(d.variables ?? []).some((v) => p.variables.includes(v))) continue;
      for (const s of d.spans ?? [{ from_utc: d.from_utc ?? "", to_utc: d.to_utc ?? "" }]) {
        const to = this.profile.rowAt(s.to_utc);
        const exact = to < this.profile.rows && Math.abs(this.profile.instant(to) - msOf(s.to_utc)) < 1;
        out.push({ from: this.profile.rowAt(s.from_utc), to: exact ? to : to - 1 });
      }
    }
    return out;
  }

  /** Takes the next or previous panel in hand. */
  nextPanel(by: 1 | -1): void {
    const all = this.panels();
    if (all.length === 0) return;
    const at = all.findIndex((p) => p.id === this.hand);
    this.take((all[(Math.max(at, 0) + by + all.length) % all.length] as Panel).id);
    if (this.span !== undefined) this.spanPanel = this.hand;
  }

  /** Takes a panel in hand. */
  take(id: PanelId): void {
    if (id === this.hand) return;
    this.hand = id;
    this.changed();
  }

  /** The panels on screen, from left to right: those that have something to draw. */
  panels(): readonly Panel[] {
    return (this.components ? panels : usual).filter((p) => this.filled(p));
  }

  /** What the flight has nothing of, once each, for the line that stands for the panels left out. */
  absent(): readonly string[] {
    return [...new Set((this.components ? panels : usual).filter((p) => !this.filled(p)).map((p) => p.absent))];
  }

  /** Whether a panel has a line, of the flight or of what a decision would make of it. */
  private filled(p: Panel): boolean {
    return p.lines.some((l) => l.ink !== "ice" && (this.profile.hasCurve(l.name, l.part) || this.after?.hasCurve(l.name, l.part) === true));
  }

  /** Whether nothing of a panel was left over by the checks: only what was received can be drawn. */
  onlyRaw(p: Panel): boolean {
    return !p.lines.some((l) => l.part !== "raw" && l.ink !== "ice" && this.profile.hasCurve(l.name, l.part));
  }

  panel(id: PanelId): Panel {
    return panels.find((p) => p.id === id) as Panel;
  }
}

const isWithheld = (d: Decision): boolean => d.revoked === undefined && (d.from_utc !== undefined || d.spans !== undefined) && (d.action === "exclude" || (d.action === "flag" && d.value === "bad"));
