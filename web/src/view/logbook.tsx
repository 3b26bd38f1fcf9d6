import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import type { Group, Row } from "../api/types";
import { allShown, extended, groupWords, inForce, nothing, toggled, type Selection } from "../model/group";
import { lanes, laneOf } from "../model/panels";
import { slotOf, wordsOf, type SortKey, type Wanted } from "../model/rows";
import { minute } from "../model/standing";
import { compareAddress, most } from "../model/versions";
import { dayMinute, format, prose } from "../model/units";
import { sketch } from "../chart/sketch";
import { DropZone } from "./adding";
import { go } from "./app";
import { GroupDecide, Groups } from "./group";
import { useKeys } from "./keys";
import { Key, Verdict } from "./parts";
import type { VariableName } from "../api/types";

const rowHeight = 40;
const headHeight = 30;
const spare = 8; // rows drawn beyond the window

interface Props {
  readonly loaded: boolean;
  readonly rows: readonly Row[];
  readonly shown: readonly Row[];
  readonly wanted: Wanted;
  readonly onWant: (w: Wanted) => void;
  readonly onAdded: () => void;
  readonly last: string;
}

const columns: readonly (readonly [SortKey, string, string])[] = [
  ["verdict", "Verdict", "c-verdict"], ["slot", "Slot, UTC", "c-slot"], ["site", "Site", "c-site"], ["top", "Top, km", "c-top"],
  ["temperature", "Temp.", "c-sketch"], ["humidity", "Humid.", "c-sketch"], ["open", "Open findings", "c-open"], ["state", "State", "c-state"], ["reviewer", "Reviewer", "c-who"],
];

/** What a sort means, for the line above the list. */
const sorts: { readonly [k in SortKey]: string } = {
  worst: "", verdict: "verdict", slot: "slot", site: "site, then slot", top: "top reached", temperature: "the lowest temperature", humidity: "the highest humidity", open: "number of open findings", state: "state", reviewer: "reviewer",
};

// The selection outlives a look at one flight.
let selectedBefore: Selection = nothing;

export function LogbookScreen({ loaded, rows, shown, wanted, onWant, onAdded, last }: Props) {
  const scroller = useRef<HTMLDivElement>(null);
  const search = useRef<HTMLInputElement>(null);
  const [top, setTop] = useState(0);
  const [printing, setPrinting] = useState(false); // paper has no window: it gets every row
  useEffect(() => {
    const on = (): void => setPrinting(true), off = (): void => setPrinting(false);
    addEventListener("beforeprint", on);
    addEventListener("afterprint", off);
    return () => {
      removeEventListener("beforeprint", on);
      removeEventListener("afterprint", off);
    };
  }, []);
  const [height, setHeight] = useState(600);
  // The row under the cursor is held by its flight: rows may move when somebody decides.
  const [at, setAt] = useState({ id: last, index: 0 });
  const [selection, setSelected] = useState<Selection>(selectedBefore);
  const [mode, setMode] = useState<"" | "decide" | "groups">("");
  const [back, setBack] = useState(""); // the group to take back first
  const [stored, setStored] = useState<Group>();
  const select = (s: Selection): void => {
    selectedBefore = s;
    setSelected(s);
  };
  const selected = rows.filter((r) => selection.ids.has(r.id));
  const hidden = selected.length - shown.filter((r) => selection.ids.has(r.id)).length;
  const older = useMemo(() => rows.filter((r) => (r.method_set_now ?? "") !== "").length, [rows]);
  const found = shown.findIndex((r) => r.id === at.id);
  const current = found >= 0 ? found : Math.min(at.index, Math.max(0, shown.length - 1));

  useLayoutEffect(() => {
    const s = scroller.current;
    if (s === null) return undefined;
    const watch = new ResizeObserver(() => setHeight(s.clientHeight));
    watch.observe(s);
    return () => watch.disconnect();
  }, [rows.length === 0]);

  const see = (i: number): void => {
    const s = scroller.current;
    if (s === null) return;
    const y = i * rowHeight;
    if (y < s.scrollTop) s.scrollTop = y;
    else if (y + rowHeight > s.scrollTop + s.clientHeight - headHeight) s.scrollTop = y + rowHeight - s.clientHeight + headHeight;
  };
  useEffect(() => see(current), []);
  // The keys work from anywhere; the list has the focus so that what is read out follows them.
  useEffect(() => {
    if (document.activeElement === document.body) scroller.current?.focus({ preventScroll: true });
  }, [rows.length === 0]);
  const move = (to: number): void => {
    const i = Math.min(Math.max(to, 0), shown.length - 1);
    setAt({ id: shown[i]?.id ?? "", index: i });
    see(i);
  };
  const extend = (by: number): void => {
    const from = shown[current], i = Math.min(Math.max(current + by, 0), shown.length - 1), to = shown[i];
    if (from === undefined || to === undefined) return;
    // A range begins at the row it is begun on.
    select(extended(selection.ids.has(from.id) && selection.anchor !== "" ? selection : { ids: new Set([...selection.ids, from.id]), anchor: from.id }, to.id, shown));
    setAt({ id: to.id, index: i });
    see(i);
  };
  const toggle = (): void => {
    const r = shown[current];
    if (r !== undefined) select(toggled(selection, r.id));
  };
  const decide = (): void => {
    setStored(undefined);
    if (selected.length > 0) setMode("decide");
  };
  /** The flights selected, in the order shown; without any, the one under the cursor. */
  const compare = (): void => {
    const list = selected.length > 0 ? [...shown.filter((r) => selection.ids.has(r.id)), ...selected.filter((r) => !shown.includes(r))] : shown.slice(current, current + 1);
    if (list.length > 0) go(compareAddress(list.slice(0, most).map((r) => r.id)));
  };
  const showGroups = (first: string): void => {
    setStored(undefined);
    setBack(first);
    setMode("groups");
  };
  const open = (r: Row | undefined): void => {
    if (r !== undefined) go(`/flight/${encodeURIComponent(r.id)}`);
  };
  useKeys(mode !== "" ? {} : {
    x: toggle, Space: toggle, "Shift+ArrowDown": () => extend(1), "Shift+ArrowUp": () => extend(-1), J: () => extend(1), K: () => extend(-1),
    "Shift+PageDown": () => extend(15), "Shift+PageUp": () => extend(-15), A: () => select(allShown(selection, shown)), d: decide, c: compare, u: () => showGroups(stored?.id ?? ""),
    j: () => move(current + 1), k: () => move(current - 1), ArrowDown: () => move(current + 1), ArrowUp: () => move(current - 1),
    PageDown: () => move(current + 15), PageUp: () => move(current - 15), Home: () => move(0), End: () => move(shown.length - 1),
    Enter: () => open(shown[current]),
    "/": () => search.current?.focus(),
    Escape: () => {
      if (document.activeElement === search.current || document.activeElement === document.body) scroller.current?.focus({ preventScroll: true }); // a field let go has none
      if (wanted.text !== "") onWant({ ...wanted, text: "" });
      else select(nothing);
    },
  });

  const sort = (key: SortKey): void => onWant({ ...wanted, sort: key, falling: wanted.sort === key ? !wanted.falling : key === "top" || key === "open" || key === "slot" || key === "humidity" });
  const leave = (): void => {
    setMode("");
    // The list comes back where it was.
    requestAnimationFrame(() => {
      scroller.current?.focus();
      see(current);
    });
  };
  const pickRow = (e: MouseEvent, r: Row, index: number, box: boolean): void => {
    setAt({ id: r.id, index });
    if (e.shiftKey) {
      document.getSelection()?.removeAllRanges();
      select(extended(selection, r.id, shown));
    } else if (box || e.ctrlKey || e.metaKey) select(toggled(selection, r.id));
    else open(r);
  };
  const sites = wordsOf(rows, (r) => r.site), sheets = wordsOf(rows, (r) => r.sheet);
  const first = printing ? 0 : Math.max(0, Math.floor(top / rowHeight) - spare);
  const end = printing ? shown.length : Math.min(shown.length, Math.ceil((top + height) / rowHeight) + spare);
  const counts = { refuse: 0, look: 0, accept: 0 };
  for (const r of rows) if (r.verdict === "refuse" || r.verdict === "look" || r.verdict === "accept") counts[r.verdict]++;

  return (
    <DropZone onAdded={onAdded}>
      <div class="logbook">
        <div class="logbook-head">
          <h1>Logbook</h1>
          {rows.length === 0 || mode !== "" ? null : <>
            <label class="search">Search <Key>/</Key>{" "}
              <input ref={search} type="search" value={wanted.text} placeholder="site, file, serial, reason" autocomplete="off"
                onInput={(e) => { onWant({ ...wanted, text: e.currentTarget.value }); setAt({ id: "", index: 0 }); }}
                onKeyDown={(e) => { if (e.key === "Enter") scroller.current?.focus(); }} />
            </label>
            <span class="choice" role="group" aria-label="Verdict">
              {(["", "refuse", "look", "accept"] as const).map((v) => (
                <button type="button" key={v} aria-pressed={wanted.verdict === v} onClick={() => onWant({ ...wanted, verdict: v })}>
                  {v === "" ? `all ${rows.length}` : `${v} ${counts[v]}`}
                </button>
              ))}
            </span>
            <label>State{" "}
              <select value={wanted.state} onChange={(e) => onWant({ ...wanted, state: e.currentTarget.value as Wanted["state"] })}>
                <option value="">any</option><option value="new">new</option><option value="in review">in review</option><option value="not signed off">not signed off</option><option value="signed off">signed off</option><option value="signed off, differs now">signed off, differs now</option>{older === 0 && wanted.state !== "other method set" ? null : <option value="other method set">other method set</option>}
              </select>
            </label>
            {sites.length < 2 && wanted.site === "" ? null : <label>Site{" "}
              <select value={wanted.site} onChange={(e) => onWant({ ...wanted, site: e.currentTarget.value })}><option value="">any</option>{sites.map((x) => <option key={x} value={x}>{x}</option>)}</select>
            </label>}
            {sheets.length < 2 && wanted.sheet === "" ? null : <label>Sheet{" "}
              <select value={wanted.sheet} onChange={(e) => onWant({ ...wanted, sheet: e.currentTarget.value })}><option value="">any</option>{sheets.map((x) => <option key={x} value={x}>{x}</option>)}</select>
            </label>}
            {wanted.sort === "worst" && !wanted.falling ? null : <button type="button" onClick={() => onWant({ ...wanted, sort: "worst", falling: false })}>Worst first again</button>}
          </>}
        </div>
        {stored === undefined ? null : <p role="status" class="said">{stored.id} is stored for {inForce(stored)[1]} {inForce(stored)[1] === 1 ? "flight" : "flights"}: {groupWords(stored)}. <button type="button" onClick={() => showGroups(stored.id)}>Take it back … <Key>u</Key></button></p>}
        {rows.length === 0 ? (loaded ? <Empty /> : <p class="waiting">Reading the logbook …</p>) : mode === "decide" ? (
          <GroupDecide rows={selected} onClose={leave} onStored={(g) => { setStored(g); select(nothing); onAdded(); leave(); }} />
        ) : mode === "groups" ? (
          <Groups rows={rows} first={back} onClose={leave} onChanged={onAdded} />
        ) : (
          <>
            <p class="explain">
              {wanted.sort === "worst" ? (wanted.falling ? "Best first: accept, then look, then refuse." : "Worst first: not processed, refuse, look, accept; among equals the one with more open findings, then the newest.") : `Sorted by ${sorts[wanted.sort]}, ${wanted.falling ? "falling" : "rising"}; equals stay worst first.`}
              {shown.length === rows.length ? "" : ` ${shown.length} of ${rows.length} flights.`}
              {" "}Sketches run from sea level on the left to 36 km on the right.
              {older === 0 ? null : <> <a class="older" href="#/settings">{older} {older === 1 ? "flight was" : "flights were"} last computed under another method set: see what changes</a>{wanted.state === "other method set" ? null : <> or <button type="button" class="link" onClick={() => onWant({ ...wanted, state: "other method set" })}>show them here</button></>}.</>}
            </p>
            <div class={`chosen${selected.length === 0 ? " none" : ""}`} role="toolbar" aria-label="Flights selected">
              <span aria-live="polite">{selected.length === 0 ? <>Select flights with <Key>x</Key>, <Key>Shift+↓</Key> or their boxes to decide for many at once.</> : <><b>{selected.length} selected</b>{hidden > 0 ? ` (${hidden} of them not shown)` : ""}</>}</span>
              {selected.length === 0 ? null : <button type="button" class="main" onClick={decide}>Decide for {selected.length === 1 ? "it" : "them"} … <Key>d</Key></button>}
              {selected.length < 2 ? null : <button type="button" onClick={compare}>Compare {selected.length > most ? `the first ${most}` : "them"} <Key>c</Key></button>}
              <button type="button" onClick={() => select(allShown(selection, shown))}>{shown.length > 0 && shown.every((r) => selection.ids.has(r.id)) ? "Select none of" : "Select all"} {shown.length} <Key>Shift+A</Key></button>
              {selected.length === 0 ? null : <button type="button" onClick={() => select(nothing)}>Let go <Key>Esc</Key></button>}
              <span class="grow" />
              <button type="button" onClick={() => showGroups("")}>Decisions for many <Key>u</Key></button>
            </div>
            <div class="grid" role="grid" aria-label="Flights; j and k move, x selects, Enter opens" aria-multiselectable="true" aria-rowcount={shown.length + 1} aria-activedescendant={current >= first && current < end && shown[current] !== undefined ? `flight-${shown[current].id}` : undefined}
              ref={scroller} tabIndex={0} onScroll={(e) => setTop(e.currentTarget.scrollTop)}>
              <div role="rowgroup" class="heads">
                <div class="row head" role="row" aria-rowindex={1}>
                  <div role="columnheader" class="c-pick"><span class="hidden-text">selected</span></div>
                  {columns.map(([key, label, cls]) => (
                    <div role="columnheader" class={cls} key={label} {...(wanted.sort === key ? { "aria-sort": wanted.falling ? "descending" : "ascending" } : {})}>
                      <button type="button" class="sort" onClick={() => sort(key)}>{label}{wanted.sort === key ? (wanted.falling ? " ↓" : " ↑") : ""}</button>
                    </div>
                  ))}
                </div>
              </div>
              <div class="rows" role="rowgroup" style={{ height: `${shown.length * rowHeight}px` }}>
                {shown.slice(first, end).map((r, i) => (
                  <LogbookRow key={r.id} row={r} index={first + i} current={first + i === current} selected={selection.ids.has(r.id)} onPick={(e, box) => pickRow(e, r, first + i, box)} />
                ))}
              </div>
            </div>
            {shown.length === 0 ? <p class="waiting">No flight fits. <button type="button" onClick={() => onWant({ ...wanted, text: "", verdict: "", state: "", site: "", sheet: "" })}>Show all</button></p> : null}
          </>
        )}
      </div>
    </DropZone>
  );
}

const paths = new Map<string, readonly [string, string]>();

/** Paths of a row's two sketches, made once for each revision. */
function sketches(r: Row): readonly [string, string] {
  const key = `${r.id} ${r.revision} ${r.method_set}`;
  let p = paths.get(key);
  if (p === undefined) {
    p = [sketch(r.sketch_temperature_k, 60, 24, 190, 310), sketch(r.sketch_humidity_pct, 60, 24, 0, 100)];
    if (paths.size > 20000) paths.clear();
    paths.set(key, p);
  }
  return p;
}

/** Open findings by lane, such as U 5, W 2. */
function openByLane(r: Row): readonly (readonly [string, string, number])[] {
  const n = lanes.map(() => 0);
  for (const [v, count] of Object.entries(r.findings)) n[laneOf(v as VariableName)] = (n[laneOf(v as VariableName)] ?? 0) + count;
  return lanes.map((l, i) => [l.letter === "·" ? "other " : l.letter, l.label, n[i] ?? 0] as const).filter((x) => x[2] > 0);
}

const highest = 36000;

/** State, signature and method set of a row in words. */
const stateWords = (r: Row): string => [
  r.signed_utc === undefined ? r.state : `${r.state}, signed by ${r.signer ?? ""}, ${minute(r.signed_utc)}`,
  (r.method_set_now ?? "") === "" ? "" : `last computed under method set ${r.method_set}; ${r.method_set_now ?? ""} holds today`,
].filter((x) => x !== "").join("; ");

function LogbookRow({ row: r, index, current, selected, onPick }: { readonly row: Row; readonly index: number; readonly current: boolean; readonly selected: boolean; readonly onPick: (e: MouseEvent, box: boolean) => void }) {
  const [t, u] = sketches(r);
  const open = openByLane(r);
  const reason = prose(r.error !== undefined && r.error !== "" ? r.error : r.line);
  const nominal = r.nominal_utc === undefined ? "" : r.nominal_utc.slice(11, 13);
  return (
    <div role="row" class={`row${current ? " current" : ""}${selected ? " selected" : ""}`} id={`flight-${r.id}`} aria-rowindex={index + 2} aria-selected={selected} style={{ top: `${index * rowHeight}px` }} onClick={(e) => onPick(e, false)}>
      <div role="gridcell" class="c-pick" onClick={(e) => { e.stopPropagation(); onPick(e, true); }}><span class="box" aria-hidden="true">{selected ? "✓" : ""}</span></div>
      <div role="gridcell" class="c-verdict"><Verdict word={r.error !== undefined && r.error !== "" ? "" : r.verdict} /><span class="reason" title={reason}>{reason}</span></div>
      <div role="gridcell" class="c-slot"><span>{dayMinute(slotOf(r)).slice(0, 10)} {nominal}</span><small>{r.release_utc === undefined ? "no release" : `released ${r.release_utc.slice(11, 16)}`}</small></div>
      <div role="gridcell" class="c-site"><a href={`#/flight/${encodeURIComponent(r.id)}`} tabIndex={-1} onClick={(e) => { if (e.shiftKey || e.ctrlKey || e.metaKey) e.preventDefault(); }}>{r.site === "" ? "site not given" : r.site}</a><small title={(r.sources ?? []).join(", ")}>{(r.sources ?? []).join(", ")}</small></div>
      <div role="gridcell" class="c-top">
        <span class="number">{r.top_m_msl === null ? "–" : format(r.top_m_msl / 1000, 1)}</span>
        <svg class="topbar" viewBox="0 0 40 6" aria-hidden="true"><rect class="track" width="40" height="6" /><rect width={Math.max(0, Math.min(40, ((r.top_m_msl ?? 0) / highest) * 40))} height="6" /></svg>
      </div>
      <div role="gridcell" class="c-sketch"><svg viewBox="0 0 60 24" role="img" aria-label="temperature against height"><path class="t" d={t} /></svg></div>
      <div role="gridcell" class="c-sketch"><svg viewBox="0 0 60 24" role="img" aria-label="humidity against height"><path class="u" d={u} /></svg></div>
      <div role="gridcell" class="c-open">
        {open.length === 0 ? <span class="quiet">none</span> : open.map(([letter, label, n]) => <span class="count" key={letter} title={`${n} open about ${label}`}><b>{letter}</b>{n}</span>)}
      </div>
      <div role="gridcell" class="c-state" title={stateWords(r)}><span>{r.state.replace(", differs now", "")}</span>{(r.signer ?? "") === "" ? null : <small>{r.state === "signed off" ? r.signer : "differs now"}</small>}{(r.method_set_now ?? "") === "" || (r.signer ?? "") !== "" ? null : <small>other set</small>}</div>
      <div role="gridcell" class="c-who">{r.reviewer === "" ? <span class="quiet">–</span> : r.reviewer}</div>
    </div>
  );
}

function Empty() {
  return (
    <section class="empty">
      <h2>No flights yet</h2>
      <p>Drop receiver files anywhere on this page, with their launch record (TOML or JSON) if there is one, or add the first one on the command line:</p>
      <pre><code>leadline add flight.txt --record launch.toml --sheet twin-humidity</code></pre>
      <p>A file whose layout leadline does not know needs a recipe: <code>leadline recipe flight.txt</code> guesses one to edit. For an invented campaign to look round in, run <code>leadline demo</code>.</p>
    </section>
  );
}
