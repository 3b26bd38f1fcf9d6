// The column beside the panels: values at the cursor, findings, decisions, trail.
import { useEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Decision, Finding, RecordItem, Ruling, Suggestion, Trail, VariableName } from "../api/types";
import type { Bench } from "../model/bench";
import { recordValue } from "../model/draft";
import { evidence, openFindings } from "../model/findings";
import { minute } from "../model/standing";
import { flagWord } from "../model/flags";
import { aroundStep, compareAddress } from "../model/versions";
import { aligned, clock, display, elapsed, format, nameOf, prose, show, unitText } from "../model/units";
import { Flag, Key, Pane, Severity } from "./parts";

const read: readonly (readonly [VariableName, string])[] = [
  ["pressure", "Pressure"], ["height_msl", "Height"], ["temperature", "Temperature"], ["dew_point", "Dew point"], ["humidity", "Humidity"], ["humidity_a", "sensor A"], ["humidity_b", "sensor B"],
  ["wind_speed", "Wind speed"], ["wind_direction", "Wind from"], ["ascent_rate", "Ascent rate"],
];

/** Value, uncertainty, flag and raw value of each variable at the cursor. */
const components: readonly (readonly [VariableName, string])[] = [["wind_u", "Wind u"], ["wind_v", "Wind v"]];

export function ValuesTable({ bench }: { readonly bench: Bench }) {
  const row = bench.cursor;
  const p = bench.profile;
  const known = (bench.components ? [...read, ...components] : read).filter(([v]) => p.get(v, "final") !== undefined || p.get(v, "raw") !== undefined);
  return (
    <section class="values" aria-label="Values at the cursor">
      <p class="where">
        {row === undefined ? <span class="quiet">Point at a panel, or press ↑ ↓, to read values.</span> : <>
          <b>{clock(p.instant(row))}</b> UTC <span class="quiet">{elapsed(p.time[row] as number)} after release, line {format(p.line[row] as number, 0)}</span>
        </>}
      </p>
      <table>
        <thead><tr><th scope="col" class="name">at the cursor</th><th scope="col">value</th><th scope="col">± u</th><th scope="col" class="unit">unit</th><th scope="col">raw</th><th scope="col" class="name">flag</th></tr></thead>
        <tbody>
          {known.map(([v, label]) => {
            const d = display(v);
            const at = (part: string): number | undefined => (row === undefined ? undefined : (p.get(v, part)?.[row] as number | undefined));
            const flag = row === undefined ? undefined : p.flags(v, "final")?.[row];
            return (
              <tr key={v}>
                <th scope="row">{label}</th>
                <td>{row === undefined ? "" : aligned(at("final"), d.decimals, 2)}</td>
                <td class="quiet">{row === undefined ? "" : aligned(at("u"), d.decimals, 2)}</td>
                <td class="unit">{d.unit}</td>
                <td class="quiet">{row === undefined ? "" : aligned(at("raw"), d.decimals, 2)}</td>
                <td class="name"><Flag word={flagWord(flag)} /></td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </section>
  );
}

const heights = (f: Finding): string => {
  if (f.bottom_m_msl === null || f.top_m_msl === null) return "";
  const km = (x: number): string => format(x / 1000, 2);
  return km(f.bottom_m_msl) === km(f.top_m_msl) ? `${km(f.bottom_m_msl)} km` : `${km(f.bottom_m_msl)}–${km(f.top_m_msl)} km`;
};

const sentence = (text: string): string => said(prose(text));
const said = (s: string): string => (s === "" ? s : s[0]?.toUpperCase() + s.slice(1) + (/[.!?]$/.test(s) ? "" : "."));

/** A simple error that would explain the findings. Nothing takes effect before a person stores it. */
function SuggestionItem({ s, from, keys, locked, label, unit, onTake }: { readonly s: Suggestion; readonly from: number; readonly keys: boolean; readonly locked: boolean; readonly label: Label; readonly unit: Label; readonly onTake: (d: Decision) => void }) {
  const number = (x: number | null): string => (x === null ? "–" : String(Number(x.toPrecision(3))).replace("-", "−"));
  return (
    <li class="suggestion">
      <p><b>{s.strength === "possible" ? "Possible" : s.strength === "likely" ? "Likely" : "Very likely"}</b>: {prose(s.sentence)}</p>
      <details>
        <summary>evidence</summary>
        <table><thead><tr><th scope="col" class="name">residual</th><th scope="col">now</th><th scope="col">then</th><th scope="col">usual</th></tr></thead>
          <tbody>{(s.evidence ?? []).map((e, i) => <tr key={i}><th scope="row">{e.residual}</th><td>{number(e.before)}</td><td>{number(e.after)}</td><td class="quiet">{number(e.usual)} {unitText(e.unit)}</td></tr>)}</tbody></table>
        {s.trial === undefined ? null : <p class="quiet">Tried: verdict {s.trial.verdict[0]} → {s.trial.verdict[1]}; {(s.trial.findings_gone ?? []).length} findings go, {(s.trial.findings_new ?? []).length} come.</p>}
        {s.rival === undefined || s.rival === "" ? null : <p class="quiet">Comes near: {s.rival.replaceAll("-", " ")}.</p>}
      </details>
      {locked ? null : <p class="finding-actions">{(s.decisions ?? []).map((d, i) => <button type="button" key={i} onClick={() => onTake(d)}>Look at: {orderWords({ ...d, ...(d.value === undefined ? {} : { value: recordValue(d.value, unit(d.field ?? "")) }) }, label)}{keys && from + i < 9 ? <> <Key>{from + i + 1}</Key></> : null}</button>)}</p>}
    </li>
  );
}

const stages: { readonly [stage: string]: string } = { ingest: "reading the source", raw: "values as received", corrected: "corrected values" };

export function FindingsPane({ bench, suggestions, onTake, onRule, onCorrect }: { readonly bench: Bench; readonly suggestions: readonly Suggestion[]; readonly onTake: (d: Decision) => void; readonly onRule: (action: "accept" | "dismiss") => void; readonly onCorrect: (path: string) => void }) {
  const list = useRef<HTMLOListElement>(null);
  const locked = bench.flight.sign_off.signature !== undefined;
  const label = labels(bench);
  const unit: Label = (path) => itemOf(bench, path)?.unit ?? "";
  useEffect(() => {
    const item = list.current?.querySelector('[aria-current="true"]');
    if (item instanceof HTMLElement && list.current !== null) {
      const l = list.current.parentElement as HTMLElement;
      if (item.offsetTop < l.scrollTop) l.scrollTop = item.offsetTop;
      else if (item.offsetTop + item.offsetHeight > l.scrollTop + l.clientHeight) l.scrollTop = item.offsetTop + item.offsetHeight - l.clientHeight;
    }
  }, [bench.selected]);
  if (bench.findings.length === 0) return <Pane name="findings"><p class="quiet">No check found anything. {(bench.flight.runs ?? []).filter((r) => !r.ran).length} checks could not run; the reasons stand under Checks below.</p></Pane>;
  return (
    <Pane name="findings">
      <p class="quiet">{openFindings(bench.flight.findings).length} open of {bench.findings.length}. <Key>n</Key> <Key>p</Key> <span class="no-print">next, previous.</span></p>
      {suggestions.length === 0 ? null : (
        <section aria-label="Suggestions">
          <h3>What would explain them</h3>
          <ul class="findings">{suggestions.map((s, i) => <SuggestionItem key={s.name + s.sentence} s={s} from={suggestions.slice(0, i).reduce((n, x) => n + (x.decisions ?? []).length, 0)} keys={bench.span === undefined} locked={locked} label={label} unit={unit} onTake={onTake} />)}</ul>
          <h3>Findings</h3>
        </section>
      )}
      <ol class="findings" ref={list}>
        {bench.findings.map((f) => {
          const here = f.id === bench.selected;
          // A check may speak of the values as received and again of the corrected ones.
          const stage = bench.findings.some((g) => g.check === f.check && g.variable === f.variable && g.stage !== f.stage) ? stages[f.stage] : undefined;
          // One cause may flag several variables in the same words.
          const about = bench.findings.some((g) => g.sentence === f.sentence && g.variable !== f.variable) ? nameOf(f.variable) : "";
          const where = [heights(f), evidence(f)].filter((x) => x !== "").join("; ");
          return (
            <li key={f.id} class={(f.state ?? "") === "" ? "" : "settled"} aria-current={here}>
              <button type="button" class="finding" onClick={() => bench.goTo(f.id)}>
                <span class="finding-top"><Severity word={f.severity} /> <span class="check">{f.check}{about === "" ? null : `, ${about}`}{stage === undefined ? null : `, ${stage}`}</span>{(f.state ?? "") === "" ? null : <em>{f.state}</em>}</span>
                <span class="sentence">{sentence(f.sentence)}</span>
                {here && where !== "" ? <span class="evidence">{where}{f.first_line > 0 ? `; lines ${f.first_line}–${f.last_line}` : ""}{f.first_utc === "" ? "" : `; from ${f.first_utc.slice(11, 19)} UTC`}</span> : null}
              </button>
              {here ? (
                <p class="finding-actions">
                  {(f.spans ?? []).length > 1 ? <span class="places"><button type="button" aria-label="Previous place" onClick={() => bench.nextPlace(-1)}>‹ <Key>[</Key></button> {bench.place === undefined ? `${(f.spans ?? []).length} places` : `place ${bench.place + 1} of ${(f.spans ?? []).length}`} <button type="button" aria-label="Next place" onClick={() => bench.nextPlace(1)}>› <Key>]</Key></button></span> : null}
                  {locked ? null : <><button type="button" onClick={() => onRule("accept")}>Accept <Key>Space</Key></button>
                  <button type="button" onClick={() => onRule("dismiss")}>Dismiss <Key>x</Key></button></>}
                  {locked || f.field === undefined || f.field === "" || itemOf(bench, f.field) === undefined ? null : <button type="button" onClick={() => onCorrect(f.field as string)}>Correct {label(f.field)}</button>}
                </p>
              ) : null}
            </li>
          );
        })}
      </ol>
    </Pane>
  );
}

const actionWords: { readonly [a: string]: string } = {
  exclude: "excluded", restore: "restored", flag: "flagged", "set-release": "set the release", "set-burst": "set the burst", "choose-sensor": "chose sensor",
  "correct-record": "corrected", "choose-sheet": "chose the instrument sheet", accept: "accepted", dismiss: "dismissed", note: "noted",
};

const orders: { readonly [a: string]: string } = {
  exclude: "exclude", restore: "restore", flag: "flag", "set-release": "set the release to", "set-burst": "set the burst to", "choose-sensor": "use sensor", "correct-record": "correct", "choose-sheet": "choose the instrument sheet", accept: "accept", dismiss: "dismiss", note: "note",
};

/** A decision as something to do. */
const orderWords = (d: Decision, label?: Label): string => decisionWords(d, orders, label);

/** The name of a launch-record item as people say it. */
type Label = (path: string) => string;
const itemOf = (bench: Bench, path: string): RecordItem | undefined => (bench.flight.record ?? []).find((i) => i.path === path);
const labels = (bench: Bench): Label => (path) => itemOf(bench, path)?.label ?? path;

export function decisionWords(d: Decision, verbs: { readonly [a: string]: string } = actionWords, label: Label = (path) => path): string {
  const what = [verbs[d.action] ?? d.action];
  if (d.variables !== undefined && d.variables !== null) what.push(d.variables.map((v) => (v === "wind_speed" ? "wind" : nameOf(v))).join(", "));
  // A finding is called by its check and, where it has one, its variable: the rest of its id is an instant.
  if (d.action === "accept" || d.action === "dismiss") what.push((d.field ?? "").split(".").slice(0, 2).filter((x) => x !== "none").join(", ").replaceAll("_", " "));
  else if (d.field !== undefined && d.field !== "" && d.action !== "choose-sheet") what.push(label(d.field));
  if (d.value !== undefined && d.value !== "") what.push(d.action === "flag" ? `as ${d.value}` : d.action === "correct-record" ? `to ${prose(d.value)}` : d.action === "choose-sensor" ? d.value.toUpperCase() : prose(d.value));
  if (d.from_utc !== undefined && d.to_utc !== undefined) what.push(`${d.from_utc.slice(11, 19)}–${d.to_utc.slice(11, 19)} UTC`);
  if (d.spans !== undefined) what.push(`in ${d.spans.length} spans`);
  return what.join(" ");
}

/** What a step has to do with a decision for many flights; "" where nothing. */
function groupNote(r: Ruling): string {
  const rule = r.about?.rule ?? "";
  if (r.kind === "decision" && (r.about?.group ?? "") !== "") return `Part of ${r.about?.group ?? ""}, one decision for many flights${rule === "" ? "" : `: ${rule.replaceAll("_", " ")}`}. Taken back here, it goes for this flight alone.`;
  return (r.group ?? "") === "" ? "" : `Together with the other flights of ${r.group ?? ""}.`;
}

/** A step of the history in words: who did what. */
export function stepWords(r: Ruling, label?: Label): string {
  const about = r.about === undefined ? (r.decision ?? "") : `${r.about.id}, ${decisionWords(r.about, orders, label)}`;
  switch (r.kind) {
    case "decision": return `${r.who} ${r.about === undefined ? "decided" : decisionWords(r.about, actionWords, label)}`;
    case "revocation": return `${r.who} took back ${about}`;
    case "undo": return `${r.who} undid ${about}`;
    case "redo": return `${r.who} put back ${about}`;
    case "signature": return `${r.who} signed the flight off`;
    case "reopening": return `${r.who} reopened the flight`;
  }
}

/** Every step of the flight's history, the newest first; what is in force can be taken back here. */
export function HistoryPane({ bench, onRevoke, onRedo }: { readonly bench: Bench; readonly onRevoke: (d: Decision) => void; readonly onRedo: (d: Decision) => void }) {
  const f = bench.flight;
  const locked = f.sign_off.signature !== undefined;
  const made = new Map((f.decisions ?? []).map((d) => [d.id, d]));
  const list = [...(f.history ?? [])].reverse();
  return (
    <Pane name="decisions">
      {list.length === 0 ? <p class="quiet">Nobody has ruled on this flight yet. Drag over a panel to select a span, or accept and dismiss findings.</p> : (
        <ol class="decisions" aria-label="History, newest first">
          {list.map((r) => {
            const d = r.kind === "decision" ? made.get(r.decision ?? "") : undefined;
            return (
              <li key={r.revision} class={d?.revoked === undefined ? "" : "settled"}>
                <p>{d === undefined ? null : <><b>{d.id}</b>{" "}</>}{stepWords(r, labels(bench))}</p>
                {r.reason === "" ? null : <p class="reason">{r.reason}</p>}
                {groupNote(r) === "" ? null : <p class="quiet">{groupNote(r)}</p>}
                {r.signature === undefined ? null : <p class="quiet">Verdict {r.signature.verdict}, {r.signature.open_findings} findings open, method set {r.signature.method_set}</p>}
                <p class="quiet">{r.when_utc === undefined ? "" : minute(r.when_utc)}{r.kind === "signature" || r.kind === "reopening" ? null : <> <a href={`#${compareAddress(aroundStep(f, r.revision))}`} aria-label={`Compare before and after ${d?.id ?? stepWords(r)}`}>before and after</a></>}</p>
                {d === undefined ? null : d.revoked === undefined ? (locked ? null : <button type="button" onClick={() => onRevoke(d)}>Take back{d.id === f.undo ? <> <Key>u</Key></> : null}</button>)
                  : <p>taken back by {d.revoked.who}: {d.revoked.reason} <span class="quiet">{minute(d.revoked.when_utc)}</span>{d.id === f.redo && !locked ? <> <button type="button" onClick={() => onRedo(d)}>Put back <Key>Shift+U</Key></button></> : null}</p>}
              </li>
            );
          })}
        </ol>
      )}
    </Pane>
  );
}

export function TrailPane({ bench, variable, onVariable }: { readonly bench: Bench; readonly variable: VariableName; readonly onVariable: (v: VariableName) => void }) {
  const [trail, setTrail] = useState<Trail>();
  const [failed, setFailed] = useState("");
  const row = bench.cursor;
  useEffect(() => {
    if (row === undefined) return undefined;
    let live = true;
    const wait = setTimeout(() => {
      client.trail(bench.flight.id, variable, bench.profile.time[row] as number).then(
        (t) => {
          if (!live) return;
          setTrail(t);
          setFailed("");
        },
        (e: unknown) => {
          if (!live) return;
          setTrail(undefined);
          setFailed(e instanceof Error ? e.message : String(e));
        },
      );
    }, 60);
    return () => {
      live = false;
      clearTimeout(wait);
    };
  }, [row, variable, bench.flight.revision]);
  const d = display(variable);
  const change = (x: number | null): string => (x === null ? "–" : (x > 0 ? "+" : "") + format(x, d.decimals));
  return (
    <Pane name="trail">
      <label>Variable{" "}
        <select value={variable} onChange={(e) => onVariable(e.currentTarget.value as VariableName)}>
          {(bench.flight.variables ?? []).map((v) => <option key={v.name} value={v.name}>{v.label}</option>)}
        </select>
      </label>
      {row === undefined ? <p class="quiet">Put the cursor on a sample, then its value is traced here from the source's line to the final value.</p> : null}
      {failed === "" ? null : <p role="alert">{failed}</p>}
      {trail === undefined || row === undefined ? null : (
        <div class="trail">
          <p><b>{trail.utc.slice(11, 23)}</b> UTC{trail.height_m_msl === null ? "" : `, ${format(trail.height_m_msl, 0)} m`}<br /><span class="quiet">{trail.source}, line {trail.line}</span></p>
          <table>
            <thead><tr><th scope="col" class="name">step</th><th scope="col">change</th><th scope="col">value</th><th scope="col">± u</th></tr></thead>
            <tbody>
              <tr><th scope="row">as received</th><td /><td>{show(variable, trail.raw)}</td><td /></tr>
              {(trail.steps ?? []).map((s, i) => (
                <tr key={i}><th scope="row">{s.method}<small>{prose(s.note)}</small></th><td>{change(s.change)}</td><td>{show(variable, s.value)}</td><td class="quiet">{format(s.u, d.decimals)}</td></tr>
              ))}
              <tr class="total"><th scope="row">final</th><td /><td>{show(variable, trail.final)} {d.unit}</td><td class="quiet">{format(trail.u, d.decimals)}</td></tr>
            </tbody>
          </table>
          <p>Uncertainty (k = 1): {format(trail.u_independent, d.decimals + 1)} independent, {format(trail.u_common, d.decimals + 1)} common to the flight, {d.unit}.</p>
          <p><Flag word={trail.flag_word.replace("_", " ")} />{(trail.checks ?? []).length > 0 ? ` by ${(trail.checks ?? []).join(", ")}` : ""}{(trail.passed ?? []).length > 0 ? <span class="quiet">; passed {(trail.passed ?? []).join(", ")}</span> : null}</p>
          {(trail.findings ?? []).map((f) => <p key={f.id}><Severity word={f.severity} /> {prose(f.sentence)}</p>)}
          {(trail.decisions ?? []).map((x) => <p key={x.id}>{x.id}: {x.who} {decisionWords(x)}: {x.reason}</p>)}
          {(trail.not_run ?? []).length === 0 ? null : <details><summary>{(trail.not_run ?? []).length} checks could not run</summary><ul>{(trail.not_run ?? []).map((r) => <li key={r.check}>{r.check}: {r.why}</li>)}</ul></details>}
          <p class="quiet">Method set {trail.method_set}</p>
        </div>
      )}
    </Pane>
  );
}
