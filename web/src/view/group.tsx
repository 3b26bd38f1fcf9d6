// One decision for many flights: what is proposed, its effect on each, store; and taking one back.
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Effect, Group, GroupChoices, GroupRefusal, Row, VariableName } from "../api/types";
import { byPart, effectParts, emptyDraft, groupWords, inForce, missing, proposalOf, rangesOf, refusalWords, ruledName, ruledOn, sumOf, type GroupDraft, type Kind, type TypedRange } from "../model/group";
import { nameOf } from "../model/units";
import { useKeys } from "./keys";
import { Choice, Key, Verdict } from "./parts";
import { reasons, rememberReason, rememberWho, who } from "./remember";

const aborted = (e: unknown): boolean => e instanceof DOMException && e.name === "AbortError";
const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));

/** Effects as they come in, shown a few times a second. */
interface Running {
  readonly effects: ReadonlyMap<string, Effect>;
  readonly state: "no" | "running" | "done" | "stopped";
  readonly failed: string;
}

const idle: Running = { effects: new Map(), state: "no", failed: "" };

export function useEffects(): { readonly run: Running; readonly start: (go: (signal: AbortSignal, onEffect: (e: Effect) => void) => Promise<void>) => void; readonly stop: () => void; readonly clear: () => void } {
  const [run, setRun] = useState<Running>(idle);
  const control = useRef<AbortController | undefined>(undefined);
  const stop = (): void => control.current?.abort();
  useEffect(() => stop, []);
  return {
    run,
    stop,
    clear: () => {
      stop();
      setRun(idle);
    },
    start: (go) => {
      stop();
      const mine = new AbortController();
      control.current = mine;
      const effects = new Map<string, Effect>();
      let shownAt = performance.now();
      const show = (state: Running["state"], failed = ""): void => {
        if (control.current === mine) setRun({ effects: new Map(effects), state, failed });
      };
      show("running");
      go(mine.signal, (e) => {
        effects.set(e.flight, e);
        if (performance.now() - shownAt > 150) {
          shownAt = performance.now();
          show("running");
        }
      }).then(() => show("done"), (e: unknown) => show("stopped", aborted(e) ? "" : words(e)));
    },
  };
}

const listed = 500; // lines before one asks for more

/** One line a flight: verdict, effect, and whether it takes part. */
function EffectsTable({ rows, run, out, onOut, locked }: { readonly rows: readonly Row[]; readonly run: Running; readonly out: ReadonlySet<string>; readonly onOut?: (id: string) => void; readonly locked: boolean }) {
  const [all, setAll] = useState(false);
  const shown = all ? rows : rows.slice(0, listed);
  return (
    <>
    <table class="facts effects">
      <thead><tr><th scope="col"><span class="hidden-text">takes part</span></th><th scope="col">flight</th><th scope="col">verdict</th><th scope="col">effect</th></tr></thead>
      <tbody>
        {shown.map((r) => {
          const e = run.effects.get(r.id);
          const takes = e !== undefined && (e.effect === "changes" || (onOut === undefined && e.effect !== "cannot"));
          return (
            <tr key={r.id} class={e === undefined || takes ? "" : "not"}>
              <td>{e !== undefined && takes && onOut !== undefined ? <input type="checkbox" aria-label={`store for ${r.name}`} checked={!out.has(r.id)} disabled={locked} onChange={() => onOut(r.id)} /> : null}</td>
              <th scope="row"><a href={`#/flight/${encodeURIComponent(r.id)}`}>{r.name}</a></th>
              <td class="verdicts">{e === undefined || e.name === "" ? <Verdict word={r.verdict} /> : e.verdict[0] === e.verdict[1] ? <Verdict word={e.verdict[1]} /> : <><Verdict word={e.verdict[0]} /> → <Verdict word={e.verdict[1]} /></>}</td>
              <td class="free">{e === undefined ? <span class="quiet">{run.state === "running" ? "…" : "not computed"}</span> : takes ? <>{effectParts(e).join("; ") || "nothing changes"}{e.verdict[0] === e.verdict[1] || e.line[1] === "" ? null : <small> {e.line[1]}</small>}</> : refusalWords(e)}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
    {shown.length === rows.length ? null : <p>{rows.length - shown.length} more flights are computed and counted above. <button type="button" onClick={() => setAll(true)}>List them too</button></p>}
    </>
  );
}

/** How far the computation is, and what it came to. */
export function Progress({ run, total, onStop, taken }: { readonly run: Running; readonly total: number; readonly onStop: () => void; readonly taken: string }) {
  const done = run.effects.size;
  const sum = useMemo(() => sumOf([...run.effects.values()]), [run.effects]);
  if (run.state === "no") return null;
  return (
    <div class="sum">
      <p aria-live="polite">
        {run.state === "running" ? `Computing: ${done} of ${total} flights` : run.state === "stopped" ? `Stopped after ${done} of ${total} flights; nothing is stored.` :
          <><b>{sum.changes} of {total}</b> {total === 1 ? "flight" : "flights"} would change{sum.none > 0 ? `, ${sum.none} without effect` : ""}{sum.cannot > 0 ? `, ${sum.cannot} where it cannot be ${taken}` : ""}. {sum.verdicts.length === 0 ? "No verdict changes." : null}</>}
        {run.state === "done" && sum.verdicts.length > 0 ? <> Verdicts: {sum.verdicts.map(([a, b, n], i) => <span key={i}>{i > 0 ? ", " : ""}<Verdict word={a} /> → <Verdict word={b} /> {n}</span>)}.</> : null}
      </p>
      {run.state === "running" ? <p><progress max={total} value={done} aria-label="Flights computed" /> <button type="button" onClick={onStop}>Stop</button></p> : null}
      {run.failed === "" ? null : <p role="alert" class="failed">{run.failed}</p>}
    </div>
  );
}

/** Reason and name. */
export function Said({ reason, onReason, name, onName }: { readonly reason: string; readonly onReason: (x: string) => void; readonly name: string; readonly onName: (x: string) => void }) {
  return (
    <>
      <label>Reason <input type="text" list="group-reasons" value={reason} autocomplete="off" onInput={(e) => onReason(e.currentTarget.value)} /></label>
      <datalist id="group-reasons">{reasons().map((r) => <option key={r} value={r} />)}</datalist>
      <label>Decided by <input type="text" value={name} autocomplete="off" onInput={(e) => onName(e.currentTarget.value)} /></label>
    </>
  );
}

/** What stands against storing, and how to go on. */
export function Refused({ list, rows, onWithout, onAgain }: { readonly list: readonly GroupRefusal[]; readonly rows: readonly Row[]; readonly onWithout: () => void; readonly onAgain: () => void }) {
  return (
    <div role="alert" class="failed refused">
      <p>Nothing was stored: {list.length === 1 ? "one flight stands" : `${list.length} flights stand`} against it.</p>
      <ul>{list.slice(0, 20).map((f) => <li key={f.flight}>{rows.find((r) => r.id === f.flight)?.name ?? f.flight}: {f.why}</li>)}{list.length > 20 ? <li>and {list.length - 20} more</li> : null}</ul>
      <p class="buttons"><button type="button" onClick={onWithout}>Leave {list.length === 1 ? "it" : "them"} out</button> <button type="button" onClick={onAgain}>Compute the effects again</button></p>
    </div>
  );
}

/** Storing under way: how many flights are computed; then the group, or what stands against it. */
export function useStoring(): { readonly at: number | undefined; readonly failed: string; readonly refused: readonly GroupRefusal[]; readonly clear: () => void; readonly stop: () => void; readonly go: (run: (signal: AbortSignal, onDone: (n: number) => void) => Promise<Group>, onStored: (g: Group) => void) => void } {
  const [at, setAt] = useState<number>();
  const [failed, setFailed] = useState("");
  const [refused, setRefused] = useState<readonly GroupRefusal[]>([]);
  const control = useRef<AbortController | undefined>(undefined);
  return {
    at, failed, refused,
    stop: () => control.current?.abort(),
    clear: () => {
      setFailed("");
      setRefused([]);
    },
    go: (run, onStored) => {
      const mine = new AbortController();
      control.current = mine;
      setFailed("");
      setRefused([]);
      setAt(0);
      run(mine.signal, setAt).then((g) => {
        setAt(undefined);
        onStored(g);
      }, (e: unknown) => {
        setAt(undefined);
        if (e instanceof client.GroupRefused) setRefused(e.flights);
        else setFailed(aborted(e) ? "Stopped. Unless it was stored in that very moment (see the group decisions), nothing is stored." : words(e));
      });
    },
  };
}

const kinds: readonly (readonly [Kind, string])[] = [["correct-record", "correct a record item"], ["choose-sheet", "choose a sheet"], ["exclude", "exclude a kind of span"], ["flag", "set a kind of span questionable"]];

interface DecideProps {
  readonly rows: readonly Row[]; // the flights chosen
  readonly onStored: (g: Group) => void;
  readonly onClose: () => void;
}

export function GroupDecide({ rows, onStored, onClose }: DecideProps) {
  const [choices, setChoices] = useState<GroupChoices>();
  const [draft, setDraft] = useState<GroupDraft>(emptyDraft);
  const [reason, setReason] = useState("");
  const [name, setName] = useState(who());
  const [failed, setFailed] = useState("");
  const [out, setOut] = useState<ReadonlySet<string>>(new Set());
  const { run, start, stop, clear } = useEffects();
  const storing = useStoring();
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => {
    client.groupChoices().then(setChoices, (e: unknown) => setFailed(words(e)));
  }, []);
  useLayoutEffect(() => form.current?.querySelector<HTMLElement>("button, select, input")?.focus(), []);

  const chosen = (choices?.items ?? []).find((i) => i.path === draft.field);
  const lacking = missing(draft);
  const busy = storing.at !== undefined;
  const set = (change: Partial<GroupDraft>): void => {
    setDraft({ ...draft, ...change });
    // What was computed is about another proposal.
    clear();
    storing.clear();
    setOut(new Set());
  };
  const compute = (): void => {
    if (lacking !== "" || busy) return;
    storing.clear();
    setOut(new Set());
    start((signal, onEffect) => client.groupEffects({ flights: rows.map((r) => r.id), proposal: proposalOf(draft, reason, name, chosen?.unit) }, signal, onEffect));
  };
  const taking = [...run.effects.values()].filter((e) => e.effect === "changes" && !out.has(e.flight));
  const ready = run.state === "done" && taking.length > 0 && reason.trim() !== "" && name.trim() !== "" && !busy;
  const store = (): void => {
    if (!ready) return;
    storing.go((signal, onDone) => client.storeGroup({ flights: taking.map((e) => ({ flight: e.flight, revision: e.revision })), proposal: proposalOf(draft, reason.trim(), name.trim(), chosen?.unit) }, signal, onDone), (g) => {
      rememberReason(reason.trim());
      rememberWho(name.trim());
      onStored(g);
    });
  };
  useKeys({ Escape: () => (run.state === "running" ? stop() : busy ? undefined : onClose()) });
  // Once the effect is there, what is still missing is the reason.
  useLayoutEffect(() => {
    if (run.state === "done") form.current?.querySelector<HTMLElement>("input[list=group-reasons]")?.focus();
  }, [run.state]);
  const many = rows.length === 1 ? "1 flight" : `${rows.length} flights`;
  return (
    <section class="group" aria-labelledby="group-title">
      <form ref={form} class="decide" aria-labelledby="group-title" onSubmit={(e) => { e.preventDefault(); if (run.state === "done") store(); else compute(); }}>
        <h2 id="group-title">One decision for {many}</h2>
        <fieldset class="kinds">
          <legend>What</legend>
          {kinds.map(([k, label]) => <label key={k}><input type="radio" name="kind" checked={draft.kind === k} disabled={busy} onChange={() => set({ kind: k })} /> {label}</label>)}
        </fieldset>
        {choices === undefined ? (failed === "" ? <p class="quiet">Reading what can be chosen …</p> : null) : draft.kind === "correct-record" ? (
          <>
            <label>Item <select value={draft.field} disabled={busy} onChange={(e) => set({ field: e.currentTarget.value })}>
              <option value="">choose …</option>{byPart(choices.items ?? []).map(([title, items]) => <optgroup key={title} label={title}>{items.map((i) => <option key={i.path} value={i.path}>{i.label}{i.unit === "" ? "" : `, ${i.unit}`}</option>)}</optgroup>)}
            </select></label>
            <label>{draft.shifted ? "Shifted by, with sign and unit" : "New value, with its unit"} <input type="text" value={draft.value} disabled={busy} autocomplete="off" placeholder={draft.shifted ? "+0.4 hPa" : ""} onInput={(e) => set({ value: e.currentTarget.value })} /></label>
            {chosen?.shift === true || draft.shifted ? <label class="tick"><input type="checkbox" checked={draft.shifted} disabled={busy} onChange={(e) => set({ shifted: e.currentTarget.checked })} /> Added to what each flight has, instead of one value for all</label> : null}
          </>
        ) : draft.kind === "choose-sheet" ? (
          <>
            <label>Instrument sheet <select value={draft.sheetText === "" ? draft.sheet : "\n"} disabled={busy} onChange={(e) => set({ sheet: e.currentTarget.value, sheetText: "" })}>
              <option value="">choose …</option>{(choices.sheets ?? []).map((s) => <option key={s.name} value={s.name}>{s.name}: {s.title}</option>)}{draft.sheetText === "" ? null : <option value={"\n"}>{draft.sheet}</option>}
            </select></label>
            <label>or a file of your own <input type="file" accept=".toml" disabled={busy} onChange={(e) => { const f = e.currentTarget.files?.[0]; if (f !== undefined) void f.text().then((text) => set({ sheet: f.name, sheetText: text })); }} /></label>
            <p class="quiet">The sheet given with each flight is kept.</p>
          </>
        ) : <SpanKindFields draft={draft} choices={choices} busy={busy} onSet={set} />}
        {lacking === "" || choices === undefined ? null : <p class="quiet">{lacking}</p>}
        <p class="buttons first-buttons">{run.state === "done" ? <button type="button" disabled={busy} onClick={compute}>Show the effect again</button> :
          <button type="submit" class="main" disabled={lacking !== "" || busy || run.state === "running"}>Show the effect on {many} <Key>Enter</Key></button>}</p>
        {run.state === "done" ? <Said reason={reason} onReason={setReason} name={name} onName={setName} /> : null}
        {failed === "" ? null : <p role="alert" class="failed">{failed}</p>}
        {storing.failed === "" ? null : <p role="alert" class="failed">{storing.failed}</p>}
        {storing.refused.length === 0 ? null : <Refused list={storing.refused} rows={rows} onAgain={compute}
          onWithout={() => { setOut(new Set([...out, ...storing.refused.map((f) => f.flight)])); storing.clear(); }} />}
        {busy ? <p><progress max={taking.length} value={storing.at} aria-label="Flights computed for storing" /> Storing: {storing.at} of {taking.length} computed; stored together at the end. <button type="button" onClick={storing.stop}>Stop</button></p> : null}
        <p class="buttons">
          {run.state === "done" ? <button type="submit" class="main" disabled={!ready || storing.refused.length > 0}>Store for {taking.length === 1 ? "1 flight" : `${taking.length} flights`}{ready ? <> <Key>Enter</Key></> : null}</button> : null}
          <button type="button" disabled={busy} onClick={onClose}>Leave it <Key>Esc</Key></button>
        </p>
      </form>
      <div class="group-effects">
        <Progress run={run} total={rows.length} onStop={stop} taken="applied" />
        {run.state === "no" ? <p class="quiet">Nothing is stored before you have seen what it changes.</p> : null}
        <EffectsTable rows={rows} run={run} out={out} locked={busy} onOut={(id) => { const next = new Set(out); if (!next.delete(id)) next.add(id); setOut(next); }} />
      </div>
    </section>
  );
}

function SpanKindFields({ draft, choices, busy, onSet }: { readonly draft: GroupDraft; readonly choices: GroupChoices; readonly busy: boolean; readonly onSet: (d: Partial<GroupDraft>) => void }) {
  const range = (i: number, change: Partial<TypedRange>): void => onSet({ where: draft.where.map((r, k) => (k === i ? { ...r, ...change } : r)) });
  const toggle = (v: VariableName): void => onSet({ variables: draft.variables.includes(v) ? draft.variables.filter((x) => x !== v) : ruledOn.filter((x) => x === v || draft.variables.includes(x)) });
  return (
    <>
      <label>Spans found by the check <select value={draft.check} disabled={busy} onChange={(e) => onSet({ check: e.currentTarget.value })}>
        <option value="">any, or none</option>{(choices.checks ?? []).map((c) => <option key={c} value={c}>{c.replaceAll("-", " ")}</option>)}
      </select></label>
      <label>about <select value={draft.about} disabled={busy} onChange={(e) => onSet({ about: e.currentTarget.value as VariableName })}>
        <option value="none">any variable</option>{(choices.variables ?? []).map((v) => <option key={v.name} value={v.name}>{nameOf(v.name)}</option>)}
      </select></label>
      {draft.check === "" && draft.about === "none" ? null : (
        <Choice label="at least" value={draft.severity} options={[["note", "note"], ["questionable", "questionable"], ["bad", "bad"]]} onChoose={(severity) => onSet({ severity })} />
      )}
      <fieldset>
        <legend>Only where</legend>
        {draft.where.map((r, i) => (
          <p class="range" key={i}>
            <select aria-label="quantity of the range" value={r.of} disabled={busy} onChange={(e) => range(i, { of: e.currentTarget.value })}>{rangesOf.map(([of, label]) => <option key={of} value={of}>{label}</option>)}</select>
            <span>from <input type="text" inputMode="decimal" aria-label="from" value={r.from} disabled={busy} onInput={(e) => range(i, { from: e.currentTarget.value })} /> to <input type="text" inputMode="decimal" aria-label="to" value={r.to} disabled={busy} onInput={(e) => range(i, { to: e.currentTarget.value })} /> {rangesOf.find((x) => x[0] === r.of)?.[2]}</span>
            <button type="button" disabled={busy} onClick={() => onSet({ where: draft.where.filter((_, k) => k !== i) })}>Take out</button>
          </p>
        ))}
        <button type="button" disabled={busy || draft.where.length >= 4} onClick={() => onSet({ where: [...draft.where, { of: "pressure", from: "", to: "" }] })}>Add a range</button> <span class="quiet">an end left empty is open</span>
      </fieldset>
      <fieldset>
        <legend>Of which variables{draft.check !== "" || draft.about !== "none" ? " (none chosen: those the findings are about)" : ""}</legend>
        {ruledOn.map((v) => <label key={v}><input type="checkbox" checked={draft.variables.includes(v)} disabled={busy} onChange={() => toggle(v)} /> {ruledName(v)}</label>)}
      </fieldset>
      {draft.kind === "flag" ? <p class="quiet">Samples that are bad stay bad.</p> : null}
    </>
  );
}

/** The decisions for many flights made so far, and taking one back. */
export function Groups({ rows, first, onChanged, onClose }: { readonly rows: readonly Row[]; readonly first: string; readonly onChanged: () => void; readonly onClose: () => void }) {
  const [list, setList] = useState<readonly Group[]>();
  const [failed, setFailed] = useState("");
  const [back, setBack] = useState(first);
  const [said, setSaid] = useState("");
  const load = (): void => {
    client.groups().then(setList, (e: unknown) => setFailed(words(e)));
  };
  useEffect(load, []);
  const taking = list?.find((g) => g.id === back);
  useKeys(taking === undefined ? { Escape: onClose } : {});
  const leave = useRef<HTMLButtonElement>(null);
  useLayoutEffect(() => {
    if (taking === undefined) leave.current?.focus();
  }, [taking === undefined, list === undefined]);
  if (taking !== undefined) {
    return <GroupTakeBack key={taking.id} group={taking} rows={rows} onCancel={() => { setBack(""); load(); }} onStored={(g) => { setBack(""); setSaid(`${g.id} was taken back.`); load(); onChanged(); }} />;
  }
  return (
    <section class="groups" aria-labelledby="groups-title">
      <h2 id="groups-title">Decisions for many flights</h2>
      <p role="status" class="said">{said}</p>
      {failed === "" ? null : <p role="alert" class="failed">{failed}</p>}
      {list === undefined ? <p class="quiet">Reading …</p> : list.length === 0 ? <p class="quiet">None yet. Select flights in the logbook, then decide for them together.</p> : (
        <ol class="decisions">
          {list.map((g) => {
            const [now, all] = inForce(g);
            return (
              <li key={g.id} class={now === 0 ? "settled" : ""}>
                <p><b>{g.id}</b> {g.who} {groupWords(g)}</p>
                <p class="reason">{g.reason}</p>
                <p class="quiet">{g.when_utc.slice(0, 16).replace("T", " ")} UTC; in force on {now} of {all} {all === 1 ? "flight" : "flights"}</p>
                {(g.revoked ?? []).map((r, i) => <p key={i}>taken back on {r.flights} {r.flights === 1 ? "flight" : "flights"} by {r.who}: {r.reason} <span class="quiet">{r.when_utc.slice(0, 16).replace("T", " ")} UTC</span></p>)}
                <details><summary>its flights</summary><ul class="flights">{(g.parts ?? []).map((p, i) => <li key={i}><a href={`#/flight/${encodeURIComponent(p.flight)}`}>{rows.find((r) => r.id === p.flight)?.name ?? p.flight}</a> {p.decision}{p.in_force ? "" : ", taken back"}</li>)}</ul></details>
                {now === 0 ? null : <button type="button" onClick={() => { setSaid(""); setBack(g.id); }}>Take back …</button>}
              </li>
            );
          })}
        </ol>
      )}
      <p><button ref={leave} type="button" onClick={onClose}>Back to the flights <Key>Esc</Key></button></p>
    </section>
  );
}

function GroupTakeBack({ group, rows, onStored, onCancel }: { readonly group: Group; readonly rows: readonly Row[]; readonly onStored: (g: Group) => void; readonly onCancel: () => void }) {
  const [reason, setReason] = useState("");
  const [name, setName] = useState(who());
  const [out, setOut] = useState<ReadonlySet<string>>(new Set());
  const { run, start, stop } = useEffects();
  const storing = useStoring();
  const form = useRef<HTMLFormElement>(null);
  const ids = [...new Set((group.parts ?? []).map((p) => p.flight))];
  const mine = ids.map((id) => rows.find((r) => r.id === id)).filter((r) => r !== undefined);
  const compute = (): void => {
    storing.clear();
    setOut(new Set());
    start((signal, onEffect) => client.groupRevocation(group.id, signal, onEffect));
  };
  useEffect(compute, []);
  useLayoutEffect(() => form.current?.querySelector<HTMLElement>("input")?.focus(), []);
  const busy = storing.at !== undefined;
  const taking = [...run.effects.values()].filter((e) => e.effect !== "cannot" && !out.has(e.flight));
  const ready = run.state === "done" && taking.length > 0 && reason.trim() !== "" && name.trim() !== "" && !busy && storing.refused.length === 0;
  useKeys({ Escape: () => (run.state === "running" ? stop() : busy ? undefined : onCancel()) });
  const store = (): void => {
    if (!ready) return;
    storing.go((signal, onDone) => client.revokeGroup(group.id, { flights: taking.map((e) => ({ flight: e.flight, revision: e.revision })), reason: reason.trim(), who: name.trim() }, signal, onDone), (g) => {
      rememberReason(reason.trim());
      rememberWho(name.trim());
      onStored(g);
    });
  };
  return (
    <section class="group" aria-labelledby="group-title">
      <form ref={form} class="decide" aria-labelledby="group-title" onSubmit={(e) => { e.preventDefault(); store(); }}>
        <h2 id="group-title">Take {group.id} back on all its flights</h2>
        <p>{group.who} {groupWords(group)}: {group.reason}</p>
        <Said reason={reason} onReason={setReason} name={name} onName={setName} />
        {storing.failed === "" ? null : <p role="alert" class="failed">{storing.failed}</p>}
        {storing.refused.length === 0 ? null : <Refused list={storing.refused} rows={rows} onAgain={compute}
          onWithout={() => { setOut(new Set([...out, ...storing.refused.map((f) => f.flight)])); storing.clear(); }} />}
        {busy ? <p><progress max={taking.length} value={storing.at} aria-label="Flights computed for taking back" /> {storing.at} of {taking.length} computed; taken back together at the end. <button type="button" onClick={storing.stop}>Stop</button></p> : null}
        <p class="buttons">
          <button type="submit" class="main" disabled={!ready}>Take back on {taking.length === 1 ? "1 flight" : `${taking.length} flights`} <Key>Enter</Key></button>
          <button type="button" disabled={busy} onClick={onCancel}>Leave it <Key>Esc</Key></button>
        </p>
      </form>
      <div class="group-effects">
        <Progress run={run} total={ids.length} onStop={stop} taken="taken back" />
        <EffectsTable rows={mine} run={run} out={out} locked={busy} />
      </div>
    </section>
  );
}
