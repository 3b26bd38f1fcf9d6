// Settings and instrument sheets with where each value comes from, and what other settings
// would change before any of it is stored.
import { useEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Effect, Group, Row, RowEffect, Setting, SettingsFile, SheetName, SheetText } from "../api/types";
import * as server from "../api/versions";
import { effectParts } from "../model/group";
import { format } from "../model/units";
import { compareAddress, withSettings } from "../model/versions";
import { Progress, Refused, Said, useEffects, useStoring } from "./group";
import { useKeys } from "./keys";
import { Choice, Key, Verdict } from "./parts";
import { rememberReason, rememberWho, who } from "./remember";

/** Settings files that were read, the last one last: the Compare screen knows them, too. */
export const atHand: { files: readonly SettingsFile[] } = { files: [] };

/** A file of the same name takes the place of the one before. */
export function keepAtHand(f: SettingsFile): readonly SettingsFile[] {
  atHand.files = [...atHand.files.filter((x) => x.name !== f.name), f];
  return atHand.files;
}

const said = (e: unknown): string => (e instanceof Error ? e.message : String(e));

/** What has every word searched for in its name, value, unit, origin or source. */
const found = (list: readonly Setting[], words: readonly string[]): readonly Setting[] =>
  list.filter((s) => words.every((w) => `${s.key} ${s.key.replaceAll("_", " ")} ${s.value} ${s.unit} ${s.from} ${s.source}`.toLowerCase().includes(w)));

export function SettingsScreen({ rows }: { readonly rows: readonly Row[] }) {
  const [list, setList] = useState<readonly Setting[]>();
  const [failed, setFailed] = useState("");
  const [text, setText] = useState("");
  const search = useRef<HTMLInputElement>(null);
  useEffect(() => {
    client.settings().then(setList, (e: unknown) => setFailed(said(e)));
  }, []);
  useKeys({ "/": () => search.current?.focus() });
  const words = text.toLowerCase().split(/\s+/).filter((x) => x !== "");
  const shown = found(list ?? [], words);
  return (
    <div class="settings">
      <h1>Settings and instrument sheets</h1>
      {failed === "" ? null : <p class="notice" role="alert">{failed}</p>}
      <OtherSettings rows={rows} />
      <AnotherVersion rows={rows} />
      <section aria-label="Shipped settings">
        <h2>Settings</h2>
        <p>What flights are processed with unless a settings file was given with them or chosen since; the flight's own screen shows those in force for it.</p>
        <p><label>Search <input type="search" ref={search} value={text} placeholder="spike, wind filter, proposal" onInput={(e) => setText(e.currentTarget.value)} /></label> <Key>/</Key> {list === undefined ? null : <span class="quiet" role="status">{shown.length} of {list.length}</span>}</p>
        {list === undefined ? (failed === "" ? <p class="waiting">Reading the settings …</p> : null) : <SettingsTable list={shown} />}
      </section>
      <Sheets words={words} onClear={() => setText("")} onFailed={setFailed} />
    </div>
  );
}

/** Values with unit, what stands beside each, and where it comes from; a head for each part. */
export function SettingsTable({ list }: { readonly list: readonly Setting[] }) {
  const groups: (readonly [string, Setting[]])[] = [];
  for (const s of list) {
    const part = s.key.split(".").slice(0, -1).join(".");
    if (groups.at(-1)?.[0] !== part) groups.push([part, []]);
    groups.at(-1)?.[1].push(s);
  }
  if (list.length === 0) return <p class="quiet">Nothing is called so.</p>;
  return (
    <table class="facts values-of">
      <thead><tr><th scope="col">setting</th><th scope="col">value</th><th scope="col">unit</th><th scope="col">from</th><th scope="col">what it does, and its source</th></tr></thead>
      {groups.map(([part, of]) => (
        <tbody key={part}>
          <tr class="part"><th scope="rowgroup" colSpan={5}>{part === "" ? "general" : part}</th></tr>
          {of.map((s) => (
            <tr key={s.key} class={s.from !== "shipped" && s.default !== "" && s.value !== s.default ? "other" : ""}>
              <th scope="row" title={s.key}>{s.key.split(".").at(-1)}</th><td class="free value">{s.value}{s.default === "" || s.value === s.default ? "" : ` (shipped ${s.default})`}</td><td class="unit">{s.unit}</td><td>{s.from}</td><td class="free quiet">{s.source}</td>
            </tr>
          ))}
        </tbody>
      ))}
    </table>
  );
}

function Sheets({ words, onClear, onFailed }: { readonly words: readonly string[]; readonly onClear: () => void; readonly onFailed: (s: string) => void }) {
  const [sheets, setSheets] = useState<readonly SheetName[]>([]);
  const [sheet, setSheet] = useState<SheetText>();
  const [as, setAs] = useState<"values" | "text">("values");
  useEffect(() => {
    client.sheets().then(setSheets, (e: unknown) => onFailed(said(e)));
  }, []);
  const show = (name: string): void => void client.sheet(name).then(setSheet, (e: unknown) => onFailed(said(e)));
  return (
    <section aria-label="Instrument sheets">
      <h2>Instrument sheets that ship</h2>
      <p>{sheets.map((s) => <button type="button" key={s.name} aria-pressed={sheet?.name === s.name} onClick={() => show(s.name)}>{s.name}</button>)}</p>
      {sheet === undefined ? <p class="quiet">Choose one to read it with the source of each number. The sheet a flight is processed with stands on its own screen, below the panels.</p> : <>
        {words.length === 0 || as === "text" ? null : <p class="quiet" role="status">{found(sheet.values ?? [], words).length} of {(sheet.values ?? []).length} of this sheet have what is searched for above. <button type="button" class="link" onClick={onClear}>Show the whole sheet</button></p>}
        <SheetValues sheet={{ ...sheet, values: [...found(sheet.values ?? [], words)] }} as={as} onAs={setAs} />
      </>}
    </section>
  );
}

export function SheetValues({ sheet, as, onAs }: { readonly sheet: SheetText; readonly as: "values" | "text"; readonly onAs: (v: "values" | "text") => void }) {
  return (
    <>
      <p>{sheet.title} <Choice label="Shown as" value={as} options={[["values", "values"], ["text", "text of the file"]]} onChoose={onAs} /></p>
      {as === "values" ? <SettingsTable list={sheet.values ?? []} /> : <pre class="text" tabIndex={0} aria-label={`Sheet ${sheet.name}`}>{sheet.text}</pre>}
    </>
  );
}

/** A settings file: the flights whose results would change, and applying it. */
function OtherSettings({ rows }: { readonly rows: readonly Row[] }) {
  const [file, setFileState] = useState<SettingsFile | undefined>(atHand.files.at(-1));
  const [typing, setTyping] = useState<string>(); // the text being edited
  const [explained, setExplained] = useState<readonly Setting[]>();
  const [failed, setFailed] = useState("");
  const [site, setSite] = useState("");
  const [only, setOnly] = useState(true);
  const [reason, setReason] = useState("");
  const [name, setName] = useState(who());
  const [stored, setStored] = useState<Group>();
  const [over, setOver] = useState(false);
  const effects = useEffects();
  const storing = useStoring();
  const sites = [...new Set(rows.map((r) => r.site))].filter((s) => s !== "").sort();
  const chosen = site === "" ? rows : rows.filter((r) => r.site === site);
  const shipped = file?.text === "";
  const take = async (f: SettingsFile): Promise<void> => {
    effects.clear();
    storing.clear();
    setStored(undefined);
    try {
      setExplained(f.text === "" ? [] : await server.explainSettings(f));
      setFailed("");
      setFileState(f);
      if (f.text !== "") keepAtHand(f);
    } catch (e) {
      setFailed(`${said(e)}. Nothing was computed.`);
      setFileState(undefined);
    }
  };
  useEffect(() => {
    if (file !== undefined && explained === undefined) void take(file);
  }, []);
  const read = async (f: File | undefined): Promise<void> => {
    if (f === undefined) return;
    if (f.size > 1_000_000) setFailed(`${f.name} has ${format(f.size, 0)} bytes: that is no settings file.`);
    else await take({ name: f.name, text: await f.text() });
  };
  const edit = (): void => {
    if (file !== undefined && !shipped) setTyping(file.text);
    else server.settingsText().then((t) => setTyping(t.text), (e: unknown) => setFailed(said(e)));
  };
  const proposal = (): { action: "choose-settings"; settings: { name: string; text: string }; reason: string; who: string } =>
    ({ action: "choose-settings", settings: shipped ? { name: "shipped", text: "" } : { name: file?.name ?? "", text: file?.text ?? "" }, reason, who: name });
  const start = (): void => {
    setStored(undefined);
    storing.clear();
    effects.start((signal, onEffect) => client.groupEffects({ flights: chosen.map((r) => r.id), proposal: proposal() }, signal, onEffect));
  };
  const all = [...effects.run.effects.values()];
  const can = all.filter((e) => e.effect !== "cannot");
  const store = (without: ReadonlySet<string> = new Set()): void => {
    const flights = can.filter((e) => !without.has(e.flight)).map((e) => ({ flight: e.flight, revision: e.revision }));
    rememberReason(reason);
    rememberWho(name);
    storing.go((signal, onDone) => client.storeGroup({ flights, proposal: proposal() }, signal, onDone), (g) => {
      setStored(g);
      effects.clear();
    });
  };
  const other = (explained ?? []).filter((s) => s.from !== "shipped" && s.value !== s.default);
  const listed = all.filter((e) => !only || e.effect !== "no effect");
  return (
    <section aria-label="Other settings" class={over ? "drop-here over" : "drop-here"}
      onDragOver={(e) => { e.preventDefault(); setOver(true); }} onDragLeave={() => setOver(false)}
      onDrop={(e) => { e.preventDefault(); setOver(false); void read(e.dataTransfer?.files[0]); }}>
      <h2>What would other settings change?</h2>
      <p>Choose or drop a settings file, or write one; every flight is then computed with it beside its own. Nothing is stored until you say so.</p>
      <p class="buttons">
        <label class="file">Settings file <input type="file" accept=".toml,text/plain" onClick={(e) => { e.currentTarget.value = ""; }} onChange={(e) => void read(e.currentTarget.files?.[0])} /></label>
        <button type="button" aria-expanded={typing !== undefined} onClick={() => (typing === undefined ? edit() : setTyping(undefined))}>{typing === undefined ? "Write it here" : "Close the text"}</button>
        <button type="button" onClick={() => void take({ name: "shipped", text: "" })}>The shipped settings</button>
      </p>
      {typing === undefined ? null : (
        <div class="typing">
          <label>Text of the file; what you leave out stays as it ships <textarea spellcheck={false} rows={14} value={typing} onInput={(e) => setTyping(e.currentTarget.value)} /></label>
          <button type="button" class="main" onClick={() => void take({ name: file === undefined || shipped ? "edited.toml" : file.name, text: typing })}>Take this text</button>
        </div>
      )}
      {failed === "" ? null : <p class="failed" role="alert">{failed}</p>}
      {file === undefined ? null : <>
        <p><b>{shipped ? "The shipped settings" : file.name}</b>{shipped ? "" : other.length === 0 ? " says nothing else than what ships." : `: ${other.length} ${other.length === 1 ? "value differs" : "values differ"} from what ships.`}</p>
        {other.length === 0 || shipped ? null : <details><summary>{other.slice(0, 3).map((s) => `${s.key} ${s.value} (shipped ${s.default})`).join("; ")}{other.length > 3 ? " …" : ""}</summary><SettingsTable list={other} /></details>}
        <p class="buttons">
          <label>Flights <select value={site} disabled={effects.run.state === "running"} onChange={(e) => { setSite(e.currentTarget.value); effects.clear(); }}><option value="">all {rows.length}</option>{sites.map((s) => <option key={s} value={s}>of {s}</option>)}</select></label>
          <button type="button" class="main" disabled={chosen.length === 0 || effects.run.state === "running"} onClick={start}>List what changes</button>
        </p>
      </>}
      {rows.length === 0 ? <p class="quiet">The logbook is empty: there is no flight to compute.</p> : null}
      <Progress run={effects.run} total={chosen.length} onStop={effects.stop} taken="stored" />
      {all.length === 0 ? null : <>
        <p><label><input type="checkbox" checked={only} onChange={() => setOnly(!only)} /> leave out flights without effect</label></p>
        <EffectList effects={listed} file={file} />
      </>}
      {effects.run.state !== "done" || can.length === 0 ? null : (
        <form class="decide apply" onSubmit={(e) => { e.preventDefault(); if (reason.trim() !== "" && name.trim() !== "") store(); }}>
          <h3>Process {can.length === 1 ? "this flight" : `these ${can.length} flights`} with {shipped ? "the shipped settings" : file?.name} from now on</h3>
          <p class="quiet">One decision for all of them: the settings before stay in the logbook, and it can be taken back, on one flight or on all (u in the logbook). Flights without effect take it, too, so that all have one method set.</p>
          <Said reason={reason} onReason={setReason} name={name} onName={setName} />
          {storing.at === undefined ? null : <p><progress max={can.length} value={storing.at} aria-label="Flights stored" /> <button type="button" onClick={storing.stop}>Stop</button></p>}
          {storing.failed === "" ? null : <p class="failed" role="alert">{storing.failed}</p>}
          {storing.refused.length === 0 ? null : <Refused list={storing.refused} rows={rows} onWithout={() => store(new Set(storing.refused.map((f) => f.flight)))} onAgain={start} />}
          <p class="buttons"><button type="submit" class="main" disabled={storing.at !== undefined || reason.trim() === "" || name.trim() === ""}>Store for {can.length} {can.length === 1 ? "flight" : "flights"}</button></p>
        </form>
      )}
      {stored === undefined ? null : <p class="said" role="status">Stored as {stored.id} for {new Set((stored.parts ?? []).map((p) => p.flight)).size} flights. To take it back: the logbook, u, {stored.id}.</p>}
    </section>
  );
}

const most = 500; // lines before one asks for more

function EffectList({ effects, file }: { readonly effects: readonly Effect[]; readonly file: SettingsFile | undefined }) {
  const [all, setAll] = useState(false);
  const shown = all ? effects : effects.slice(0, most);
  const version = (id: string): string => withSettings(id, file ?? { name: "", text: "" });
  return (
    <>
      <table class="facts effects">
        <thead><tr><th scope="col">flight</th><th scope="col">verdict</th><th scope="col">what changes</th><th scope="col">method set then, now</th><th scope="col"><span class="hidden-text">compare</span></th></tr></thead>
        <tbody>
          {shown.map((e) => (
            <tr key={e.flight} class={e.effect === "changes" ? "" : "not"}>
              <th scope="row"><a href={`#/flight/${encodeURIComponent(e.flight)}`}>{e.name === "" ? `flight ${e.flight}` : e.name}</a></th>
              <td class="verdicts">{e.verdict[0] === e.verdict[1] ? <Verdict word={e.verdict[1]} /> : <><Verdict word={e.verdict[0]} /> → <Verdict word={e.verdict[1]} /></>}</td>
              <td class="free">{(e.signed ?? "") === "" ? null : <b>Signed off by {e.signed}: stays as it is unless it is reopened. </b>}{effectParts(e).join("; ") || ((e.signed ?? "") !== "" || e.effect !== "cannot" ? "nothing but the method set" : e.why)}{e.verdict[0] === e.verdict[1] || e.line[1] === "" ? null : <small> {e.line[1]}</small>}</td>
              <td class="hash">{e.method_set[0]}{e.method_set[0] === e.method_set[1] ? "" : <> → {e.method_set[1]}</>}</td>
              <td>{e.method_set[0] === e.method_set[1] ? null : <a href={`#${compareAddress([e.flight, version(e.flight)])}`} aria-label={`Compare ${e.name} with both settings`}>compare</a>}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {shown.length === effects.length ? null : <p>{effects.length - shown.length} more flights are computed and counted above. <button type="button" onClick={() => setAll(true)}>List them too</button></p>}
    </>
  );
}

/** Lines of the logbook that another version of the program made. */
function AnotherVersion({ rows }: { readonly rows: readonly Row[] }) {
  const [effects, setEffects] = useState<readonly RowEffect[]>([]);
  const [state, setState] = useState<"no" | "running" | "done" | "stopped">("no");
  const [kept, setKept] = useState(0);
  const [failed, setFailed] = useState("");
  const control = useRef<AbortController | undefined>(undefined);
  useEffect(() => () => control.current?.abort(), []);
  const old = rows.filter((r) => (r.method_set_now ?? "") !== "");
  const run = (keep: boolean): void => {
    const mine = new AbortController();
    control.current = mine;
    const got: RowEffect[] = [];
    let shownAt = performance.now();
    setState("running");
    setFailed("");
    setKept(0);
    server.today(old.map((r) => r.id), keep, mine.signal, (e) => {
      got.push(e);
      if (performance.now() - shownAt > 150) {
        shownAt = performance.now();
        setEffects([...got]);
      }
    }).then(() => {
      setEffects([...got]);
      setState("done");
      if (keep) setKept(got.length);
    }, (e: unknown) => {
      setEffects([...got]);
      setState("stopped");
      if (!mine.signal.aborted) setFailed(said(e));
    });
  };
  if (old.length === 0 && effects.length === 0) return null;
  const changed = effects.filter((e) => e.effect === "changes").length;
  return (
    <section aria-label="Computed by another version">
      <h2>Computed under another method set</h2>
      {kept > 0 ? <p role="status" class="said">The lines of {kept} flights were made anew.</p> : <p>{old.length} {old.length === 1 ? "flight was" : "flights were"} last computed under another method set than the one that holds today: the program was upgraded. Their lines in the logbook say what they were then; opened, they are computed by today's methods.</p>}
      <p class="buttons">
        <button type="button" disabled={state === "running" || old.length === 0} onClick={() => run(false)}>List what changes</button>
        <button type="button" disabled={state === "running" || old.length === 0} onClick={() => run(true)}>Make their lines anew</button>
        {state === "running" ? <><progress max={old.length} value={effects.length} aria-label="Flights computed" /> <button type="button" onClick={() => control.current?.abort()}>Stop</button></> : null}
      </p>
      {failed === "" ? null : <p class="failed" role="alert">{failed}</p>}
      {effects.length === 0 ? null : <>
        <p>{changed} of {effects.length} change. The older values are not kept: changes of temperature and humidity are those on the sixty heights of the sketches.</p>
        <table class="facts effects">
          <thead><tr><th scope="col">flight</th><th scope="col">verdict</th><th scope="col">open findings</th><th scope="col">temperature <small>K</small></th><th scope="col">humidity <small>%</small></th><th scope="col">method set then, now</th></tr></thead>
          <tbody>{effects.slice(0, most).map((e) => (
            <tr key={e.flight} class={e.effect === "changes" ? "" : "not"}>
              <th scope="row"><a href={`#/flight/${encodeURIComponent(e.flight)}`}>{e.name}</a>{(e.signed ?? "") === "" ? null : <small> signed off by {e.signed}</small>}</th>
              <td class="verdicts">{e.verdict[0] === e.verdict[1] ? <Verdict word={e.verdict[1]} /> : <><Verdict word={e.verdict[0]} /> → <Verdict word={e.verdict[1]} /></>}</td>
              <td>{e.open[0] === e.open[1] ? e.open[1] : `${e.open[0]} → ${e.open[1]}`}</td><td>{format(e.temperature_k, 1)}</td><td>{format(e.humidity_pct, 1)}</td><td class="hash">{e.method_set[0]} → {e.method_set[1]}{e.why === undefined ? "" : `: ${e.why}`}</td>
            </tr>
          ))}</tbody>
        </table>
      </>}
    </section>
  );
}
