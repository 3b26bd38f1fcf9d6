// Flights and versions of flights laid over one another, with differences and their
// statistics by layer. The numbers come from the server, as the command line prints them.
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Columns } from "../api/columns";
import type { Change, ComparisonResult, FlightVersion, Row, SettingsFile, Statistics, VariableName, VersionComparison } from "../api/types";
import * as server from "../api/versions";
import { besideUnit, axisUnit } from "../chart/axis";
import { compareLayout, drawCompare, drawCompareCursor } from "../chart/compare";
import { fit, followTheme, palette } from "../chart/palette";
import { Bench } from "../model/bench";
import { Profile, type AxisKind } from "../model/profile";
import { everything, pick, slotOf } from "../model/rows";
import { dayMinute, display, elapsed, format, nameOf } from "../model/units";
import { boundsOf, codeOf, compareAddress, comparedPanels, dashes, letterOf, most, partOf, sidesIn, versionOf, versionsOf, wordsOf, type Side } from "../model/versions";
import { go } from "./app";
import { atHand, keepAtHand } from "./settings";
import { useKeys } from "./keys";
import { Choice, Key, Pane, Verdict } from "./parts";

const said = (e: unknown): string => (e instanceof Error ? e.message : String(e));

async function open(version: FlightVersion): Promise<Side> {
  const [flight, columns, stored] = await Promise.all([server.versionFlight(version), server.versionColumns(version), client.flight(version.flight)]);
  return { version, flight, stored, profile: new Profile(columns, flight) };
}

/** Degrees Celsius differ by kelvins. */
const unitOfDifference = (v: VariableName): string => (display(v).unit === "°C" ? "K" : display(v).unit);

/** Statistics of one variable, the ground at the bottom. */
export function LayerTable({ result, variable, narrow = false }: { readonly result: ComparisonResult; readonly variable: VariableName; readonly narrow?: boolean }) {
  const v = (result.variables ?? []).find((x) => x.variable === variable);
  if (v === undefined) return <p class="quiet">They have no {nameOf(variable)} to compare.</p>;
  const d = display(variable);
  const decimals = Math.max(2, d.decimals);
  const signed = (x: number | null): string => (x !== null && x > 0 && format(x, decimals) !== format(0, decimals) ? "+" : "") + format(x, decimals);
  const line = (name: string, s: Statistics) => (
    <tr key={name} class={s.n === 0 ? "absent" : ""}>
      <th scope="row">{name}</th><td>{format(s.n, 0)}</td><td>{signed(s.mean)}</td>{narrow ? null : <td>{format(s.deviation, decimals)}</td>}<td>{format(s.rms, decimals)}</td>
      <td>{signed(s.largest)}</td>{narrow ? null : <><td class="quiet">{s.largest_hpa === null ? "" : format(s.largest_hpa, 1)}</td><td class="quiet">{format(s.n_a, 0)}</td><td class="quiet">{format(s.n_b, 0)}</td></>}
    </tr>
  );
  const layers = (v.layers ?? []).filter((s) => s.n_a > 0 || s.n_b > 0);
  return (
    <table class="facts layers aligned">
      <thead><tr><th scope="col">layer <small>hPa</small></th><th scope="col">compared</th><th scope="col">mean <small>{unitOfDifference(variable)}</small></th>{narrow ? null : <th scope="col">deviation</th>}<th scope="col">rms</th><th scope="col">largest</th>{narrow ? null : <><th scope="col">at <small>hPa</small></th><th scope="col">valid in A</th><th scope="col">in B</th></>}</tr></thead>
      <tbody>{[...layers].reverse().map((s) => line(`${format(s.bottom_hpa, 0)}–${format(s.top_hpa, 0)}`, s))}{line("whole", v.whole)}</tbody>
    </table>
  );
}

/** Flights by a search, the nearest in place and time first. */
function Flights({ rows, near, except, label, onChoose }: { readonly rows: readonly Row[]; readonly near: Row | undefined; readonly except: string; readonly label: string; readonly onChoose: (r: Row) => void }) {
  const [text, setText] = useState("");
  const field = useRef<HTMLInputElement>(null);
  useKeys({ "/": () => field.current?.focus() });
  const at = Date.parse(near === undefined ? "" : (near.release_utc ?? slotOf(near)));
  const far = (r: Row): number => (near === undefined || r.site === near.site ? 0 : 1e14) + (Math.abs(Date.parse(r.release_utc ?? slotOf(r)) - at) || 0);
  const list = pick(rows, { ...everything, text }).filter((r) => r.id !== except).sort((a, b) => far(a) - far(b)).slice(0, 12);
  return (
    <div class="flights">
      <label>{label} <Key>/</Key> <input ref={field} type="search" value={text} placeholder="site, file, serial" onInput={(e) => setText(e.currentTarget.value)} /></label>
      <p class="quiet">{near === undefined ? "" : "Nearest in place and time first. "}{list.length === 12 ? "At most 12 are listed: search for others." : ""}</p>
      <ul class="choices">{list.map((r) => <li key={r.id}><button type="button" onClick={() => onChoose(r)}>{r.id}: {dayMinute(slotOf(r))} {r.site} <span class="quiet">{r.verdict}</span></button></li>)}</ul>
      {list.length === 0 ? <p class="quiet">{rows.length === 0 ? "The logbook is empty: add flights there first." : text !== "" ? "No other flight fits." : "There is no other flight."}</p> : null}
    </div>
  );
}

/** Beside a flight: another flight, or another version of this one, laid over it. */
export function ComparePane({ bench, rows }: { readonly bench: Bench; readonly rows: readonly Row[] }) {
  const [failed, setFailed] = useState("");
  const [variable, setVariable] = useState<VariableName>("temperature");
  const [over, setOver] = useState<FlightVersion>();
  const [result, setResult] = useState<VersionComparison>();
  const f = bench.flight;
  const lay = async (version: FlightVersion): Promise<void> => {
    try {
      const s = await open(version);
      bench.other = { name: [s.flight.name, wordsOf(version)].filter((x) => x !== "").join(", "), profile: s.profile };
      setOver(version);
      setFailed("");
      bench.changed();
    } catch (e) {
      setFailed(said(e));
    }
  };
  useEffect(() => {
    if (over === undefined || bench.other === undefined) return undefined;
    const stop = new AbortController();
    server.compare({ a: over, b: { flight: f.id }, axis: bench.axis }, stop.signal).then(setResult, (e: unknown) => {
      if (!stop.signal.aborted) setFailed(said(e));
    });
    return () => stop.abort();
  }, [over, f.revision, bench.axis]);
  const address = (v: FlightVersion): string => `#${compareAddress([codeOf(v), f.id])}`;
  if (bench.other === undefined) {
    const own = versionsOf(f, atHand.files).slice(1).filter(([code]) => !code.endsWith("@raw"));
    return (
      <Pane name="compare">
        {failed === "" ? null : <p role="alert">{failed}</p>}
        <Flights rows={rows} near={rows.find((r) => r.id === f.id)} except={f.id} label="Lay over this flight" onChoose={(r) => void lay({ flight: r.id })} />
        <h3>Or this flight as it would be</h3>
        <ul class="choices own-versions">{own.map(([code, words]) => <li key={code}><button type="button" onClick={() => { const v = versionOf(code, atHand.files); if (v !== undefined) void lay(v); }}>{words}</button></li>)}</ul>
        <p><a href={`#${compareAddress([`${f.id}@raw`, f.id])}`}>As received against final, with differences</a></p>
      </Pane>
    );
  }
  return (
    <Pane name="compare">
      <p>Pale lines are <b>{bench.other.name}</b>. <button type="button" onClick={() => { bench.other = undefined; setResult(undefined); setOver(undefined); bench.changed(); }}>Take it away</button></p>
      {failed === "" ? null : <p role="alert">{failed}</p>}
      {over === undefined ? null : <p><a href={address(over)}>Differences along the profile</a></p>}
      {result?.result == null ? <p class="waiting">Taking the differences …</p> : <>
        <label>Differences of <Variables result={result.result} value={variable} onChange={setVariable} /></label>
        <LayerTable result={result.result} variable={variable} narrow />
        <p class="quiet">This flight (B) minus the pale one (A). {result.result.rule} {(result.result.notes ?? []).join(" ")}</p>
      </>}
    </Pane>
  );
}

function Variables({ result, value, onChange }: { readonly result: ComparisonResult; readonly value: VariableName; readonly onChange: (v: VariableName) => void }) {
  return <select value={value} onChange={(e) => onChange(e.currentTarget.value as VariableName)}>{(result.variables ?? []).map((v) => <option key={v.variable} value={v.variable}>{v.label}</option>)}</select>;
}

/** The screen: any flights and versions, panels with differences, statistics. */
export function CompareScreen({ rest, rows, change: told }: { readonly rest: string; readonly rows: readonly Row[]; readonly change: Change | undefined }) {
  const [files, setFiles] = useState<readonly SettingsFile[]>(atHand.files);
  const [sides, setSides] = useState<readonly Side[]>([]);
  const [chosen, setChosen] = useState(1); // which side is B
  const [axis, setAxis] = useState<AxisKind>("pressure"); // of the panels, and of the differences of two flights
  const [layers, setLayers] = useState("");
  const [variable, setVariable] = useState<VariableName>("temperature");
  const [failed, setFailed] = useState("");
  const [got, setGot] = useState<{ comparison: VersionComparison; differences: Columns }>();
  const [adding, setAdding] = useState(false);
  const codes = sidesIn(rest);
  const kept = useRef(new Map<string, Side>());

  useEffect(() => {
    let live = true;
    setFailed("");
    // Somebody has ruled on a flight: its versions are computed anew.
    if (told !== undefined) for (const [k, s] of kept.current) if (told.flight === "" || told.flight === s.version.flight) kept.current.delete(k);
    const load = async (): Promise<void> => {
      const out: Side[] = [];
      for (const code of codes) {
        const version = versionOf(code, files);
        if (version === undefined) throw new Error(code.includes("@settings:") ? `The settings file of ${code} is not at hand: choose it below.` : `“${code}” is no version of a flight.`);
        const key = `${code} ${version.settings_text ?? ""}`;
        const side = kept.current.get(key) ?? await open(version);
        kept.current.set(key, side);
        out.push(side);
      }
      for (const k of kept.current.keys()) if (!out.some((s) => `${codeOf(s.version)} ${s.version.settings_text ?? ""}` === k)) kept.current.delete(k);
      if (live) setSides(out);
    };
    load().catch((e: unknown) => {
      if (!live) return;
      setFailed(said(e));
      setSides([]);
    });
    return () => {
      live = false;
    };
  }, [rest, files, told]);

  const a = sides[0], b = sides[Math.min(chosen, sides.length - 1)];
  // Another version of the same flight is looked at where the one before was.
  const before = useRef<Bench | undefined>(undefined);
  const bench = useMemo(() => {
    if (a === undefined) return undefined;
    const b = new Bench(a.flight, a.profile.columns), old = before.current;
    if (a.flight.events.release.found) b.setAxis(axis);
    if (old !== undefined && old.flight.id === b.flight.id && old.axis === b.axis && !old.isWhole()) b.show(old.lo, old.hi);
    before.current = b;
    return b;
  }, [a]);
  useEffect(() => {
    if (bench === undefined) return undefined;
    const follow = (): void => setAxis(bench.axis);
    follow();
    return bench.subscribe(follow);
  }, [bench]);
  const bounds = boundsOf(layers);
  const two = a !== undefined && b !== undefined && sides.length > 1;
  const same = two && a.version.flight === b.version.flight;
  const along = bench?.axis ?? axis;
  useEffect(() => {
    if (two && typeof bounds === "string") return undefined; // what was there stays while one types
    setGot(undefined);
    if (!two || typeof bounds === "string") return undefined;
    const stop = new AbortController();
    const q = { a: a.version, b: b.version, axis: along, ...(bounds.length > 0 ? { bounds_hpa: bounds } : {}) };
    Promise.all([server.compare(q, stop.signal), server.differences(q, stop.signal)]).then(([comparison, differences]) => {
      setGot({ comparison, differences });
      setFailed("");
    }, (e: unknown) => {
      if (!stop.signal.aborted) setFailed(said(e));
    });
    return () => stop.abort();
  }, [a, b, same ? "row by row" : along, typeof bounds === "string" ? "none" : bounds.join()]);

  const change = (i: number, code: string): void => go(compareAddress(codes.map((c, k) => (k === i ? code : c))));
  const remove = (i: number): void => {
    setChosen(1);
    go(compareAddress(codes.filter((_, k) => k !== i)));
  };
  const takeFile = async (f: File | undefined): Promise<void> => {
    if (f === undefined) return;
    const text = await f.text();
    try {
      await server.explainSettings({ name: f.name, text });
      setFailed("");
      setFiles(keepAtHand({ name: f.name, text }));
    } catch (e) {
      setFailed(said(e));
    }
  };
  const result = got?.comparison.result ?? undefined;
  const effect = got?.comparison.effect;
  return (
    <div class="compare">
      <h1>Compare</h1>
      {failed === "" ? null : <p class="notice" role="alert">{failed}</p>}
      <section aria-label="What is compared" class="sides">
        <table class="facts">
          <thead><tr><th scope="col"><span class="hidden-text">letter</span></th><th scope="col">flight</th><th scope="col">version</th><th scope="col">verdict</th><th scope="col">differences from A</th><th scope="col"><span class="hidden-text">take away</span></th></tr></thead>
          <tbody>
            {codes.map((code, i) => {
              const s = sides[i];
              const id = code.split("@")[0] ?? "";
              const row = rows.find((r) => r.id === id);
              return (
                <tr key={`${i} ${id}`}>
                  <th scope="row"><b>{letterOf(i)}</b> <svg viewBox="0 0 34 6" aria-hidden="true" class="swatch ink-ink long"><path d="M0 3H34" stroke-dasharray={(dashes[i] ?? []).join(" ")} stroke-width={i === 0 ? 3 : 2} /></svg></th>
                  <td class="free"><a href={`#/flight/${encodeURIComponent(id)}`}>{s?.flight.name ?? `flight ${id}`}</a>{row === undefined ? null : <small class="quiet"> {dayMinute(slotOf(row))} UTC, {row.site === "" ? "site not given" : row.site}</small>}</td>
                  <td><select aria-label={`Version of ${letterOf(i)}`} value={code} onChange={(e) => change(i, e.currentTarget.value)}>
                    {s === undefined ? <option value={code}>{code}</option> : versionsOf(s.stored, files).map(([c, words]) => <option key={c} value={c}>{words}</option>)}
                  </select></td>
                  <td>{s === undefined ? null : s.version.stage === "raw" ? <span class="quiet">not judged</span> : <Verdict word={s.flight.verdict.word} />}</td>
                  <td>{i === 0 ? <span class="quiet">A</span> : <label><input type="radio" name="other" checked={Math.min(chosen, codes.length - 1) === i} onChange={() => setChosen(i)} /> {letterOf(i)} − A</label>}</td>
                  <td><button type="button" class="link" onClick={() => remove(i)} >take {letterOf(i)} away</button></td>
                </tr>
              );
            })}
          </tbody>
        </table>
        <p class="buttons">
          {codes.length >= most ? null : <button type="button" aria-expanded={adding} onClick={() => setAdding(!adding)}>Add a flight</button>}
          {codes.length === 0 || codes.length >= most ? null : <button type="button" onClick={() => go(compareAddress([...codes, codes[0] as string]))}>Add A once more, to change its version</button>}
          <label class="file">Settings file for versions <input type="file" accept=".toml,text/plain" onClick={(e) => { e.currentTarget.value = ""; }} onChange={(e) => void takeFile(e.currentTarget.files?.[0])} /></label>
          {files.length === 0 ? null : <span class="quiet" role="status">At hand: {files.map((f) => f.name).join(", ")}</span>}
        </p>
        {adding || codes.length === 0 ? <Flights rows={rows} near={rows.find((r) => r.id === codes[0]?.split("@")[0])} except="" label={codes.length === 0 ? "First choose a flight" : "Add"} onChoose={(r) => { setAdding(false); go(compareAddress([...codes, r.id])); }} /> : null}
      </section>
      {bench === undefined ? (codes.length > 0 && failed === "" ? <p class="waiting">Computing the versions …</p> : null) : <>
        <ComparePanels bench={bench} same={!two || same} sides={sides} other={two ? b : undefined} letter={letterOf(Math.min(chosen, sides.length - 1))} differences={got?.differences} result={result} />
        {!two ? <p class="quiet">Add a second flight, or A once more in another version, to see differences.</p> : (
          <section aria-label="Statistics by layer">
            <h2>{letterOf(Math.min(chosen, sides.length - 1))} minus A, by layer</h2>
            <p>
              <label>Layers between <input type="text" class="bounds" value={layers} placeholder={result === undefined ? "1100 925 850 …" : (result.bounds_hpa ?? []).join(" ")} onInput={(e) => setLayers(e.currentTarget.value)} aria-describedby="bounds-note" /> <small>hPa</small></label>{" "}
              <span id="bounds-note" role="status">{typeof bounds === "string" ? bounds : ""}</span>
            </p>
            {result === undefined ? <p class="waiting">Taking the differences …</p> : <>
              <label>Differences of <Variables result={result} value={variable} onChange={setVariable} /></label>
              <LayerTable result={result} variable={variable} />
              <p class="quiet rule">{result.rule} {(result.notes ?? []).join(" ")}{(result.only_a ?? []).length > 0 ? ` Only A has: ${(result.only_a ?? []).join(", ")}.` : ""}{(result.only_b ?? []).length > 0 ? ` Only the other has: ${(result.only_b ?? []).join(", ")}.` : ""}</p>
              {effect === undefined || a.version.stage === "raw" || b.version.stage === "raw" ? null : (
                <p class="effect-line">Verdict {effect.verdict[0]}{effect.verdict[1] === effect.verdict[0] ? " in both" : ` → ${effect.verdict[1]}`}; {format(effect.levels_changed, 0)} levels differ; {(effect.variables ?? []).filter((v) => v.flags_changed > 0).map((v) => `${format(v.flags_changed, 0)} flags of ${nameOf(v.variable)}`).join(", ") || "no flag differs"}; {format((effect.findings_new ?? []).length, 0)} findings only in B, {format((effect.findings_gone ?? []).length, 0)} only in A.</p>
              )}
            </>}
          </section>
        )}
      </>}
    </div>
  );
}

function ComparePanels({ bench, same, sides, other, letter, differences, result }: { readonly bench: Bench; readonly same: boolean; readonly sides: readonly Side[]; readonly other: Side | undefined; readonly letter: string; readonly differences: Columns | undefined; readonly result: ComparisonResult | undefined }) {
  const holder = useRef<HTMLDivElement>(null), below = useRef<HTMLCanvasElement>(null), above = useRef<HTMLCanvasElement>(null);
  const [size, setSize] = useState({ w: 0, h: 0 });
  const [theme, setTheme] = useState(0);
  const [, tick] = useState(0);
  const panels = comparedPanels((v) => (result?.variables ?? []).some((x) => x.variable === v));
  const l = compareLayout(size.w, size.h, panels);
  const none = useMemo(() => new Set(panels.filter((p) => !(differences?.get(p.name, "difference") ?? new Float64Array()).some((x) => x === x)).map((p) => p.name)), [differences, panels.length]);
  useLayoutEffect(() => {
    const h = holder.current;
    if (h === null) return undefined;
    const watch = new ResizeObserver(() => setSize({ w: h.clientWidth, h: h.clientHeight }));
    watch.observe(h);
    const again = (): void => setTheme((n) => n + 1);
    const off = followTheme(again);
    return () => {
      watch.disconnect();
      off();
    };
  }, []);
  useEffect(() => bench.subscribe(() => tick((n) => n + 1)), [bench]);
  useEffect(() => {
    if (below.current === null || size.w === 0) return;
    const { ctx, perPixel } = fit(below.current, size.w, size.h);
    drawCompare(ctx, bench, sides, differences, l, palette(), perPixel);
  }, [bench, sides, differences, size, theme, bench.lo, bench.hi, bench.axis, panels.length, panels.at(-1)?.name]);
  useEffect(() => {
    if (above.current === null || size.w === 0) return;
    drawCompareCursor(fit(above.current, size.w, size.h).ctx, bench, l, palette());
  }, [bench, size, theme, bench.lo, bench.hi, bench.axis, bench.cursor]);
  useEffect(() => {
    const c = above.current;
    if (c === null) return undefined;
    const placeOf = (y: number): number => bench.lo + ((c.clientHeight - 20 - y) / (c.clientHeight - 22)) * (bench.hi - bench.lo);
    let grip: { y: number; lo: number; hi: number } | undefined;
    const wheel = (e: WheelEvent): void => {
      e.preventDefault();
      bench.zoom(Math.exp(Math.max(-1, Math.min(1, e.deltaY * 0.0018))), placeOf(e.offsetY));
    };
    const down = (e: PointerEvent): void => {
      grip = { y: e.offsetY, lo: bench.lo, hi: bench.hi };
      c.setPointerCapture(e.pointerId);
    };
    const move = (e: PointerEvent): void => {
      if (grip === undefined) bench.point(bench.rowAt(placeOf(e.offsetY)));
      else {
        const by = ((e.offsetY - grip.y) / (c.clientHeight - 22)) * (grip.hi - grip.lo);
        bench.show(grip.lo + by, grip.hi + by);
      }
    };
    const up = (): void => {
      grip = undefined;
    };
    const twice = (): void => bench.reset();
    c.addEventListener("wheel", wheel, { passive: false });
    c.addEventListener("pointerdown", down);
    c.addEventListener("pointermove", move);
    c.addEventListener("pointerup", up);
    c.addEventListener("pointercancel", up);
    c.addEventListener("dblclick", twice);
    return () => {
      c.removeEventListener("wheel", wheel);
      c.removeEventListener("pointerdown", down);
      c.removeEventListener("pointermove", move);
      c.removeEventListener("pointerup", up);
      c.removeEventListener("pointercancel", up);
      c.removeEventListener("dblclick", twice);
    };
  }, [bench]);
  useKeys({
    a: () => bench.nextAxis(), "0": () => bench.reset(), "+": () => bench.zoom(0.6, at()), "=": () => bench.zoom(0.6, at()), "-": () => bench.zoom(1 / 0.6, at()),
    ArrowUp: () => bench.step(1), ArrowDown: () => bench.step(-1), PageUp: () => bench.step(60), PageDown: () => bench.step(-60),
  });
  const at = (): number | undefined => (bench.cursor === undefined ? undefined : bench.along()[bench.cursor]);
  const row = bench.cursor;
  const a = sides[0];
  const axes: (readonly [AxisKind, string])[] = [["height", "height"], ["pressure", "pressure"], ["time", "time"]];
  return (
    <section aria-label="Profiles and differences">
      <div class="tools" role="toolbar" aria-label="What the panels show">
        <Choice label={same ? "Axis" : "Compared at equal"} keyName="a" value={bench.axis} options={axes.filter(([k]) => bench.profile.has(k))} onChoose={(k) => bench.setAxis(k)} />
        <button type="button" onClick={() => bench.reset()}>Whole flight <Key>0</Key></button>
        <span class="quiet at-cursor">{row === undefined || a === undefined ? "↑ ↓ or the pointer: values at a height; wheel: closer" : <>
          {elapsed(bench.profile.time[row] as number)} since release of A:{" "}
          {panels.map((p) => {
            const d = display(p.name), x = a.profile.get(p.name, partOf(a.version))?.[row], y = differences?.get(p.name, "difference")?.[row];
            return <span key={p.name}>{p.title} <b>{format(x, d.decimals)}</b> {d.unit}{y === undefined ? "" : ` (${letter} ${y > 0 ? "+" : ""}${format(y, Math.max(1, d.decimals))} ${unitOfDifference(p.name)})`}</span>;
          })}
        </>}</span>
      </div>
      <div class="compare-panels" style={{ "--w": size.w }}>
        <div class="panel-heads">
          {size.w === 0 ? null : <>
            <div class="panel-head axis-head"><span>{besideUnit(bench)}</span><b>{axisUnit(bench)}</b></div>
            {l.places.map((p) => <>
              <div class="panel-head" key={p.panel.name} style={{ left: `${p.x}px`, width: `${p.width}px` }}><h3 title={p.panel.title}>{p.width < 100 ? p.panel.short : p.panel.title} <small>{display(p.panel.name).unit}</small></h3></div>
              <div class="panel-head" key={`${p.panel.name} d`} style={{ left: `${p.dx}px`, width: `${p.dwidth}px` }}><h3>{other === undefined ? "" : <>{letter} − A{differences !== undefined && none.has(p.panel.name) ? <> <small>none</small></> : p.dwidth < 60 ? null : <> <small>{unitOfDifference(p.panel.name)}</small></>}</>}</h3></div>
            </>)}
          </>}
        </div>
        <div class="canvas" ref={holder}>
          <canvas ref={below} aria-hidden="true" />
          <canvas ref={above} tabIndex={0} role="img" aria-label="Profiles over one another and their differences on one vertical axis. The statistics by layer stand in the table below." />
        </div>
      </div>
    </section>
  );
}
