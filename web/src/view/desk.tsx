// The launch desk: one column in the order of the work, nothing in the way.
import type { ComponentChildren } from "preact";
import { useCallback, useEffect, useMemo, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Desk, DeskStart, Done, PlannedValue, Remark, Row, Sheet, StockItem } from "../api/types";
import {
  blockOf, blocks, contact, draftOf, emptyDraft, fieldsOf, inWords, nextDraft, nominalHours, pathOf, planText, remarksFor, requestOf, ruling, secondCheck, stamp, statusOf,
  type BlockName, type Draft, type Entries, type Field, type Status,
} from "../model/plan";
import { format } from "../model/units";
import { DriftMap } from "./driftmap";
import { highContrast, keepContrast, keepDrafts, loadDrafts } from "./drafts";
import { useKeys } from "./keys";
import { Label } from "./label";
import { RecoveryOverview } from "./recovery";
import { contact as rememberedContact, rememberContact, rememberWho, who as remembered } from "./remember";

const clockOf = (utc: string): string => utc.slice(11, 16);
const dayClock = (utc: string): string => utc.slice(0, 16).replace("T", " ");
const planned = (v: PlannedValue, decimals: number, by = 1): string =>
  `${format(v.value === null ? null : v.value * by, decimals)} ± ${format(v.u === null ? null : v.u * by, decimals)}`;

const statusWords: { readonly [s in Status]: string } = { done: "done", open: "open", warning: "look", stop: "stop" };

function StatusMark({ status }: { readonly status: Status }) {
  return (
    <span class={`desk-status status-${status}`}>
      <svg class="shape" viewBox="0 0 14 14" aria-hidden="true">
        {status === "done" ? <path d="M2 7.5 5.5 11 12 3" /> : status === "open" ? <circle cx="7" cy="7" r="5" /> : status === "warning" ? <path d="M7 2 12.5 12H1.5Z" /> : <path d="M2.5 2.5 11.5 11.5M11.5 2.5 2.5 11.5" />}
      </svg>
      {statusWords[status]}
    </span>
  );
}

function Remarks({ list }: { readonly list: readonly Remark[] }) {
  if (list.length === 0) return null;
  return (
    <ul class="desk-remarks">
      {list.map((r, i) => <li key={i} class={`remark-${r.level}`}><b>{r.level === "warning" ? "look" : r.level}</b> {inWords(r.text)}</li>)}
    </ul>
  );
}

function save(name: string, blob: Blob): void {
  const a = document.createElement("a");
  a.href = URL.createObjectURL(blob);
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 10000);
}

export function DeskScreen({ rows }: { readonly rows: readonly Row[] }) {
  const [drafts, setDrafts] = useState(loadDrafts);
  const [kept, setKept] = useState(true);
  const [start, setStart] = useState<DeskStart>();
  const [answer, setAnswer] = useState<{ readonly of: string; readonly desk: Desk }>();
  const [refused, setRefused] = useState("");
  const [said, setSaid] = useState("");
  const [who, setWho] = useState(remembered());
  const [leaving, setLeaving] = useState(false); // asked to delete the draft
  const [high, setHigh] = useState(highContrast());
  const draft = drafts.all[drafts.current] ?? emptyDraft;
  const desk = answer?.of === drafts.current ? answer.desk : undefined; // never the numbers of another preparation
  const plan = useMemo(() => planText(draft), [draft]);
  const site = draft.fields["site.name"] ?? "";
  const drag = useMemo(() => rows.filter((r) => site !== "" && r.site === site).slice(0, 20).map((r) => r.id), [rows, site]);

  const change = useCallback((make: (d: Draft) => Draft): void => {
    setDrafts((all) => ({ ...all, all: { ...all.all, [all.current]: make(all.all[all.current] ?? emptyDraft) } }));
  }, []);
  const set = useCallback((path: string, text: string): void => {
    if (path.startsWith("contact.")) rememberContact({ ...rememberedContact(), [path.slice(8)]: text });
    change((d) => ({ ...d, fields: { ...d.fields, [path]: text } }));
  }, []);

  useEffect(() => setKept(keepDrafts(drafts)), [drafts]);
  useEffect(() => {
    client.desk().then(setStart, (e: unknown) => setSaid(e instanceof Error ? inWords(e.message) : String(e)));
  }, []);
  useEffect(() => {
    document.documentElement.dataset["contrast"] = high ? "high" : "";
    keepContrast(high);
    return () => {
      delete document.documentElement.dataset["contrast"];
    };
  }, [high]);
  useEffect(() => {
    const stop = new AbortController();
    const timer = setTimeout(() => {
      client.prepare(requestOf(draft, plan, drag), stop.signal).then((d) => {
        setAnswer({ of: drafts.current, desk: d });
        setRefused("");
      }, (e: unknown) => {
        if (!stop.signal.aborted) setRefused(e instanceof Error ? e.message : String(e));
      });
    }, 250);
    return () => {
      clearTimeout(timer);
      stop.abort();
    };
  }, [drafts.current, draft, plan, drag]);

  const wrongPath = refused === "" ? "" : pathOf(refused, plan);
  const wrong: BlockName | undefined = wrongPath === "" ? undefined : blockOf(wrongPath);
  const status = (b: BlockName): Status => statusOf(b, draft, desk, wrong);
  const sheet = desk?.sheet ?? undefined;

  const visit = (by: 1 | -1): void => {
    const names = blocks.map(([b]) => b);
    const at = names.findIndex((b) => document.getElementById(`desk-${b}`)?.contains(document.activeElement) === true);
    for (let i = 1; i <= names.length; i++) {
      const b = names[(Math.max(at, by > 0 ? -1 : 0) + by * i + 2 * names.length) % names.length] as BlockName;
      if (status(b) === "done") continue;
      const section = document.getElementById(`desk-${b}`);
      section?.scrollIntoView({ block: "start" });
      section?.focus({ preventScroll: true });
      return;
    }
  };
  useKeys({ n: () => visit(1), p: () => visit(-1) });

  const openPlan = async (name: string, text: string): Promise<void> => {
    try {
      const taken = await client.openPlan({ name, text });
      change((d) => draftOf(taken, d));
      setSaid((taken.files ?? []).length === 0 ? `${name} is taken.` : `${name} is taken. It names ${(taken.files ?? []).join(", ")}: choose these files below, the browser does not open them by itself.`);
    } catch (e) {
      setSaid(e instanceof Error ? inWords(e.message) : String(e));
    }
  };
  const fetchFile = async (what: string): Promise<void> => {
    try {
      const f = await client.deskFile(what, requestOf(draft, plan, drag));
      save(f.name, f.blob);
      setSaid(`${f.name} is handed over.`);
    } catch (e) {
      setSaid(e instanceof Error ? inWords(e.message) : String(e));
    }
  };
  const freeName = (begin: string): string => {
    let n = 1;
    while (`${begin} ${n}` in drafts.all) n++;
    return `${begin} ${n}`;
  };
  const begin = (d: Draft): void => {
    const name = freeName("release");
    setDrafts({ current: name, all: { ...drafts.all, [name]: d } });
    setSaid(`${name} is begun.`);
  };
  const remove = (): void => {
    const { [drafts.current]: _, ...rest } = drafts.all;
    const names = Object.keys(rest);
    setDrafts(names.length === 0 ? { current: "release 1", all: { "release 1": emptyDraft } } : { current: names[0] as string, all: rest });
    setLeaving(false);
  };

  /** Enter goes on to the next field: one hand, no keyboard with Tab. */
  const onEnter = (e: KeyboardEvent): void => {
    if (e.key !== "Enter" || !(e.target instanceof HTMLInputElement) || e.target.type !== "text") return;
    e.preventDefault();
    const all = [...document.querySelectorAll<HTMLElement>(".desk input[type=text], .desk select")];
    all[all.indexOf(e.target) + 1]?.focus();
  };

  const input = (x: Field) => <Entry key={x.path} field={x} text={draft.fields[x.path] ?? ""} wrong={x.path === wrongPath} onText={set} />;
  const block = (b: BlockName, children: ComponentChildren) => {
    const i = blocks.findIndex(([n]) => n === b);
    return (
      <section class="block" id={`desk-${b}`} aria-labelledby={`desk-${b}-title`} tabIndex={-1}>
        <header><h2 id={`desk-${b}-title`}>{i + 1} {blocks[i]?.[1]}</h2><StatusMark status={status(b)} /></header>
        {wrong === b ? <p class="desk-refused" role="alert">{inWords(refused)}</p> : null}
        {fieldsOf[b].length === 0 ? null : <div class="fields">{fieldsOf[b].map(input)}</div>}
        {children}
        <Remarks list={[...remarksFor(b, desk?.missing).map((r) => (r.level === "stop" ? r : { ...r, level: "wanted" })), ...remarksFor(b, sheet?.remarks)]} />
      </section>
    );
  };
  const now = (path: string, label: string) => <button type="button" onClick={() => set(path, stamp(new Date()))}>{label}</button>;

  return (
    <div class="desk" onKeyDown={onEnter}>
      <div class="desk-head">
        <h1>Launch desk</h1>
        <label class="field"><span>Preparation</span>
          <select value={drafts.current} onChange={(e) => setDrafts({ ...drafts, current: e.currentTarget.value })}>
            {Object.keys(drafts.all).map((name) => <option key={name} value={name}>{name}{(drafts.all[name]?.fields["release.nominal_utc"] ?? "") === "" ? "" : ` · ${drafts.all[name]?.fields["site.name"] ?? ""} ${drafts.all[name]?.fields["release.nominal_utc"]}`}</option>)}
          </select>
        </label>
        <div class="buttons">
          <button type="button" onClick={() => begin(nextDraft(draft))}>Next release here</button>
          <button type="button" onClick={() => begin(emptyDraft)}>Empty one</button>
          <label class="button">Open a plan<input type="file" class="hidden" accept=".toml,.json,.txt" onChange={(e) => {
            const file = e.currentTarget.files?.[0];
            if (file !== undefined) void file.text().then((t) => openPlan(file.name, t));
            e.currentTarget.value = "";
          }} /></label>
          {Object.keys(draft.fields).length > 0 || start === undefined ? null : <button type="button" onClick={() => void openPlan("the example", start.example)}>Example of an invented place</button>}
          {leaving ? <><button type="button" onClick={remove}>Yes, delete {drafts.current}</button><button type="button" onClick={() => setLeaving(false)}>Keep it</button></> : <button type="button" onClick={() => setLeaving(true)}>Delete</button>}
          <button type="button" class="toggle" aria-pressed={high} onClick={() => setHigh(!high)}>High contrast</button>
        </div>
        <p class="quiet">Kept in this browser only, under this name. The airspace authority, the rules of the site and trained practice go before this screen.</p>
        {kept ? null : <p class="notice" role="alert">This browser keeps nothing: hand over the launch record before the page is closed.</p>}
        <p class="said" role="status">{said}</p>
        {refused !== "" && wrong === undefined ? <p class="desk-refused" role="alert">{inWords(refused)}</p> : null}
        <nav class="desk-steps" aria-label="Order of the work">
          {blocks.map(([b, title]) => (
            <a key={b} href={`#desk-${b}`} onClick={(e) => {
              e.preventDefault();
              document.getElementById(`desk-${b}`)?.scrollIntoView({ block: "start" });
              document.getElementById(`desk-${b}`)?.focus({ preventScroll: true });
            }}>{title} <StatusMark status={status(b)} /></a>
          ))}
        </nav>
      </div>

      {block("slot", <>
        <div class="buttons">{nominalHours(new Date()).map((t) => <button type="button" key={t} onClick={() => set("release.nominal_utc", t)}>{t.slice(11, 13)} UTC {t.slice(5, 10)}</button>)}</div>
        {sheet === undefined || sheet.slot.nominal_utc.startsWith("0001") ? null : (
          <p class="answer">Release <b>{clockOf(sheet.slot.earliest_utc)}–{clockOf(sheet.slot.latest_utc)} UTC</b>, best <b>{dayClock(sheet.slot.best_utc)} UTC</b> <small>{sheet.slot.local_best} {sheet.time_zone}</small>
            {desk?.placed === true ? <>; Sun {format(sheet.slot.sun_elevation_deg, 1)}° then</> : null}</p>
        )}
        {(sheet?.extra_slots ?? []).length === 0 ? null : <ul class="check-lines">{(sheet?.extra_slots ?? []).map((x) => <li key={x.nominal_utc}>Extra release {dayClock(x.nominal_utc)} UTC: window {clockOf(x.earliest_utc)}–{clockOf(x.latest_utc)} UTC, best {clockOf(x.best_utc)} <small>{x.local_best}</small></li>)}</ul>}
      </>)}

      {block("place", null)}

      {block("fill", <>
        <p class="caution">Hydrogen burns almost unseen and gathers under the roof; helium suffocates in a closed room. Cylinders chained, regulator free of grease, eye and hand protection, earthed. Site rules and trained practice go first.</p>
        <RowList name="payload.package" title="Things tied on, one by one (instead of the sum above)" columns={[["name", "name"], ["mass_kg", "kg"], ["smallest_face_cm2", "smallest face cm²"]]} draft={draft} onChange={change} />
        <RowList name="cylinder" title="Cylinders" columns={[["name", "name"], ["gas", "gas"], ["water_volume_l", "water volume l"], ["gauge_pressure", "gauge, as 180 bar"], ["temperature", "temperature, as 14 °C"], ["count", "how many"], ["read_utc", "gauge read at, UTC"]]} draft={draft} onChange={change} />
        <RowList name="stock" title="Stock" columns={[["name", "name"], ["had", "counted"], ["counted_utc", "counted at, UTC"], ["used", "lost or failed since"], ["per_release", "per release"]]} draft={draft} onChange={change} />
        {(draft.lists["stock"] ?? []).length > 0 ? <p class="quiet">Flights of {site === "" ? "the site" : site} in the logbook are counted down by themselves from the instant of the count on. A gauge's reading likewise.</p> : (
          <div class="buttons"><button type="button" onClick={() => change((d) => ({ ...d, lists: { ...d.lists, stock: ["radiosondes", "balloons", "strings"].map((name) => ({ name, counted_utc: stamp(new Date()).slice(0, 16), per_release: "1" })) } }))}>Count radiosondes, balloons and strings</button></div>
        )}
        {drag.length === 0 ? null : <label class="check"><input type="checkbox" checked={draft.drag} onChange={(e) => { const on = e.currentTarget.checked; change((d) => ({ ...d, drag: on })); }} /> fit drag to the {drag.length} flights of {site} in the logbook</label>}
        {sheet?.fill ? <Fill sheet={sheet} /> : <p class="waits">The fill waits for: {(desk?.missing ?? []).map((m) => inWords(m.text)).join("; ") || "the plan"}.</p>}
      </>)}

      {block("drift", <>
        <div class="fields">
          <label class="field"><span>Wind from a flight of the logbook</span>
            <select value={draft.windFlight} onChange={(e) => { const id = e.currentTarget.value; change((d) => ({ ...d, windFlight: id })); }}>
              <option value="">none</option>
              {rows.slice(0, 200).map((r) => <option key={r.id} value={r.id}>{r.site} {dayClock(r.release_utc ?? r.nominal_utc ?? "")}</option>)}
            </select>
          </label>
          <FileField label="Wind profile, such as a forecast" path="wind.profile" draft={draft} onChange={change} />
          <FileField label="Keep-out areas and lines (GeoJSON)" path="areas.files" draft={draft} onChange={change} />
        </div>
        {sheet?.drift && desk?.chart ? <>
          <DriftMap chart={desk.chart} words={`Map of the predicted flight, north up: landing ${format(sheet.drift.landing_distance_m / 1000, 1)} km towards ${format(sheet.drift.landing_bearing_deg, 0)}°`} />
          <p class="answer">Landing about <b>{format(sheet.drift.landing_distance_m / 1000, 1)} km towards {format(sheet.drift.landing_bearing_deg, 0).padStart(3, "0")}°</b> at {format(sheet.drift.landing.latitude_deg, 4)}°, {format(sheet.drift.landing.longitude_deg, 4)}°, after {planned(sheet.drift.landing_time_s, 0, 1 / 60)} min.
            {" "}68 % land within {format(sheet.drift.ellipse.major_68_m / 1000, 1)} × {format(sheet.drift.ellipse.minor_68_m / 1000, 1)} km, 95 % within {format(sheet.drift.ellipse.major_95_m / 1000, 1)} × {format(sheet.drift.ellipse.minor_95_m / 1000, 1)} km half-axes. Wind: {sheet.drift.wind}.</p>
          {(sheet.areas ?? []).map((w, i) => <p key={i}>{w.words}</p>)}
        </> : <p class="waits">The drift waits for the fill.</p>}
        {sheet === undefined ? null : <>
          {sheet.airspace.icao_class === "" ? null : <p>ICAO class <b>{sheet.airspace.icao_class}</b>: {sheet.airspace.because}.</p>}
          <p class="caution">{sheet.airspace.defer}</p>
        </>}
      </>)}

      {block("check", <>
        <div class="fields"><label class="field"><span>Instrument sheet</span>
          <select value={draft.fields["radiosonde.sheet"] ?? ""} onChange={(e) => set("radiosonde.sheet", e.currentTarget.value)}>
            <option value="">not said</option>{(start?.sheets ?? []).map((s) => <option key={s} value={s}>{s}</option>)}
          </select></label></div>
        <div class="buttons">{now("ground_check.time_utc", "Compared now")}</div>
        <details><summary>Second comparison, nearer to the release</summary><div class="fields">{secondCheck.map(input)}</div></details>
        {(sheet?.ground_check.lines ?? []).length === 0 ? null : <>
          <p class="answer"><b>{sheet?.ground_check.word}</b>: {sheet?.ground_check.reason}</p>
          {(sheet?.ground_check.drift ?? []).map((d) => <p key={d}>{d}</p>)}
          <ul class="check-lines">{(sheet?.ground_check.lines ?? []).map((l) => <li key={l.quantity}>{l.text}: <b>{l.word}</b></li>)}</ul>
        </>}
        <div class="fields">{ruling.map((x) => <Entry key={x.path} field={x} text={draft.fields[x.path] ?? ""} wrong={x.path === wrongPath} onText={(path, text) => {
          set(path, text);
          if (path === "ground_check.ruling" && text !== "" && (draft.fields["ground_check.ruled_by"] ?? "") === "" && who !== "") set("ground_check.ruled_by", who);
        }} />)}</div>
        {sheet === undefined || sheet.ground_check.ruling === "" ? null : <p class="answer">In force: <b>{sheet.ground_check.in_force}</b>. The ruling travels with the launch record, with what the comparison said.</p>}
      </>)}

      {block("surface", <>
        <p class="quiet">Read at the release point, not at the hut.</p>
        <div class="buttons">{now("surface.time_utc", "Read now")}</div>
      </>)}

      {block("list", <>
        <p class="caution">These cautions are the usual ones and no substitute: airspace authority, site rules and trained practice go before this list.</p>
        <div class="fields">
          <label class="field"><span>Who ticks</span><input type="text" id="desk-who" value={who} onInput={(e) => { setWho(e.currentTarget.value); rememberWho(e.currentTarget.value); }} /></label>
          <FileField label="The site's own list (TOML)" path="launch_list" draft={draft} onChange={change} />
        </div>
        <ul class="launch-list">
          {(sheet?.launch_list ?? []).map((s) => <ListEntry key={s.id} step={s} note={(draft.lists["tick"] ?? []).find((t) => t["step"] === s.id)?.["note"] ?? ""} onNote={(note) => {
            change((d) => ({ ...d, lists: { ...d.lists, tick: (d.lists["tick"] ?? []).map((t) => (t["step"] === s.id ? { ...t, note } : t)) } }));
          }} onTick={(on) => {
            if (on && who.trim() === "") {
              setSaid("A tick carries a name: write it at “Who ticks” first.");
              document.getElementById("desk-who")?.focus();
              return;
            }
            change((d) => ({ ...d, lists: { ...d.lists, tick: [...(d.lists["tick"] ?? []).filter((t) => t["step"] !== s.id), ...(on ? [{ step: s.id, at_utc: new Date().toISOString().slice(0, 19) + "Z", who: who.trim() }] : [])] } }));
          }} />)}
        </ul>
        <p class="said" role="status">{said.startsWith("A tick") ? said : ""}</p>
      </>)}

      {block("release", <>
        <p class="caution">Nothing above or downwind, aircraft looked and listened for, the authority's answer in hand; on any doubt, wait.</p>
        <div class="buttons"><button type="button" class="main" onClick={() => set("release.declared_utc", stamp(new Date()))}>Released now</button></div>
        <p class="quiet">By the clock of this device, to the second; the flight itself tells the true instant later.</p>
        <h3>Hand over</h3>
        <div class="buttons">
          {([["record", "Launch record (TOML)"], ["pdf", "Launch sheet (PDF)"], ["html", "Launch sheet (page)"], ["geojson", "Track (GeoJSON)"], ["kml", "Track (KML)"], ["label", "Finder's label"]] as const).map(([what, label]) => (
            <button type="button" key={what} disabled={refused !== "" || desk === undefined || (what !== "record" && (desk.missing ?? []).length + (sheet?.fill ? 0 : 1) > 0)} onClick={() => void fetchFile(what)}>{label}</button>
          ))}
        </div>
        <details><summary>Finder's label: contact of the site</summary><div class="fields">{contact.map(input)}</div><Label text={sheet?.label ?? ""} /></details>
        <RecoveryOverview rows={rows} />
        <details><summary>The plan as text</summary><pre class="text" tabIndex={0} aria-label="Text of the plan">{plan.text}</pre></details>
      </>)}
    </div>
  );
}

function Entry({ field, text, wrong, onText }: { readonly field: Field; readonly text: string; readonly wrong: boolean; readonly onText: (path: string, text: string) => void }) {
  const id = `desk-field-${field.path}`;
  if (field.options !== undefined) {
    return (
      <div class={`field choice-field${field.options.length > 2 ? " wide" : ""}`} role="group" aria-labelledby={id}>
        <span id={id}>{field.label}</span>
        <span class="options">{field.options.map(([v, word]) => <button type="button" key={v} aria-pressed={v === text} onClick={() => onText(field.path, v === text ? "" : v)}>{word}</button>)}</span>
      </div>
    );
  }
  return (
    <label class="field">
      <span>{field.label} {field.unit === undefined || field.unit === "" ? null : <small>{field.unit}</small>}</span>
      <input type="text" name={field.path} value={text} placeholder={field.sample ?? ""} autocomplete="off" spellcheck={false} enterkeyhint="next" {...(wrong ? { "aria-invalid": "true" as const } : {})}
        onInput={(e) => onText(field.path, e.currentTarget.value)} />
    </label>
  );
}

function FileField({ label, path, draft, onChange }: { readonly label: string; readonly path: string; readonly draft: Draft; readonly onChange: (make: (d: Draft) => Draft) => void }) {
  const name = draft.fields[path] ?? "";
  const input = useRef<HTMLInputElement>(null);
  const [wrong, setWrong] = useState("");
  const take = async (file: File): Promise<void> => {
    if (file.size > 2 << 20) {
      setWrong(`${file.name} is larger than 2 MB`);
      return;
    }
    const text = await file.text();
    const plain = file.name.replaceAll(",", " ");
    setWrong("");
    onChange((d) => ({ ...d, fields: { ...d.fields, [path]: plain }, files: [...d.files.filter((x) => x.name !== plain), { name: plain, text }], windFlight: path === "wind.profile" ? "" : d.windFlight }));
  };
  return (
    <div class="field file-field">
      <span>{label}</span>
      <span class="options">
        <label class="button">{name === "" ? "Choose a file" : name}<input ref={input} type="file" class="hidden" aria-label={label} onChange={(e) => {
          const file = e.currentTarget.files?.[0];
          if (file !== undefined) void take(file);
          e.currentTarget.value = "";
        }} /></label>
        {name === "" ? null : <button type="button" onClick={() => onChange((d) => ({ ...d, fields: { ...d.fields, [path]: "" }, files: d.files.filter((x) => !name.split(", ").includes(x.name)) }))}>Without it</button>}
      </span>
      {wrong === "" ? null : <small role="alert">{wrong}</small>}
    </div>
  );
}

function RowList({ name, title, columns, draft, onChange }: {
  readonly name: string; readonly title: string; readonly columns: readonly (readonly [string, string])[]; readonly draft: Draft; readonly onChange: (make: (d: Draft) => Draft) => void;
}) {
  const rows = draft.lists[name] ?? [];
  const put = (next: readonly Entries[]): void => onChange((d) => ({ ...d, lists: { ...d.lists, [name]: next } }));
  return (
    <details open={rows.length > 0}>
      <summary>{title}{rows.length === 0 ? "" : ` · ${rows.length}`}</summary>
      {rows.map((row, i) => (
        <div class="fields row-fields" key={i}>
          {columns.map(([key, label]) => (
            <label class="field" key={key}><span>{label}</span><input type="text" value={row[key] ?? ""} autocomplete="off" enterkeyhint="next" onInput={(e) => { const text = e.currentTarget.value; put(rows.map((r, j) => (j === i ? { ...r, [key]: text } : r))); }} /></label>
          ))}
          <button type="button" onClick={() => put(rows.filter((_, j) => j !== i))} aria-label={`Take out ${row["name"] ?? `row ${i + 1}`}`}>Take out</button>
        </div>
      ))}
      <button type="button" onClick={() => put([...rows, {}])}>One more</button>
    </details>
  );
}

function Fill({ sheet }: { readonly sheet: Sheet }) {
  const f = sheet.fill;
  if (f === null) return null;
  return (
    <div class="fill-answer">
      <p class="lift">Fill to a nozzle lift of <b>{planned(f.nozzle_lift_kg, 0, 1000)} g</b></p>
      <dl>
        <div><dt>gas</dt><dd>{f.gas} {planned(f.volume_m3, 3)} m³, {planned(f.gas_mass_kg, 3)} kg</dd></div>
        <div><dt>free lift</dt><dd>{planned(f.free_lift_kg, 0, 1000)} g</dd></div>
        <div><dt>diameter</dt><dd>{planned(f.diameter_m, 2)} m at release, {planned(f.burst_diameter_m, 2)} m at burst</dd></div>
        <div><dt>rate of climb</dt><dd>{planned(f.release_rate_m_s, 2)} m/s at release, {planned(f.mean_rate_m_s, 2)} m/s on average</dd></div>
        <div><dt>burst</dt><dd>{planned(f.burst_height_m_msl, 1, 0.001)} km, {planned(f.burst_pressure_hpa, 1)} hPa, after {planned(f.burst_time_s, 0, 1 / 60)} min</dd></div>
        {sheet.gas_store === undefined ? null : <div><dt>gas store</dt><dd>{sheet.gas_store.fills_left} fills left in {sheet.gas_store.cylinders} cylinders, {sheet.gas_store.fills_needed} needed</dd></div>}
        {(sheet.stock ?? []).map((s) => <div key={s.name}><dt>{s.name}</dt><dd>{stockWords(s)}</dd></div>)}
      </dl>
    </div>
  );
}

function stockWords(s: StockItem): string {
  const left = `${s.had - s.used - s.flown} left`;
  if (s.counted_utc === undefined) return `${s.used} used, ${left}`;
  return `${s.flown} flown since ${dayClock(s.counted_utc)} UTC, ${s.used === 0 ? "" : `${s.used} lost or failed, `}${left}`;
}

const whens: { readonly [w: string]: string } = { before: "before", fill: "while filling", release: "at the release", after: "after it" };

function ListEntry({ step, note, onTick, onNote }: { readonly step: Done; readonly note: string; readonly onTick: (on: boolean) => void; readonly onNote: (text: string) => void }) {
  const on = step.tick !== undefined;
  return (
    <li>
      <button type="button" role="checkbox" aria-checked={on} class="tick" onClick={() => onTick(!on)}>
        <svg class="shape" viewBox="0 0 20 20" aria-hidden="true"><rect x="1.5" y="1.5" width="17" height="17" />{on ? <path d="M4.5 10.5 8.5 15 16 4.5" /> : null}</svg>
        <span class="tick-text">{step.text}{step.tick === undefined ? null : <b class="ticked"> {step.tick.at_utc.slice(11, 19)} UTC {step.tick.who}</b>}
          {step.caution === undefined ? null : <span class="step-caution">{step.caution}</span>}</span>
        <small>{whens[step.when] ?? step.when}</small>
      </button>
      {on ? <label class="field tick-note"><span>Note</span><input type="text" name={`note.${step.id}`} value={note} autocomplete="off" enterkeyhint="next" onInput={(e) => onNote(e.currentTarget.value)} /></label> : null}
    </li>
  );
}
