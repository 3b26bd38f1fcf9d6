// Below the panels: levels, launch record, checks, corrections, sources.
import { useEffect, useState } from "preact/hooks";
import * as client from "../api/client";
import * as server from "../api/versions";
import type { Indices, Level, LevelSet, Product, SettingsInForce, SheetText, VariableName } from "../api/types";
import type { Bench } from "../model/bench";
import { handedOver } from "../model/standing";
import { format, nameOf, unitText } from "../model/units";
import { Flag, Pane, Tabs } from "./parts";
import { RecoveryPane } from "./recovery";
import { SettingsTable, SheetValues } from "./settings";
import { flagWord } from "../model/flags";

type Below = "levels" | "indices" | "handover" | "record" | "recovery" | "checks" | "corrections" | "sources" | "settings";

export function BelowPanels({ bench, onCorrect }: { readonly bench: Bench; readonly onCorrect: (path: string) => void }) {
  const [tab, setTab] = useState<Below>("levels");
  return (
    <section class="below" aria-label="Tables of the flight">
      <Tabs label="Tables" value={tab} onChoose={setTab} options={[["levels", "Levels"], ["indices", "Indices"], ["record", "Launch record"], ["recovery", "Recovery"], ["checks", "Checks"], ["corrections", "Corrections"], ["sources", "Sources"], ["settings", "Settings"], ["handover", "Hand over"]]} />
      {tab === "levels" ? <Levels bench={bench} /> : tab === "indices" ? <IndexTable bench={bench} /> : tab === "handover" ? <HandOver bench={bench} /> : tab === "record" ? <RecordTable bench={bench} onCorrect={onCorrect} /> : tab === "recovery" ? <Pane name="recovery"><RecoveryPane id={bench.flight.id} revision={bench.flight.revision} /></Pane> : tab === "checks" ? <Checks bench={bench} /> : tab === "corrections" ? <Corrections bench={bench} /> : tab === "sources" ? <Sources bench={bench} /> : <InForce id={bench.flight.id} revision={bench.flight.revision} />}
    </section>
  );
}

const profileWords: Readonly<Record<string, string>> = { ascent: "ascent", descent: "descent", nominal: "nominal hour", merged: "ascent and descent merged" };

/** Which profile of the flight the numbers below are of, and how it was made. */
function ProfileChoice({ bench, value, note, onChoose }: { readonly bench: Bench; readonly value: string; readonly note: string | undefined; readonly onChoose: (profile: string) => void }) {
  const list = bench.flight.profiles ?? ["ascent"];
  return (
    <p><label>profile <select value={value} onChange={(e) => onChoose(e.currentTarget.value)}>{list.map((k) => <option key={k} value={k}>{profileWords[k] ?? k}</option>)}</select></label>
      {note === undefined || note === "" ? null : <span class="quiet"> {note}</span>}</p>
  );
}

/** The levels of a profile: the flight's own for the ascent, asked for otherwise. */
function useLevels(bench: Bench, profile: string): LevelSet | string | undefined {
  const [other, setOther] = useState<LevelSet | string>();
  useEffect(() => {
    let live = true;
    setOther(undefined);
    if (profile !== "ascent") client.levels(bench.flight.id, profile).then((x) => {
      if (live) setOther(x);
    }, (e: unknown) => {
      if (live) setOther(e instanceof Error ? e.message : String(e));
    });
    return () => {
      live = false;
    };
  }, [bench.flight.id, bench.flight.revision, profile]);
  return profile === "ascent" ? bench.flight.levels : other;
}

function Levels({ bench }: { readonly bench: Bench }) {
  const [all, setAll] = useState(false);
  const [profile, setProfile] = useState("ascent");
  const set = useLevels(bench, profile);
  const choice = <ProfileChoice bench={bench} value={profile} note={typeof set === "object" ? set.profile_note : undefined} onChoose={setProfile} />;
  if (typeof set !== "object") return <Pane name="levels">{choice}{set === undefined ? <p class="waiting">Reading the levels …</p> : <p role="alert">The levels could not be read: {set}</p>}</Pane>;
  const list = set.levels ?? [];
  const main = list.filter((l) => (l.kinds ?? []).some((k) => !k.startsWith("significant") && !k.startsWith("missing") && k !== "top of wind"));
  const c = (k: number | null): string => (k === null ? "–" : format(k - 273.15, 1));
  const goTo = (l: Level): void => {
    if (l.time_s === null) return;
    let best = 0, off = Infinity;
    for (let i = 0; i < bench.profile.rows; i++) {
      const d = Math.abs((bench.profile.time[i] as number) - l.time_s);
      if (d < off) { off = d; best = i; }
    }
    const at = bench.along()[best] as number;
    const half = Math.min(bench.hi - bench.lo, (bench.whole()[1] - bench.whole()[0]) / 8) / 2;
    bench.show(at - half, at + half);
    bench.point(best);
  };
  return (
    <Pane name="levels">
      {choice}
      <p>{set.tropopause_note} <label><input type="checkbox" checked={all} onChange={() => setAll(!all)} /> significant levels too ({list.length})</label></p>
      <table class="facts levels">
        <thead><tr><th scope="col" class="name">level, {profileWords[set.profile] ?? set.profile}</th><th scope="col">p <small>hPa</small></th><th scope="col">geopotential <small>gpm</small></th><th scope="col">height <small>m</small></th><th scope="col">T <small>°C</small></th><th scope="col">± u</th><th scope="col">T<sub>d</sub> <small>°C</small></th><th scope="col">U <small>%</small></th><th scope="col">± u</th><th scope="col">wind from <small>°</small></th><th scope="col">speed <small>m/s</small></th><th scope="col">± u</th><th scope="col" class="name">flag</th></tr></thead>
        <tbody>
          {(all ? list : main).map((l, i) => (
            <tr key={i}>
              <th scope="row"><button type="button" class="link" onClick={() => goTo(l)}>{kindWords(l)}</button></th>
              <td>{format(l.pressure_hpa, 1)}</td><td>{format(l.geopotential_height_gpm, 0)}</td><td>{format(l.height_m_msl, 0)}</td>
              <td>{c(l.temperature_k)}</td><td class="quiet">{format(l.temperature_u_k, 2)}</td><td>{c(l.dew_point_k)}</td>
              <td>{format(l.humidity_pct, 0)}</td><td class="quiet">{format(l.humidity_u_pct, 1)}</td>
              <td>{format(l.wind_direction_deg, 0)}</td><td>{format(l.wind_speed_m_s, 1)}</td><td class="quiet">{format(l.wind_u_total_m_s, 1)}</td>
              <td class="name"><Flag word={flagWord(l.flag)} /></td>
            </tr>
          ))}
        </tbody>
      </table>
      {list.length === 0 ? <p class="quiet">There is no level: the flight has no {profileWords[set.profile] ?? set.profile} with a usable pressure.</p> : null}
    </Pane>
  );
}

/** What forecasters read off the flight, each with its uncertainty and convention, or why there is none. */
function IndexTable({ bench }: { readonly bench: Bench }) {
  const [indices, setIndices] = useState<Indices>();
  const [failed, setFailed] = useState("");
  const [profile, setProfile] = useState("ascent");
  useEffect(() => {
    let live = true;
    setIndices(undefined);
    setFailed("");
    client.indices(bench.flight.id, true, profile).then((x) => {
      if (live) setIndices(x);
    }, (e: unknown) => {
      if (live) setFailed(e instanceof Error ? e.message : String(e));
    });
    return () => {
      live = false;
    };
  }, [bench.flight.id, bench.flight.revision, profile]);
  const choice = <ProfileChoice bench={bench} value={profile} note={indices?.set.profile_note} onChoose={setProfile} />;
  if (failed !== "") return <Pane name="indices">{choice}<p role="alert">The indices could not be computed: {failed}</p></Pane>;
  if (indices === undefined) return <Pane name="indices">{choice}<p class="waiting">Computing the indices …</p></Pane>;
  const s = indices.set;
  const number = (x: number | null): string => (x === null ? "–" : x !== 0 && Math.abs(x) < 0.005 ? x.toPrecision(2).replace("-", "−") : format(x, Math.abs(x) >= 100 ? 0 : Math.abs(x) >= 10 ? 1 : 2));
  return (
    <Pane name="indices">
      {choice}
      <p class="quiet">From {profileWords[s.profile] ?? s.profile}, {s.samples} samples; saturation by {s.saturation}; uncertainty (k = 1) and 95 % range from {s.members} members. {(s.notes ?? []).join(" ")}</p>
      <table class="facts">
        <thead><tr><th scope="col">index, {profileWords[s.profile] ?? s.profile}</th><th scope="col">value</th><th scope="col">± u</th><th scope="col">95 %</th><th scope="col">unit</th><th scope="col">convention, or why there is none</th></tr></thead>
        <tbody>
          {(s.indices ?? []).map((i) => (
            <tr key={i.name} class={i.value === null ? "absent" : ""}>
              <th scope="row">{i.label}</th><td class="number right">{number(i.value)}</td><td class="number right quiet">{number(i.u)}</td>
              <td class="number quiet">{i.low_95 === null || i.high_95 === null ? "" : `${number(i.low_95)} to ${number(i.high_95)}`}</td><td class="unit">{unitText(i.unit)}</td>
              <td class="free quiet">{i.refusal !== undefined && i.refusal !== "" ? i.refusal : [i.convention, i.note ?? ""].filter((x) => x !== "").join("; ")}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Pane>
  );
}

/** Files of the flight as it stands, decisions included. */
function HandOver({ bench }: { readonly bench: Bench }) {
  const [list, setList] = useState<readonly Product[]>();
  const [failed, setFailed] = useState("");
  const [profile, setProfile] = useState("ascent");
  useEffect(() => {
    client.products().then(setList, (e: unknown) => setFailed(String(e)));
  }, []);
  return (
    <Pane name="handover">
      {failed === "" ? null : <p role="alert">{failed}</p>}
      <p>Each file holds the flight as it stands now, at revision {bench.flight.revision}, with every flag, correction and decision. {handedOver(bench.flight)}</p>
      <ProfileChoice bench={bench} value={profile} note={profile === "ascent" ? undefined : "files of this profile alone; the others hold the whole flight, descent included"} onChoose={setProfile} />
      <table class="facts"><tbody>{(list ?? []).filter((p) => profile === "ascent" || !p.whole).map((p) => <tr key={p.format}><th scope="row"><a href={client.productPath(bench.flight.id, p.format, profile)} download>{p.format}</a></th><td class="free">{p.about}</td></tr>)}</tbody></table>
    </Pane>
  );
}

/** What a level is, significant ones in one word: "tropopause; significant in temperature, wind". */
function kindWords(l: Level): string {
  const kinds = l.kinds ?? [];
  const plain = kinds.filter((k) => !k.startsWith("significant "));
  const significant = kinds.filter((k) => k.startsWith("significant ")).map((k) => k.slice(12));
  return [plain.join(", "), significant.length === 0 ? "" : `significant in ${significant.join(", ")}`].filter((x) => x !== "").join("; ");
}

/** The launch list as it was ticked before the release. */
function Ticks({ bench }: { readonly bench: Bench }) {
  const list = bench.flight.ticks ?? [];
  if (list.length === 0) return null;
  return (
    <>
      <h3>Launch list as ticked</h3>
      <table class="facts ticks">
        <thead><tr><th scope="col">UTC</th><th scope="col">by</th><th scope="col">step</th><th scope="col">note</th></tr></thead>
        <tbody>{list.map((t) => <tr key={t.step}><th scope="row">{t.at_utc.startsWith("0001") ? "" : t.at_utc.slice(0, 19).replace("T", " ")}</th><td>{t.who}</td><td class="free">{t.text ?? t.step}</td><td class="free">{t.note ?? ""}</td></tr>)}</tbody>
      </table>
    </>
  );
}

function RecordTable({ bench, onCorrect }: { readonly bench: Bench; readonly onCorrect: (path: string) => void }) {
  return (
    <Pane name="record">
      <table class="facts">
        <thead><tr><th scope="col">item</th><th scope="col">value</th><th scope="col">unit</th><th scope="col">as given</th><th scope="col"><span class="hidden-text">correct</span></th></tr></thead>
        <tbody>
          {(bench.flight.record ?? []).map((i) => (
            <tr key={i.path} class={i.value === "" ? "absent" : ""}>
              <th scope="row">{i.label}</th><td class="free">{i.value === "" ? "not given" : i.value}</td><td class="unit">{i.unit}</td>
              <td class="quiet free">{i.given === i.value ? "" : i.given === "" ? (i.value === "" ? "" : "from the source") : i.given}</td>
              <td><button type="button" class="link" disabled={bench.flight.sign_off.signature !== undefined} aria-label={`Correct ${i.label}`} onClick={() => onCorrect(i.path)}>correct</button></td>
            </tr>
          ))}
        </tbody>
      </table>
      <Ticks bench={bench} />
    </Pane>
  );
}

function Checks({ bench }: { readonly bench: Bench }) {
  const runs = bench.flight.runs ?? [];
  const not = runs.filter((r) => !r.ran);
  const ran = new Map<string, string[]>();
  for (const r of runs) if (r.ran) ran.set(r.check, [...(ran.get(r.check) ?? []), ...(ran.get(r.check)?.includes(r.variable) === true ? [] : [r.variable])]);
  return (
    <Pane name="checks">
      <table class="facts">
        <thead><tr><th scope="col">flags over the ascent</th><th scope="col">good</th><th scope="col">not evaluated</th><th scope="col">questionable</th><th scope="col">bad</th><th scope="col">missing</th><th scope="col">rows</th></tr></thead>
        <tbody>{(bench.flight.tallies ?? []).map((t) => <tr key={t.variable}><th scope="row">{nameOf(t.variable)}</th>{[t.good, t.not_evaluated, t.questionable, t.bad, t.missing, t.rows].map((n, i) => <td class="number" key={i}>{format(n, 0)}</td>)}</tr>)}</tbody>
      </table>
      <h3>Could not run</h3>
      {not.length === 0 ? <p class="quiet">Every check ran.</p> : <table class="facts"><tbody>{not.map((r, i) => <tr key={i}><th scope="row">{r.check}</th><td>{nameOf(r.variable)}</td><td class="free">{r.why}</td></tr>)}</tbody></table>}
      <h3>Ran</h3>
      <table class="facts"><tbody>{[...ran].map(([check, list]) => <tr key={check}><th scope="row">{check}</th><td class="free">{list.map((v) => nameOf(v as VariableName)).join(", ")}</td></tr>)}</tbody></table>
    </Pane>
  );
}

function Corrections({ bench }: { readonly bench: Bench }) {
  return (
    <Pane name="corrections">
      <p class="quiet">In the order they were made, by sheet {bench.flight.sheet.name === "" ? "(none known)" : bench.flight.sheet.name}, method set {bench.flight.method_set}.</p>
      <table class="facts">
        <thead><tr><th scope="col">variable</th><th scope="col">method</th><th scope="col">kind</th><th scope="col">what was done</th><th scope="col">coefficients</th></tr></thead>
        <tbody>{(bench.flight.steps ?? []).map((s, i) => (
          <tr key={i}><th scope="row">{nameOf(s.variable)}</th><td>{s.method}</td><td>{s.kind}</td><td class="free">{s.note}</td>
            <td class="free quiet">{(s.coefficients ?? []).map((c) => `${c.name.replaceAll("_", " ")} ${c.value === null ? "–" : Number(c.value.toPrecision(5))} ${c.unit} (${c.source})`).join("; ")}</td></tr>
        ))}</tbody>
      </table>
    </Pane>
  );
}

function Sources({ bench }: { readonly bench: Bench }) {
  return (
    <Pane name="sources">
      <table class="facts">
        <thead><tr><th scope="col">source</th><th scope="col">bytes</th><th scope="col">rows</th><th scope="col">unread</th><th scope="col">recipe</th><th scope="col">SHA-256</th><th scope="col"><span class="hidden-text">download</span></th></tr></thead>
        <tbody>{(bench.flight.sources ?? []).map((s) => (
          <tr key={s.sha256}><th scope="row" class="free">{s.name}</th><td class="number">{format(s.bytes, 0)}</td><td class="number">{format(s.rows, 0)}</td><td class="number">{format(s.unread, 0)}</td><td class="free">{s.recipe}</td><td class="free quiet hash">{s.sha256}</td>
            <td><a href={client.sourcePath(bench.flight.id, s.sha256)} download>as received</a></td></tr>
        ))}</tbody>
      </table>
    </Pane>
  );
}

function InForce({ id, revision }: { readonly id: string; readonly revision: number }) {
  const [list, setList] = useState<SettingsInForce>();
  const [failed, setFailed] = useState("");
  useEffect(() => {
    client.flightSettings(id).then(setList, (e: unknown) => setFailed(String(e)));
  }, [id, revision]);
  return <Pane name="settings">{failed !== "" ? <p role="alert">{failed}</p> : list === undefined ? <p class="waiting">Reading the settings …</p> : <><h3>Instrument sheet</h3><SheetInForce id={id} revision={revision} /><h3>Settings</h3><p>In force: {list.from}. <a href="#/settings">What would others change?</a></p><SettingsTable list={list.values ?? []} /></>}</Pane>;
}

function SheetInForce({ id, revision }: { readonly id: string; readonly revision: number }) {
  const [sheet, setSheet] = useState<SheetText>();
  const [failed, setFailed] = useState("");
  const [as, setAs] = useState<"values" | "text">("values");
  useEffect(() => {
    server.flightSheet(id).then(setSheet, (e: unknown) => setFailed(e instanceof Error ? e.message : String(e)));
  }, [id, revision]);
  if (failed !== "") return <p role="alert">{failed}</p>;
  if (sheet === undefined) return <p class="waiting">Reading the sheet …</p>;
  if (sheet.name === "") return <p class="quiet">No instrument sheet is known for this flight.</p>;
  return <details><summary>{sheet.name}, {sheet.from}</summary><SheetValues sheet={sheet} as={as} onAs={setAs} /></details>;
}
