// The canvas of linked panels, with pointer and wheel.
import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { axisUnit, besideUnit } from "../chart/axis";
import { drawBench, marksOf, xScale, yScale } from "../chart/bench";
import { layout, placeAt, type Layout } from "../chart/layout";
import { drawOverlay, type Box } from "../chart/overlay";
import { fit, followTheme, palette } from "../chart/palette";
import type { Bench, DragMode } from "../model/bench";
import { phasesNote } from "../model/heating";
import { lanes, type PanelId } from "../model/panels";
import { panelsText } from "../model/words";

interface Grip {
  readonly id: number;
  readonly mode: DragMode;
  readonly x: number;
  readonly y: number;
  readonly lo: number;
  readonly hi: number;
  readonly row: number;
  readonly panel: PanelId | undefined;
  moved: boolean;
}

export interface Figures {
  frames: number;
  drawing: number; // ms spent drawing curves
}

/** Counts frames for measurements; costs nothing to keep. */
export const figures: Figures = { frames: 0, drawing: 0 };

export function Panels({ bench, onSpan, onHover }: { readonly bench: Bench; readonly onSpan: (at: { x: number; y: number } | undefined) => void; readonly onHover: (p: PanelId) => void }) {
  const holder = useRef<HTMLDivElement>(null);
  const curves = useRef<HTMLCanvasElement>(null);
  const over = useRef<HTMLCanvasElement>(null);
  const [size, setSize] = useState<{ w: number; h: number }>();
  const unit = useRef(axisUnit(bench)); // above the axis
  const note = useRef(phasesNote(bench)); // of the heating phases
  const [, headsAgain] = useState(0);
  const shown = bench.panels().map((p) => p.id).join(" "); // those without data come and go with decisions
  const place = useRef<Layout | undefined>(undefined);
  const box = useRef<Box | undefined>(undefined);
  const redraw = useRef<() => void>(() => undefined);

  useLayoutEffect(() => {
    const h = holder.current;
    if (h === null) return undefined;
    const watch = new ResizeObserver(() => setSize({ w: h.clientWidth, h: h.clientHeight }));
    watch.observe(h);
    setSize({ w: h.clientWidth, h: h.clientHeight });
    return () => watch.disconnect();
  }, []);

  // Before the page is painted, so that the curves are in its first picture.
  useLayoutEffect(() => {
    if (size === undefined || curves.current === null || over.current === null || size.w === 0) return undefined;
    const l = layout(size.w, size.h, bench.panels());
    place.current = l;
    const below = fit(curves.current, size.w, size.h), above = fit(over.current, size.w, size.h);
    let ink = palette();
    let drawnAs = "";
    let frame = 0;
    const draw = (): void => {
      frame = 0;
      const as = [bench.lo, bench.hi, bench.axis, bench.raw, bench.fit, bench.descent, bench.before, bench.selected, bench.flight.revision,
        ...[...bench.boxes].flat(2)].join();
      figures.frames++;
      const phases = phasesNote(bench);
      if (axisUnit(bench) !== unit.current || phases !== note.current) {
        unit.current = axisUnit(bench);
        note.current = phases;
        headsAgain((n) => n + 1);
      }
      if (as !== drawnAs || after !== bench.after || other !== bench.other || profile !== bench.profile) {
        const began = performance.now();
        drawBench(below.ctx, bench, l, ink, below.perPixel);
        figures.drawing += performance.now() - began;
        if (drawnAs === "") performance.mark("leadline-drawn");
        drawnAs = as;
        after = bench.after;
        other = bench.other;
        profile = bench.profile;
      }
      drawOverlay(above.ctx, bench, l, ink, box.current);
    };
    let after = bench.after, other = bench.other, profile = bench.profile;
    const ask = (): void => {
      if (frame === 0) frame = requestAnimationFrame(draw);
    };
    const onTheme = (): void => {
      ink = palette();
      drawnAs = "";
      ask();
    };
    const offTheme = followTheme(onTheme);
    redraw.current = ask;
    const stop = bench.subscribe(ask);
    draw();
    return () => {
      stop();
      if (frame !== 0) cancelAnimationFrame(frame);
      offTheme();
    };
  }, [bench, size, shown]);

  useEffect(() => {
    const c = over.current;
    if (c === null) return undefined;
    const grips = new Map<number, { x: number; y: number }>();
    let grip: Grip | undefined;
    let pinch: { distance: number; lo: number; hi: number } | undefined;
    const at = (e: PointerEvent | WheelEvent): { x: number; y: number } => {
      const r = c.getBoundingClientRect();
      return { x: e.clientX - r.left, y: e.clientY - r.top };
    };
    const placeOf = (y: number): number => {
      const l = place.current as Layout;
      const s = yScale(bench, l);
      return (y - s.m) / s.k;
    };
    const down = (e: PointerEvent): void => {
      const l = place.current;
      if (l === undefined || (e.button !== 0 && e.button !== 1)) return;
      const { x, y } = at(e);
      grips.set(e.pointerId, { x, y });
      c.setPointerCapture(e.pointerId);
      if (grips.size === 2) {
        const [a, b] = [...grips.values()] as [{ x: number; y: number }, { x: number; y: number }];
        pinch = { distance: Math.max(10, Math.abs(a.y - b.y)), lo: bench.lo, hi: bench.hi };
        grip = undefined;
        return;
      }
      if (x >= l.lanesX) {
        const hit = marksOf(bench, l).find((m) => x >= m.x - 3 && x <= m.x + m.width + 3 && y >= m.y - 3 && y <= m.y + m.height + 3);
        if (hit !== undefined) {
          bench.goTo(hit.id, hit.span);
          return;
        }
      }
      const panel = placeAt(l, x)?.panel.id;
      const mode: DragMode = x < l.gutter || e.button === 1 || e.ctrlKey ? "pan" : e.shiftKey && panel !== undefined ? "box" : panel === undefined ? "pan" : bench.drag;
      grip = { id: e.pointerId, mode, x, y, lo: bench.lo, hi: bench.hi, row: bench.rowAt(placeOf(y)), panel, moved: false };
      onSpan(undefined);
      e.preventDefault();
    };
    const move = (e: PointerEvent): void => {
      const l = place.current;
      if (l === undefined) return;
      const { x, y } = at(e);
      if (grips.has(e.pointerId)) grips.set(e.pointerId, { x, y });
      if (pinch !== undefined && grips.size === 2) {
        const [a, b] = [...grips.values()] as [{ x: number; y: number }, { x: number; y: number }];
        const factor = pinch.distance / Math.max(10, Math.abs(a.y - b.y));
        const middle = (pinch.lo + pinch.hi) / 2, half = ((pinch.hi - pinch.lo) * factor) / 2;
        bench.show(middle - half, middle + half);
        return;
      }
      const over = placeAt(l, x);
      if (over !== undefined) onHover(over.panel.id);
      if (grip === undefined) {
        if (y >= l.top && y <= l.bottom && x >= l.gutter) bench.point(bench.rowAt(placeOf(y)));
        return;
      }
      if (!grip.moved && Math.hypot(x - grip.x, y - grip.y) < 4) return;
      grip.moved = true;
      if (grip.mode === "pan") {
        const by = ((y - grip.y) / (l.bottom - l.top)) * (grip.hi - grip.lo);
        bench.show(grip.lo + by, grip.hi + by);
      } else if (grip.mode === "span") {
        const row = bench.rowAt(placeOf(Math.min(Math.max(y, l.top), l.bottom)));
        bench.cursor = row;
        bench.select({ from: grip.row, to: row }, grip.panel);
      } else {
        box.current = { x0: grip.x, y0: grip.y, x1: x, y1: y };
        redraw.current();
      }
    };
    const up = (e: PointerEvent): void => {
      const l = place.current;
      grips.delete(e.pointerId);
      if (grips.size < 2) pinch = undefined;
      if (grip === undefined || l === undefined || grip.id !== e.pointerId) return;
      const { x, y } = at(e);
      const g = grip;
      grip = undefined;
      if (!g.moved) {
        bench.cursor = g.row;
        bench.select(undefined);
        return;
      }
      if (g.mode === "span" && bench.span !== undefined) onSpan({ x: Math.min(x + 90, l.width - 390), y: Math.min(y + 60, l.height - 150) });
      if (g.mode === "box" && g.panel !== undefined) {
        const p = l.places.find((q) => q.panel.id === g.panel);
        box.current = undefined;
        if (p !== undefined) {
          const s = xScale(bench, p).scale;
          const x0 = (Math.max(p.x, Math.min(g.x, x)) - s.m) / s.k, x1 = (Math.min(p.x + p.width, Math.max(g.x, x)) - s.m) / s.k;
          const a = placeOf(g.y), b = placeOf(y);
          bench.box(g.panel, Math.min(a, b), Math.max(a, b), x0, x1);
        }
        redraw.current();
      }
    };
    const wheel = (e: WheelEvent): void => {
      const l = place.current;
      if (l === undefined) return;
      e.preventDefault();
      const lines = e.deltaMode === 1 ? 16 : 1;
      const delta = (e.deltaY !== 0 ? e.deltaY : e.deltaX) * lines;
      if (e.shiftKey) bench.pan((-delta / (l.bottom - l.top)) * (bench.hi - bench.lo));
      else bench.zoom(Math.exp(Math.max(-1, Math.min(1, delta * 0.0018))), placeOf(at(e).y));
    };
    const twice = (): void => bench.reset();
    c.addEventListener("pointerdown", down);
    c.addEventListener("pointermove", move);
    c.addEventListener("pointerup", up);
    c.addEventListener("pointercancel", up);
    c.addEventListener("wheel", wheel, { passive: false });
    c.addEventListener("dblclick", twice);
    return () => {
      c.removeEventListener("pointerdown", down);
      c.removeEventListener("pointermove", move);
      c.removeEventListener("pointerup", up);
      c.removeEventListener("pointercancel", up);
      c.removeEventListener("wheel", wheel);
      c.removeEventListener("dblclick", twice);
    };
  }, [bench, onSpan, onHover]);

  const l = size === undefined ? undefined : layout(size.w, size.h, bench.panels());
  return (
    <div class={shown === "" ? "panels nothing" : "panels"}>
      {bench.absent().length === 0 ? null : <p class="absent-panels">Not drawn: {bench.absent().join("; ")}.</p>}
      <div class="panel-heads">
        {l === undefined ? null : <>
          <div class="panel-head axis-head"><span>{besideUnit(bench)}</span><b>{axisUnit(bench)}</b></div>
          {l.places.map((p) => (
            <div class={p.panel.id === bench.hand ? "panel-head in-hand" : "panel-head"} key={p.panel.id} style={{ left: `${p.x}px`, width: `${p.width}px` }}>
              <h3>{p.panel.title} <small>{p.panel.unit}</small></h3>
              <ul>
                {p.panel.lines.filter((x) => x.part !== "raw" && p.panel.lines.filter((y) => y.part !== "raw").length > 1 && bench.profile.hasCurve(x.name, x.part)).map((x) => (
                  <li key={x.name}><svg viewBox="0 0 16 6" aria-hidden="true" class={`swatch ink-${x.ink}`}><path d="M0 3H16" stroke-dasharray={(x.dash ?? []).join(" ")} /></svg>{x.label}</li>
                ))}
                {bench.onlyRaw(p.panel) ? <li>{bench.raw ? "as received only: " : "r draws what was received: "}none usable</li> : null}
                {p.panel.id === "humidity" && phasesNote(bench) !== "" ? <li class="phases" title="Strips at the right edge: sensor heated. Its readings while heated and on the way back tell nothing of the air; close up, Raw draws them.">{phasesNote(bench)}</li> : null}
              </ul>
            </div>
          ))}
          <div class="panel-head lane-head" style={{ left: `${l.lanesX}px`, width: `${l.lane * lanes.length}px` }}>
            <h3>Findings</h3>
            <div class="letters">{lanes.map((x) => <span key={x.id} title={x.label} style={{ width: `${l.lane}px` }}>{x.letter}</span>)}</div>
          </div>
        </>}
      </div>
      <div class="canvas" ref={holder}>
        <canvas ref={curves} aria-hidden="true" />
        <canvas ref={over} tabIndex={0} role="img" aria-label={`${panelsText(bench)} The values at the cursor stand in the table beside; arrow keys move the cursor, n and p go through the findings.`} />
      </div>
    </div>
  );
}
