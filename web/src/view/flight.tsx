import { useCallback, useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Change, Decided, Indices, Row, Suggestion, VariableName } from "../api/types";
import { layout } from "../chart/layout";
import { Bench, type RowSpan } from "../model/bench";
import { lastInForce, note, offers, recordCorrection, ruling, spanOfFinding, suggested, type Draft } from "../model/draft";
import type { PanelId } from "../model/panels";
import type { AxisKind } from "../model/profile";
import { signedLine, standing } from "../model/standing";
import { clock, dayMinute, format, localClock, prose, withUnit } from "../model/units";
import { BelowPanels } from "./below";
import { Charts } from "./charts";
import { ComparePane } from "./compare";
import { DecideForm } from "./decide";
import { useKeys } from "./keys";
import { Panels } from "./panels";
import { Choice, Key, Tabs, Toggle, Verdict } from "./parts";
import { FindingsPane, HistoryPane, TrailPane, ValuesTable } from "./side";
import { StepForm, type Step } from "./step";

type Side = "findings" | "decisions" | "trail" | "compare";

/** What the page itself is doing to the flight, so that its own changes are told from others'. */
interface Session {
  busy: boolean; // a decision is in the making
  pending: boolean; // one is being stored
  told: number; // newest revision heard of
}

/** Where the actions stand for a span taken by keys: below it, or above one that lies low. */
function beside(bench: Bench, span: RowSpan | undefined): { x: number; y: number } | undefined {
  const box = document.querySelector<HTMLElement>(".stage .canvas");
  if (span === undefined || box === null) return undefined;
  const along = bench.along();
  const shares = [span.from, span.to].map((row) => ((along[row] as number) - bench.lo) / (bench.hi - bench.lo));
  const l = layout(box.clientWidth, box.clientHeight, bench.panels());
  const y = (share: number): number => box.offsetTop + l.bottom - Math.min(1, Math.max(0, share)) * (l.bottom - l.top);
  const low = Math.min(...shares), room = 160;
  return { x: 120, y: low > 0.3 ? y(low) + 12 : y(Math.max(...shares)) - room };
}

interface Props {
  readonly id: string;
  readonly rows: readonly Row[];
  readonly change: Change | undefined;
  readonly neighbour: (by: 1 | -1) => Promise<boolean>; // false where there is none
  readonly onRows: () => void; // the list of all flights is wanted
}

export function FlightScreen({ id, rows, change, neighbour, onRows }: Props) {
  const row = rows.find((r) => r.id === id);
  const [bench, setBench] = useState<Bench>();
  const [failed, setFailed] = useState<{ text: string; gone: boolean }>();
  const [said, setSaid] = useState("");
  const kept = useRef<Bench | undefined>(undefined);
  const own = useRef<Session>({ busy: false, pending: false, told: 0 });

  const load = useCallback(async (): Promise<void> => {
    try {
      const [flight, columns] = await Promise.all([client.flight(id), client.columns(id)]);
      setFailed(undefined);
      if (kept.current === undefined) {
        kept.current = new Bench(flight, columns);
        setBench(kept.current);
      } else kept.current.replace(flight, columns);
    } catch (e) {
      setFailed({ text: e instanceof Error ? e.message : String(e), gone: e instanceof client.Unreachable });
    }
  }, [id]);
  useLayoutEffect(() => void load(), [id]);
  useEffect(() => {
    if (change === undefined || change.flight !== id) return;
    own.current.told = Math.max(own.current.told, change.revision);
    consider();
  }, [change]);
  // News about this flight: our own decisions come back here, too, and are no news.
  const consider = (): void => {
    const b = kept.current, s = own.current;
    if (b === undefined || s.pending || s.told <= b.flight.revision) return;
    if (s.busy) setSaid("Somebody else has ruled on this flight meanwhile. What you are deciding is about the flight as you saw it and would be refused: leave it, or store it to see what changed.");
    else void load().then(() => setSaid("Somebody else has ruled on this flight; it is shown as it is now."));
  };

  const onward = (by: 1 | -1): void => {
    void neighbour(by).then((went) => {
      if (!went) setSaid(by === 1 ? "This is the last flight of the list as the logbook shows it; g l goes there." : "This is the first flight of the list as the logbook shows it; g l goes there.");
    });
  };
  useKeys({ j: () => onward(1), k: () => onward(-1) });
  if (bench === undefined) {
    return (
      <div class="flight-wait">
        <h1>{row?.name ?? `Flight ${id}`}</h1>
        {failed === undefined ? <p class="waiting">Opening the flight …</p> : (
          <p role="alert" class="notice">{failed.gone ? "leadline does not answer, so the flight cannot be shown. " : "The flight cannot be shown: "}{failed.gone ? "" : failed.text}{" "}
            <button type="button" onClick={() => void load()}>Try again</button> <a href="#/">Back to the logbook</a></p>
        )}
      </div>
    );
  }
  return <Opened bench={bench} own={own.current} consider={consider} rows={rows} onRows={onRows} said={said} onSaid={setSaid} reload={load} failed={failed?.gone === false ? failed.text : ""} />;
}

function Opened({ bench, own, consider, rows, onRows, said, onSaid, reload, failed }: { readonly bench: Bench; readonly own: Session; readonly consider: () => void; readonly rows: readonly Row[]; readonly onRows: () => void; readonly said: string; readonly onSaid: (s: string) => void; readonly reload: () => Promise<void>; readonly failed: string }) {
  const [, tick] = useState(0);
  const [side, setSide] = useState<Side>("findings");
  const [draft, setDraft] = useState<Draft>();
  const [step, setStep] = useState<Step>();
  const [bar, setBar] = useState<{ x: number; y: number }>();
  const [variable, setVariable] = useState<VariableName>("temperature");
  useEffect(() => {
    let frame = 0, shown = bench.version;
    const stop = bench.subscribe(() => {
      if (bench.version === shown) return; // the panels pan and zoom by themselves
      shown = bench.version;
      if (frame === 0) frame = requestAnimationFrame(() => {
        frame = 0;
        tick((n) => n + 1);
      });
    });
    return () => {
      stop();
      cancelAnimationFrame(frame);
    };
  }, [bench]);

  const f = bench.flight;
  // What stands below is made once the panels are on screen.
  const [rest, setRest] = useState(false);
  useEffect(() => setRest(true), []);
  const [indices, setIndices] = useState<Indices>();
  const [suggestions, setSuggestions] = useState<readonly Suggestion[]>([]);
  useEffect(() => {
    let live = true;
    setIndices(undefined);
    setSuggestions([]);
    client.suggestions(f.id).then((x) => {
      if (live) setSuggestions(x);
    }, (e: unknown) => onSaid(`The findings could not be looked at together: ${e instanceof Error ? e.message : String(e)}`));
    client.indices(f.id, false).then((x) => {
      if (live) setIndices(x);
    }, (e: unknown) => onSaid(`The indices could not be computed: ${e instanceof Error ? e.message : String(e)}`));
    return () => {
      live = false;
    };
  }, [f.id, f.revision]);
  useEffect(() => {
    if (side === "compare") onRows();
  }, [side]);
  const onHover = useCallback((p: PanelId) => bench.take(p), [bench]);
  const signature = f.sign_off.signature;
  // Keys may come before the flight as it is now has been drawn: what holds is the flight.
  const locked = (): boolean => {
    const s = bench.flight.sign_off.signature;
    if (s !== undefined) onSaid(`This flight was ${signedLine(s)}. It is locked: press s to reopen it with a reason.`);
    return s !== undefined;
  };
  const begin = (d: Draft): void => {
    if (locked()) return;
    setStep(undefined);
    setBar(undefined);
    setDraft(d);
  };
  useEffect(() => {
    own.busy = draft !== undefined || step !== undefined;
    consider();
  }, [draft, step]);
  const onStoring = (on: boolean): void => {
    own.pending = on;
    if (!on) consider();
  };
  const close = (): void => {
    setDraft(undefined);
    setStep(undefined);
    bench.after = undefined;
    bench.changed();
  };
  // A form that closes hands the keys back to the column it stood in.
  const forming = draft !== undefined || step !== undefined;
  const formed = useRef(false);
  useLayoutEffect(() => {
    if (formed.current && !forming) document.querySelector<HTMLElement>(".side .pane")?.focus({ preventScroll: true });
    formed.current = forming;
  }, [forming]);
  const stored = async (d: Decided): Promise<void> => {
    const done = step?.kind;
    close();
    bench.select(undefined);
    try {
      bench.replace(d.flight, await client.columns(f.id));
    } catch (e) {
      onStoring(false);
      onSaid(`It is stored, but the flight could not be drawn anew: ${e instanceof Error ? e.message : String(e)}`);
      return;
    }
    onStoring(false);
    onSaid(done === "sign" ? "Signed off. The flight is locked; s reopens it with a reason."
      : done === "reopen" ? "Reopened. Decisions are taken again."
      : done === "redo" ? `Put back: ${d.decision?.id ?? ""} is in force again.`
      : done !== undefined ? "Taken back. Press Shift+U to put it back."
      : `Stored as ${d.decision?.id ?? ""}. Press u to take it back.`);
  };
  const span = bench.span;
  const options = span === undefined ? [] : offers(bench, span, bench.panel(bench.spanPanel ?? bench.hand).variables);
  const correct = (path: string): void => {
    const item = (f.record ?? []).find((i) => i.path === path);
    if (item !== undefined) begin(recordCorrection(path, item.label, withUnit(item.value, item.unit)));
  };
  const rule = (action: "accept" | "dismiss"): void => {
    if (bench.selected !== undefined) begin(ruling(action, bench.selected));
  };
  const exclude = (): void => {
    const of = span === undefined ? spanOfFinding(bench) : undefined;
    const s = span ?? of?.span;
    if (s === undefined) {
      onSaid("Select a span or a finding first, then e excludes it.");
      return;
    }
    const first = offers(bench, s, of?.variables ?? bench.panel(bench.spanPanel ?? bench.hand).variables)[0];
    if (first !== undefined) begin(of === undefined ? first.draft : { ...first.draft, spans: of.spans });
  };
  const grow = (by: number): void => {
    if (bench.cursor === undefined) bench.step(0); // a span may be the first thing that is wanted
    const from = bench.span?.from ?? bench.cursor;
    const anchor = bench.cursor !== undefined && bench.span !== undefined ? (bench.cursor === bench.span.from ? bench.span.to : bench.span.from) : from;
    bench.step(by);
    if (anchor !== undefined && bench.cursor !== undefined) {
      bench.select({ from: anchor, to: bench.cursor }, bench.spanPanel ?? bench.hand);
      setBar(beside(bench, bench.span));
    }
  };
  const take = (s: Step): void => {
    setDraft(undefined);
    setBar(undefined);
    setStep(s);
  };
  const byId = (id: string) => (bench.flight.decisions ?? []).find((d) => d.id === id);
  const signOrReopen = (): void => take({ kind: bench.flight.sign_off.signature === undefined ? "sign" : "reopen" });
  const undo = (): void => {
    const d = byId(bench.flight.undo);
    if (locked()) return;
    if (d === undefined) onSaid("There is no decision to take back.");
    else take({ kind: "undo", decision: d });
  };
  const redo = (): void => {
    const d = byId(bench.flight.redo);
    if (locked()) return;
    if (d === undefined) onSaid("There is nothing to put back: nothing was taken back, or something was decided since.");
    else take({ kind: "redo", decision: d });
  };
  const numbers = span === undefined
    ? Object.fromEntries(suggestions.flatMap((s) => s.decisions ?? []).slice(0, 9).map((d, i) => [String(i + 1), () => begin(suggested(d, bench))]))
    : Object.fromEntries(options.filter((o) => o.key !== "").map((o) => [o.key, () => begin(o.draft)]));
  useKeys({
    m: () => begin(note(bench)),
    ...numbers,
    "[": () => bench.nextPlace(-1), "]": () => bench.nextPlace(1),
    n: () => bench.nextFinding(1), p: () => bench.nextFinding(-1),
    a: () => bench.nextAxis(), r: () => bench.toggle("raw"), d: () => bench.toggle("descent"), b: () => bench.toggle("before"), f: () => bench.toggle("fit"), w: () => bench.toggle("components"),
    "0": () => bench.reset(), "+": () => bench.zoom(0.6, at()), "=": () => bench.zoom(0.6, at()), "-": () => bench.zoom(1 / 0.6, at()),
    ArrowLeft: () => bench.nextPanel(-1), ArrowRight: () => bench.nextPanel(1),
    ArrowUp: () => bench.step(1), ArrowDown: () => bench.step(-1), PageUp: () => bench.step(60), PageDown: () => bench.step(-60),
    "Shift+ArrowUp": () => grow(1), "Shift+ArrowDown": () => grow(-1), "Shift+PageUp": () => grow(60), "Shift+PageDown": () => grow(-60),
    t: () => {
      setSide("trail");
      if (bench.cursor === undefined) bench.step(0);
      const v = bench.panel(bench.hand).variables[0];
      if (v !== undefined && (f.variables ?? []).some((x) => x.name === v)) setVariable(v);
    },
    c: () => {
      setSide("compare");
      requestAnimationFrame(() => document.querySelector<HTMLElement>("#pane-compare input, #pane-compare select, #pane-compare button")?.focus());
    },
    Space: () => rule("accept"), x: () => rule("dismiss"), e: exclude, u: undo, U: redo, s: signOrReopen,
    z: () => {
      if (span === undefined) return;
      const al = bench.along();
      const y0 = al[span.from] as number, y1 = al[span.to] as number;
      bench.show(Math.min(y0, y1), Math.max(y0, y1));
    },
    Escape: () => {
      const field = document.activeElement;
      if (draft !== undefined || step !== undefined) close();
      else if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) (field.closest<HTMLElement>(".pane") ?? field).focus();
      else if (bench.span !== undefined) {
        bench.select(undefined);
        setBar(undefined);
      } else {
        bench.selected = undefined;
        bench.changed();
      }
    },
  });
  const at = (): number | undefined => {
    const c = bench.cursor;
    return c === undefined ? undefined : (bench.along()[c] as number);
  };
  const e = f.events;
  const reviewer = lastInForce(f.decisions)?.who ?? "";
  const declared = (f.record ?? []).find((i) => i.path === "release.declared_utc")?.value ?? "";
  const site = (f.record ?? []).find((i) => i.path === "site.name")?.value ?? "";
  const axes: (readonly [AxisKind, string])[] = [["height", "height"], ["pressure", "pressure"], ["time", "time"]];
  return (
    <div class="flight">
      <div class="first">
      <header class="flight-head">
        <div class="title">
          <h1>{f.name}</h1>
          <span><Verdict word={f.verdict.word} /></span>
          <button type="button" onClick={signOrReopen}>{signature === undefined ? "Sign off" : "Reopen"} <Key>s</Key></button>
          <span class={signature === undefined ? "quiet" : "signed"}>{standing(f, reviewer)}</span>
          <p class="said" role="status">{said}{said === "" ? null : <button type="button" class="link" onClick={() => onSaid("")}>close</button>}</p>
        </div>
        {(f.sign_off.differs ?? []).length === 0 ? null : <p class="differs"><b>Not as it was signed:</b> {(f.sign_off.differs ?? []).join("; ")}.</p>}
        <p class="summary">{prose((f.summary ?? []).join(" "))}</p>
        <dl class="facts-line">
          <div><dt>site</dt><dd>{site === "" ? "not given" : site}</dd></div>
          <div><dt>slot</dt><dd>{dayMinute((f.record ?? []).find((i) => i.path === "release.nominal_utc")?.value) || "not given"}</dd></div>
          <div><dt>release</dt><dd>{e.release.found ? <>{clock(Date.parse(e.release.utc))} UTC{e.release.u_s === null ? "" : ` ± ${format(e.release.u_s, 1)} s`} <small>{localClock(e.release.utc)} here{declared === "" ? "" : `; declared ${declared.slice(11, 19)}`}</small></> : "not found"}</dd></div>
          <div><dt>{e.burst.found ? "burst" : "top"}</dt><dd>{e.top.found ? <>{clock(Date.parse((e.burst.found ? e.burst : e.top).utc))} UTC{e.top.height_m_msl === null ? "" : `, ${format(e.top.height_m_msl / 1000, 1)} km`}</> : "not found"}</dd></div>
          <div><dt>sheet</dt><dd>{f.sheet.name === "" ? "none known" : f.sheet.name}</dd></div>
          <div><dt>rows</dt><dd>{format(f.rows, 0)}</dd></div>
        </dl>
      </header>
      {failed === "" ? null : <p class="notice" role="alert">The flight could not be read anew: {failed}</p>}
      <div class="tools" role="toolbar" aria-label="What the panels show">
        <Choice label="Axis" keyName="a" value={bench.axis} options={axes.filter(([k]) => bench.profile.has(k))} onChoose={(k) => bench.setAxis(k)} />
        <Toggle on={bench.raw} keyName="r" onClick={() => bench.toggle("raw")}>Raw</Toggle>
        <Toggle on={bench.before} keyName="b" onClick={() => bench.toggle("before")}>Before release</Toggle>
        <Toggle on={bench.descent} keyName="d" onClick={() => bench.toggle("descent")}>Descent</Toggle>
        <Toggle on={bench.components} keyName="w" onClick={() => bench.toggle("components")} title="Wind to the east and to the north beside speed and direction">u, v</Toggle>
        <Toggle on={bench.fit} keyName="f" onClick={() => bench.toggle("fit")} title="Scales follow the visible samples">Fit</Toggle>
        <Choice label="Drag" value={bench.drag} options={[["span", "span"], ["pan", "pan"], ["box", "box"]]} onChoose={(m) => { bench.drag = m; bench.changed(); }} />
        <button type="button" onClick={() => bench.reset()}>Whole flight <Key>0</Key></button>
      </div>
      <div class="work">
        <div class="stage">
          <Panels bench={bench} onSpan={setBar} onHover={onHover} />
          {bar === undefined || span === undefined ? null : (
            <div class="actions" role="toolbar" aria-label="What to do with the span" style={{ left: `${Math.max(0, bar.x - 60)}px`, top: `${Math.max(0, bar.y)}px` }}>
              <span class="quiet">{format(span.to - span.from + 1, 0)} samples</span>
              {signature !== undefined ? <span>locked, {signedLine(signature)}</span> : options.map((o) => <button type="button" key={o.label} onClick={() => begin(o.draft)}>{o.label} {o.key === "" ? null : <Key>{o.key}</Key>}</button>)}
              <button type="button" onClick={() => { bench.select(undefined); setBar(undefined); }}>Let go <Key>Esc</Key></button>
            </div>
          )}
        </div>
        <aside class={draft === undefined ? "side" : "side deciding"}>
          {step === undefined ? <ValuesTable bench={bench} /> : null}
          {draft !== undefined ? <DecideForm key={`${draft.action} ${draft.field} ${draft.reason ?? ""}`} bench={bench} draft={draft} onDraft={setDraft} onStored={(d) => void stored(d)} onCancel={close} onReload={reload} onStoring={onStoring} />
            : step !== undefined ? <StepForm key={step.kind + ("decision" in step ? step.decision.id : "")} bench={bench} step={step} onStored={(d) => void stored(d)} onCancel={close} onReload={reload} onStoring={onStoring} />
            : <div class="side-tabs">
              <Tabs label="Findings, history, trail" value={side} onChoose={setSide}
                options={[["findings", `Findings ${bench.findings.length}`], ["decisions", `History ${(f.history ?? []).length}`], ["trail", "Trail"], ["compare", "Compare"]]} />
              {side === "findings" ? <FindingsPane bench={bench} suggestions={suggestions} onTake={(d) => begin(suggested(d, bench))} onRule={rule} onCorrect={correct} /> : side === "decisions" ? <HistoryPane bench={bench} onRevoke={(d) => take({ kind: "revoke", decision: d })} onRedo={(d) => take({ kind: "redo", decision: d })} /> : side === "trail" ? <TrailPane bench={bench} variable={variable} onVariable={setVariable} /> : <ComparePane bench={bench} rows={rows} />}
            </div>}
        </aside>
      </div>
      </div>
      {rest ? <><Charts bench={bench} indices={indices} /><BelowPanels bench={bench} onCorrect={correct} /></> : null}
    </div>
  );
}
