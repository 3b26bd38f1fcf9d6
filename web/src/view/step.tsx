// Steps of a flight's history that are no decisions: taking back, putting back, signing, reopening.
import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Decided, Decision } from "../api/types";
import type { Bench } from "../model/bench";
import { openFindings } from "../model/findings";
import { signedLine } from "../model/standing";
import { format, prose } from "../model/units";
import { Key, Verdict } from "./parts";
import { reasons, rememberReason, rememberWho, who } from "./remember";
import { decisionWords, stepWords } from "./side";

/** What is about to be done to the flight's history. */
export type Step =
  | { readonly kind: "revoke" | "undo" | "redo"; readonly decision: Decision }
  | { readonly kind: "sign" | "reopen" };

interface Props {
  readonly bench: Bench;
  readonly step: Step;
  readonly onStored: (d: Decided) => void;
  readonly onCancel: () => void;
  readonly onReload: () => Promise<void>;
  readonly onStoring: (on: boolean) => void; // a request that changes the flight is under way
}

/** The refusal of a step because the flight has moved on or was signed, else undefined. */
export const refusalOf = (e: unknown): client.Refusal | undefined =>
  (e instanceof client.Refusal && (e.stale !== undefined || e.signed !== undefined) ? e : undefined);

/** Why nothing was stored, and what others did meanwhile. */
export function MovedOn({ refusal, busy, onReload }: { readonly refusal: client.Refusal; readonly busy: boolean; readonly onReload: () => void }) {
  return (
    <div role="alert" class="failed">
      {refusal.signed !== undefined ? <p>Not stored: the flight was {signedLine(refusal.signed)}. It is locked until somebody reopens it with a reason.</p> : (
        <>
          <p>Not stored: somebody else has ruled on this flight since you opened it.</p>
          <ul>{(refusal.stale?.since ?? []).map((r) => <li key={r.revision}>{stepWords(r)}{r.reason === "" ? "" : `: ${r.reason}`}</li>)}</ul>
        </>
      )}
      <button type="button" disabled={busy} onClick={onReload}>Show the flight as it is now</button>
    </div>
  );
}

/** A form of name and reason around what a step says about itself. */
export function StepForm({ bench, step, onStored, onCancel, onReload, onStoring }: Props) {
  const f = bench.flight;
  const signing = step.kind === "sign";
  const open = openFindings(f.findings);
  const against = signing && (open.length > 0 || f.verdict.word === "refuse");
  const [reason, setReason] = useState("");
  const [name, setName] = useState(who());
  const [knows, setKnows] = useState(false);
  const [failed, setFailed] = useState("");
  const [refusal, setRefusal] = useState<client.Refusal>();
  const [storing, setStoring] = useState(false);
  const text = useRef<HTMLInputElement>(null), tick = useRef<HTMLInputElement>(null);
  useLayoutEffect(() => (tick.current ?? text.current)?.focus(), []);
  // What was ticked was about the flight as it stood then.
  useEffect(() => setKnows(false), [f.revision]);
  const ready = name.trim() !== "" && (signing ? !against || (knows && reason.trim() !== "") : reason.trim() !== "") && !storing && refusal === undefined;

  const store = async (): Promise<void> => {
    if (!ready) return;
    setStoring(true);
    setFailed("");
    onStoring(true);
    const q = { revision: f.revision, who: name.trim(), reason: reason.trim() };
    try {
      const done = await ("decision" in step ? (step.kind === "undo" ? client.undo(f.id, q) : step.kind === "redo" ? client.redo(f.id, q) : client.revoke(f.id, step.decision.id, q))
        : step.kind === "sign" ? client.sign(f.id, { revision: f.revision, who: name.trim(), note: reason.trim(), despite_open: against && knows })
        : client.reopen(f.id, q));
      rememberWho(name.trim());
      if (!signing) rememberReason(reason.trim());
      onStored(done);
    } catch (e) {
      onStoring(false);
      setStoring(false);
      const r = refusalOf(e);
      setRefusal(r);
      if (r === undefined) setFailed(e instanceof Error ? e.message : String(e));
    }
  };
  const again = async (): Promise<void> => {
    setStoring(true);
    await onReload();
    onCancel();
  };
  const titles = { sign: "Sign the flight off", reopen: "Reopen the flight", undo: "Undo", redo: "Redo", revoke: "Take back" } as const;
  const title = titles[step.kind] + ("decision" in step ? ` ${step.decision.id}` : "");
  const verb = { sign: "Sign", reopen: "Reopen", undo: "Take back", redo: "Put back", revoke: "Take back" }[step.kind];
  return (
    <form class="decide" aria-labelledby="decide-title" onSubmit={(e) => { e.preventDefault(); void store(); }} onKeyDown={(e) => { if (e.key === "Escape") { e.stopPropagation(); onCancel(); } }}>
      <h2 id="decide-title">{title}</h2>
      {"decision" in step ? <p>{step.decision.who} {decisionWords(step.decision)}: {step.decision.reason}</p> : null}
      {step.kind === "reopen" && f.sign_off.signature !== undefined ? <p>This flight was {signedLine(f.sign_off.signature)}. The signature and the reopening stay in the history.</p> : null}
      {signing ? <>
        <p>You answer for the flight as it stands at revision {f.revision}: verdict <Verdict word={f.verdict.word} />. From then on it is locked until somebody reopens it with a reason.</p>
        {against ? (
          <div class="against">
            {f.verdict.word === "refuse" ? <p><b>The verdict is refuse:</b> {prose(f.verdict.line)}.</p> : null}
            {open.length > 0 ? <>
              <p><b>{open.length === 1 ? "1 finding is open" : `${format(open.length, 0)} findings are open`}</b>; nobody has accepted or dismissed {open.length === 1 ? "it" : "them"}:</p>
              <ul>{open.slice(0, 3).map((x) => <li key={x.id}>{prose(x.sentence)}</li>)}{open.length > 3 ? <li>and {format(open.length - 3, 0)} more</li> : null}</ul>
            </> : null}
            <label class="tick"><input ref={tick} type="checkbox" checked={knows} onChange={(e) => setKnows(e.currentTarget.checked)} /> I know this and sign all the same</label>
          </div>
        ) : null}
      </> : null}
      <label>{signing ? (against ? "Note: why all the same" : "Note, if there is something to say") : "Reason"}
        <input ref={text} type="text" list="reasons" required={!signing || against} value={reason} autocomplete="off" onInput={(e) => setReason(e.currentTarget.value)} />
      </label>
      <datalist id="reasons">{reasons().map((r) => <option key={r} value={r} />)}</datalist>
      <label>{signing ? "Signed by" : step.kind === "reopen" ? "Reopened by" : "Decided by"} <input type="text" required value={name} autocomplete="off" onInput={(e) => setName(e.currentTarget.value)} /></label>
      {failed === "" ? null : <p role="alert" class="failed">{failed}</p>}
      {refusal === undefined ? null : <MovedOn refusal={refusal} busy={storing} onReload={() => void again()} />}
      <p class="buttons">
        <button type="submit" class="main" disabled={!ready}>{verb} <Key>Enter</Key></button>
        <button type="button" onClick={onCancel}>Leave it <Key>Esc</Key></button>
      </p>
    </form>
  );
}
