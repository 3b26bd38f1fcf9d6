import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { AddedFile, Row } from "../api/types";
import { lanes, laneOf } from "../model/panels";
import { kindOf } from "../model/companions";
import { slotOf, type SortKey, type Wanted } from "../model/rows";
import { minute } from "../model/standing";
import { dayMinute, format } from "../model/units";
import { sketch } from "../chart/sketch";
import { go } from "./app";
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

const columns: readonly (readonly [SortKey | "", string, string])[] = [
  ["verdict", "Verdict", "c-verdict"], ["slot", "Slot, UTC", "c-slot"], ["site", "Site", "c-site"], ["top", "Top, km", "c-top"],
  ["", "Temp.", "c-sketch"], ["", "Humid.", "c-sketch"], ["open", "Open findings", "c-open"], ["state", "State", "c-state"], ["reviewer", "Reviewer", "c-who"],
];

export function LogbookScreen({ loaded, rows, shown, wanted, onWant, onAdded, last }: Props) {
  const scroller = useRef<HTMLDivElement>(null);
  const search = useRef<HTMLInputElement>(null);
  const [top, setTop] = useState(0);
  const [height, setHeight] = useState(600);
  // The row under the cursor is held by its flight: rows may move when somebody decides.
  const [at, setAt] = useState({ id: last, index: 0 });
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
  const move = (to: number): void => {
    const i = Math.min(Math.max(to, 0), shown.length - 1);
    setAt({ id: shown[i]?.id ?? "", index: i });
    see(i);
  };
  const open = (r: Row | undefined): void => {
    if (r !== undefined) go(`/flight/${encodeURIComponent(r.id)}`);
  };
  useKeys({
    j: () => move(current + 1), k: () => move(current - 1), ArrowDown: () => move(current + 1), ArrowUp: () => move(current - 1),
    PageDown: () => move(current + 15), PageUp: () => move(current - 15), Home: () => move(0), End: () => move(shown.length - 1),
    Enter: () => open(shown[current]),
    "/": () => search.current?.focus(),
    Escape: () => {
      if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
      if (wanted.text !== "") onWant({ ...wanted, text: "" });
    },
  });

  const sort = (key: SortKey): void => onWant({ ...wanted, sort: key, falling: wanted.sort === key ? !wanted.falling : key === "top" || key === "open" || key === "slot" });
  const first = Math.max(0, Math.floor(top / rowHeight) - spare);
  const end = Math.min(shown.length, Math.ceil((top + height) / rowHeight) + spare);
  const counts = { refuse: 0, look: 0, accept: 0 };
  for (const r of rows) if (r.verdict === "refuse" || r.verdict === "look" || r.verdict === "accept") counts[r.verdict]++;

  return (
    <DropZone onAdded={onAdded}>
      <div class="logbook">
        <div class="logbook-head">
          <h1>Logbook</h1>
          {rows.length === 0 ? null : <>
            <label class="search">Search <Key>/</Key>{" "}
              <input ref={search} type="search" value={wanted.text} placeholder="site, file, serial, reason" autocomplete="off"
                onInput={(e) => { onWant({ ...wanted, text: e.currentTarget.value }); setAt({ id: "", index: 0 }); }}
                onKeyDown={(e) => { if (e.key === "Enter") e.currentTarget.blur(); }} />
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
                <option value="">any</option><option value="new">new</option><option value="in review">in review</option><option value="not signed off">not signed off</option><option value="signed off">signed off</option><option value="signed off, differs now">signed off, differs now</option>
              </select>
            </label>
            {wanted.sort === "worst" && !wanted.falling ? null : <button type="button" onClick={() => onWant({ ...wanted, sort: "worst", falling: false })}>Worst first again</button>}
          </>}
        </div>
        {rows.length === 0 ? (loaded ? <Empty /> : <p class="waiting">Reading the logbook …</p>) : (
          <>
            <p class="explain">
              {wanted.sort === "worst" ? "Worst first: refuse, then look, then accept; among equals the one with more open findings, then the newest." : `Sorted by ${columns.find((c) => c[0] === wanted.sort)?.[1].toLowerCase() ?? ""}; equals stay worst first.`}
              {shown.length === rows.length ? "" : ` ${shown.length} of ${rows.length} flights.`}
              {" "}Sketches run from sea level on the left to 36 km on the right.
            </p>
            <div class="grid" role="grid" aria-label="Flights; j and k move, Enter opens" aria-rowcount={shown.length + 1} ref={scroller} tabIndex={0} onScroll={(e) => setTop(e.currentTarget.scrollTop)}>
              <div role="rowgroup" class="heads">
                <div class="row head" role="row" aria-rowindex={1}>
                  {columns.map(([key, label, cls]) => (
                    <div role="columnheader" class={cls} key={label} {...(key !== "" && wanted.sort === key ? { "aria-sort": wanted.falling ? "descending" : "ascending" } : {})}>
                      {key === "" ? label : <button type="button" class="sort" onClick={() => sort(key)}>{label}{wanted.sort === key ? (wanted.falling ? " ↓" : " ↑") : ""}</button>}
                    </div>
                  ))}
                </div>
              </div>
              <div class="rows" role="rowgroup" style={{ height: `${shown.length * rowHeight}px` }}>
                {shown.slice(first, end).map((r, i) => (
                  <LogbookRow key={r.id} row={r} index={first + i} current={first + i === current} onOpen={() => { setAt({ id: r.id, index: first + i }); open(r); }} />
                ))}
              </div>
            </div>
            {shown.length === 0 ? <p class="waiting">No flight fits. <button type="button" onClick={() => onWant({ ...wanted, text: "", verdict: "", state: "" })}>Show all</button></p> : null}
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
  return lanes.map((l, i) => [l.letter, l.label, n[i] ?? 0] as const).filter((x) => x[2] > 0);
}

const highest = 36000;

function LogbookRow({ row: r, index, current, onOpen }: { readonly row: Row; readonly index: number; readonly current: boolean; readonly onOpen: () => void }) {
  const [t, u] = sketches(r);
  const open = openByLane(r);
  const reason = r.error !== undefined && r.error !== "" ? r.error : r.line;
  const nominal = r.nominal_utc === undefined ? "" : r.nominal_utc.slice(11, 13);
  return (
    <div role="row" class={`row${current ? " current" : ""}`} id={`flight-${r.id}`} aria-rowindex={index + 2} aria-selected={current} style={{ top: `${index * rowHeight}px` }} onClick={onOpen}>
      <div role="gridcell" class="c-verdict"><Verdict word={r.error !== undefined && r.error !== "" ? "" : r.verdict} /><span class="reason" title={reason}>{reason}</span></div>
      <div role="gridcell" class="c-slot"><span>{dayMinute(slotOf(r)).slice(0, 10)} {nominal}</span><small>{r.release_utc === undefined ? "no release" : `released ${r.release_utc.slice(11, 16)}`}</small></div>
      <div role="gridcell" class="c-site"><a href={`#/flight/${encodeURIComponent(r.id)}`} tabIndex={-1}>{r.site === "" ? "site not given" : r.site}</a><small title={(r.sources ?? []).join(", ")}>{(r.sources ?? []).join(", ")}</small></div>
      <div role="gridcell" class="c-top">
        <span class="number">{r.top_m_msl === null ? "–" : format(r.top_m_msl / 1000, 1)}</span>
        <svg class="topbar" viewBox="0 0 40 6" aria-hidden="true"><rect class="track" width="40" height="6" /><rect width={Math.max(0, Math.min(40, ((r.top_m_msl ?? 0) / highest) * 40))} height="6" /></svg>
      </div>
      <div role="gridcell" class="c-sketch"><svg viewBox="0 0 60 24" role="img" aria-label="temperature against height"><path class="t" d={t} /></svg></div>
      <div role="gridcell" class="c-sketch"><svg viewBox="0 0 60 24" role="img" aria-label="humidity against height"><path class="u" d={u} /></svg></div>
      <div role="gridcell" class="c-open">
        {open.length === 0 ? <span class="quiet">none</span> : open.map(([letter, label, n]) => <span class="count" key={letter} title={`${n} open about ${label}`}><b>{letter}</b>{n}</span>)}
      </div>
      <div role="gridcell" class="c-state" title={r.signed_utc === undefined ? r.state : `${r.state}, signed by ${r.signer ?? ""}, ${minute(r.signed_utc)}`}><span>{r.state.replace(", differs now", "")}</span>{(r.signer ?? "") === "" ? null : <small>{r.state === "signed off" ? r.signer : "differs now"}</small>}</div>
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

interface Sent {
  readonly name: string;
  readonly state: "waiting" | "reading" | "done";
  readonly results: readonly AddedFile[];
  readonly error: string;
}

/** Takes files dropped on the screen and says what became of each. */
function DropZone({ onAdded, children }: { readonly onAdded: () => void; readonly children: preact.ComponentChildren }) {
  const [over, setOver] = useState(false);
  const [sent, setSent] = useState<readonly Sent[]>([]);
  const input = useRef<HTMLInputElement>(null);
  const take = async (files: readonly File[]): Promise<void> => {
    if (files.length === 0) return;
    const along: { record?: File; recipe?: File; sheet?: File } = {};
    let list: Sent[] = files.map((f) => ({ name: f.name, state: "waiting", results: [], error: "" }));
    setSent(list);
    for (const [i, f] of files.entries()) {
      const kind = kindOf(f.name, await f.slice(0, 16384).text());
      if (kind === "source") continue;
      const first = along[kind] === undefined;
      if (first) along[kind] = f;
      const what = { record: "the launch record", recipe: "the recipe", sheet: "the instrument sheet" }[kind];
      list = list.map((x, k) => (k === i ? { ...x, state: "done", error: first ? `taken as ${what} of the files dropped with it` : `left out: ${along[kind]?.name ?? ""} is already ${what}` } : x));
      setSent(list);
    }
    for (const [i, f] of files.entries()) {
      if (list[i]?.state === "done") continue;
      const put = (s: Partial<Sent>): void => {
        list = list.map((x, k) => (k === i ? { ...x, ...s } : x));
        setSent(list);
      };
      put({ state: "reading" });
      try {
        put({ state: "done", results: await client.add(f, along) });
      } catch (e) {
        put({ state: "done", error: e instanceof Error ? e.message : String(e) });
      }
    }
    onAdded();
  };
  const done = sent.filter((s) => s.state === "done").length;
  return (
    <div class={`drop${over ? " over" : ""}`}
      onDragOver={(e) => { e.preventDefault(); setOver(true); }}
      onDragLeave={(e) => { if (e.currentTarget === e.target) setOver(false); }}
      onDrop={(e) => { e.preventDefault(); setOver(false); void take([...(e.dataTransfer?.files ?? [])]); }}>
      {children}
      <div class="adding">
        <input ref={input} type="file" multiple class="hidden" tabIndex={-1} aria-label="Files to add" onChange={(e) => { void take([...(e.currentTarget.files ?? [])]); e.currentTarget.value = ""; }} />
        <button type="button" onClick={() => input.current?.click()}>Add files …</button> <span class="quiet">or drop them here</span>
        {sent.length === 0 ? null : (
          <section aria-live="polite" class="sent">
            <h2>{done < sent.length ? `Reading ${done + 1} of ${sent.length} files` : `${sent.length === 1 ? "1 file" : `${sent.length} files`} read`}</h2>
            <progress max={sent.length} value={done} aria-label="Files read" />
            <ul>
              {sent.map((s, i) => (
                <li key={i}><b>{s.name}</b>: {s.state === "waiting" ? "waiting" : s.state === "reading" ? "reading …" : s.error !== "" ? s.error : s.results.map((r) => outcome(r)).join("; ")}</li>
              ))}
            </ul>
            {done === sent.length ? <button type="button" onClick={() => setSent([])}>Close this list</button> : null}
          </section>
        )}
      </div>
    </div>
  );
}

function outcome(f: AddedFile): string {
  const parts = (f.flights ?? []).map((a) => (a.known !== undefined && a.known !== "" ? `already there as ${a.flight.name} (${a.known})` : `${a.flight.name}: ${a.flight.verdict}, ${a.flight.line}`));
  if (f.error !== undefined && f.error !== "") parts.push(f.error);
  return parts.length === 0 ? "no flight in it" : parts.join("; ");
}
