// A decision in the making: reason, effect, store.
import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Decided, Preview, VariableName } from "../api/types";
import type { Bench } from "../model/bench";
import { decisionOf, type Draft } from "../model/draft";
import { turnover } from "../model/findings";
import { Profile } from "../model/profile";
import { clock, display, format, nameOf, prose, unitText } from "../model/units";
import { Key, Verdict } from "./parts";
import { reasons, rememberReason, rememberWho, who } from "./remember";
import { MovedOn, refusalOf } from "./step";

interface Props {
  readonly bench: Bench;
  readonly draft: Draft;
  readonly onDraft: (d: Draft) => void;
  readonly onStored: (d: Decided) => void;
  readonly onCancel: () => void;
  readonly onReload: () => Promise<void>;
  readonly onStoring: (on: boolean) => void; // a request that changes the flight is under way
}

const isAbort = (e: unknown): boolean => e instanceof DOMException && e.name === "AbortError";

export function DecideForm({ bench, draft, onDraft, onStored, onCancel, onReload, onStoring }: Props) {
  const [reason, setReason] = useState(draft.reason ?? "");
  const [name, setName] = useState(who());
  const [seen, setSeen] = useState<Preview>();
  const [failed, setFailed] = useState("");
  const [refusal, setRefusal] = useState<client.Refusal>();
  const [storing, setStoring] = useState(false);
  const first = useRef<HTMLInputElement>(null);
  useLayoutEffect(() => first.current?.focus(), []); // with the drawing itself: a quick hand types on

  const ready = draft.offered.length === 0 || draft.variables.length > 0;
  const key = JSON.stringify([draft, bench.flight.revision]);
  useEffect(() => {
    setSeen(undefined);
    setFailed("");
    if (!ready || draft.action === "note") return undefined;
    const stop = new AbortController();
    const wait = setTimeout(() => {
      const q = { revision: bench.flight.revision, decision: decisionOf(draft, bench, reason === "" ? "preview" : reason, name === "" ? "preview" : name) };
      Promise.all([client.preview(bench.flight.id, q, stop.signal), client.previewColumns(bench.flight.id, q, stop.signal)]).then(
        ([p, columns]) => {
          if (stop.signal.aborted) return;
          setSeen(p);
          bench.after = new Profile(columns, p.flight);
          bench.changed();
        },
        (e: unknown) => {
          if (!isAbort(e) && !stop.signal.aborted) setFailed(e instanceof Error ? e.message : String(e));
        },
      );
    }, 150);
    return () => {
      stop.abort();
      clearTimeout(wait);
      bench.after = undefined;
      bench.changed();
    };
  }, [key]);

  const store = async (): Promise<void> => {
    if (storing || reason.trim() === "" || name.trim() === "" || !ready) return;
    setStoring(true);
    setFailed("");
    onStoring(true);
    try {
      const done = await client.decide(bench.flight.id, { revision: bench.flight.revision, decision: decisionOf(draft, bench, reason.trim(), name.trim()) });
      rememberWho(name.trim());
      rememberReason(reason.trim());
      onStored(done);
    } catch (e) {
      onStoring(false);
      const r = refusalOf(e);
      setRefusal(r);
      if (r === undefined) setFailed(e instanceof Error ? e.message : String(e));
    } finally {
      setStoring(false);
    }
  };
  const again = async (): Promise<void> => {
    setStoring(true);
    await onReload();
    setRefusal(undefined);
    setStoring(false);
    if (bench.flight.sign_off.signature !== undefined) onCancel();
  };
  const toggle = (v: VariableName): void =>
    onDraft({ ...draft, variables: draft.variables.includes(v) ? draft.variables.filter((x) => x !== v) : draft.offered.filter((x) => x === v || draft.variables.includes(x)) });

  return (
    <form class="decide" aria-labelledby="decide-title"
      onSubmit={(e) => { e.preventDefault(); void store(); }}
      onKeyDown={(e) => { if (e.key === "Escape") { e.stopPropagation(); onCancel(); } }}>
      <h2 id="decide-title">{draft.title}</h2>
      {draft.span === undefined ? null : <p>{clock(bench.profile.instant(draft.span.from))}–{clock(bench.profile.instant(draft.span.to))} UTC, {draft.spans !== undefined && draft.spans.length > 1 ? `${format(draft.spans.reduce((n, s) => n + s.to - s.from + 1, 0), 0)} samples in ${draft.spans.length} places; those between are left as they are` : `${format(draft.span.to - draft.span.from + 1, 0)} samples`}</p>}
      {draft.action === "accept" || draft.action === "dismiss" ? <p class="quiet">{prose(bench.flight.findings?.find((f) => f.id === draft.field)?.sentence ?? "")}</p> : null}
      {draft.offered.length === 0 ? null : (
        <fieldset>
          <legend>Of which variables</legend>
          {draft.offered.map((v) => (
            <label key={v}><input type="checkbox" checked={draft.variables.includes(v)} onChange={() => toggle(v)} /> {v === "wind_speed" ? "wind" : nameOf(v)}</label>
          ))}
        </fieldset>
      )}
      {draft.action === "correct-record" || draft.action === "set-release" || draft.action === "set-burst" ? (
        <label>{draft.action === "correct-record" ? "New value, with its unit" : "Instant, UTC"} <input type="text" value={draft.value} onInput={(e) => onDraft({ ...draft, value: e.currentTarget.value })} /></label>
      ) : null}
      <label>Reason
        <input ref={first} type="text" list="reasons" required value={reason} autocomplete="off" onInput={(e) => setReason(e.currentTarget.value)} />
      </label>
      <datalist id="reasons">{reasons().map((r) => <option key={r} value={r} />)}</datalist>
      <label>Decided by <input type="text" required value={name} autocomplete="off" onInput={(e) => setName(e.currentTarget.value)} /></label>
      {failed === "" ? null : <p role="alert" class="failed">{failed}</p>}
      {refusal === undefined ? null : <MovedOn refusal={refusal} busy={storing} onReload={() => void again()} />}
      {draft.action === "note" ? null : <div aria-live="polite">{seen === undefined ? <p class="quiet">{!ready ? "Choose at least one variable." : failed === "" ? "Computing what it changes …" : ""}</p> : <Effect preview={seen} settles={draft.action === "accept" || draft.action === "dismiss"} />}</div>}
      <p class="buttons">
        <button type="submit" class="main" disabled={storing || refusal !== undefined || reason.trim() === "" || name.trim() === "" || !ready}>Store <Key>Enter</Key></button>
        <button type="button" onClick={onCancel}>Leave it <Key>Esc</Key></button>
      </p>
    </form>
  );
}

const most = 3; // findings told by their sentence

/** What a decision changes, in words. */
function Effect({ preview, settles }: { readonly preview: Preview; readonly settles: boolean }) {
  const d = preview.difference;
  const lines: preact.ComponentChildren[] = [];
  lines.push(d.verdict[0] === d.verdict[1] ? <>The verdict stays <Verdict word={d.verdict[1]} />.</> : <>The verdict changes from <Verdict word={d.verdict[0]} /> to <Verdict word={d.verdict[1]} />.</>);
  if (d.release_s !== null && Math.abs(d.release_s) > 0.0005) lines.push(`The release moves by ${format(d.release_s, 1)} s.`);
  const { goes, comes, changes } = turnover(d.findings_gone ?? [], d.findings_new ?? []);
  if (settles && goes.length + comes.length === 0 && changes.length <= 1) lines.push("The finding is settled; no value and no flag changes.");
  else for (const [what, list] of [["Finding gone", goes], ["New finding", comes], ["Finding with other figures", changes]] as const) {
    for (const f of list.slice(0, most)) lines.push(<><b>{what}:</b> {prose(f.sentence)}</>);
    if (list.length > most) lines.push(`${format(list.length - most, 0)} more ${what === "Finding gone" ? "findings go" : what === "New finding" ? "findings come" : "findings have other figures"}.`);
  }
  const small: string[] = [];
  for (const v of d.variables ?? []) {
    const x = display(v.variable);
    const seen = v.largest_change === null ? v.values_changed > 0 : Math.abs(v.largest_change) >= 0.5 * 10 ** -x.decimals;
    if (v.flags_changed === 0 && !seen) {
      small.push(nameOf(v.variable));
      continue;
    }
    const parts = [];
    if (v.flags_changed > 0) parts.push(`${format(v.flags_changed, 0)} flags`);
    if (seen) parts.push(`${format(v.values_changed, 0)} values${v.largest_change === null ? "" : `, by ${format(v.largest_change, x.decimals)} ${x.unit} at most`}`);
    if (v.usable[0] !== v.usable[1]) parts.push(`usable samples ${format(v.usable[0], 0)} → ${format(v.usable[1], 0)}`);
    lines.push(`${nameOf(v.variable)}: ${parts.join("; ")}`);
  }
  if (small.length > 0) lines.push(`By less than is shown: ${small.join(", ")}`);
  if (d.levels_changed > 0) lines.push(`${d.levels_changed} levels change (${d.levels[0]} → ${d.levels[1]}).`);
  const number = (x: number | null): string => (x === null ? "none" : format(x, Math.abs(x) >= 100 ? 0 : 1));
  for (const i of (preview.indices ?? []).slice(0, 8)) lines.push(`${i.label}: ${number(i.before)} → ${number(i.after)} ${unitText(i.unit)}`);
  if ((preview.indices ?? []).length > 8) lines.push(`${(preview.indices ?? []).length - 8} more indices change.`);
  const nothing = lines.length === 1 && d.verdict[0] === d.verdict[1];
  return (
    <section class="effect" aria-label="What it changes">
      <h3>What it changes</h3>
      <ul>{lines.map((l, i) => <li key={i}>{l}</li>)}{nothing ? <li>Nothing else.</li> : null}</ul>
    </section>
  );
}
