// Files and folders given to the logbook, and what became of each.
import { useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { AddedFile } from "../api/types";
import { kindOf, plan, type Given } from "../model/companions";

/** One line of the list: files sent together, or a file that went along or was left. */
interface Sent {
  readonly name: string;
  readonly state: "waiting" | "reading" | "done";
  readonly failed: boolean;
  readonly added: number; // new flights
  readonly text: string;
}

interface Found {
  readonly path: string;
  readonly file: File;
}

/** The files below what was dropped; folders are walked. */
async function walk(entry: FileSystemEntry, into: Found[]): Promise<void> {
  if (entry.isFile) {
    const file = await new Promise<File>((ok, no) => (entry as FileSystemFileEntry).file(ok, no));
    into.push({ path: entry.fullPath.replace(/^\//, ""), file });
    return;
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  for (;;) {
    // A browser hands out a folder in portions; an empty one ends it.
    const some = await new Promise<FileSystemEntry[]>((ok, no) => reader.readEntries(ok, no));
    if (some.length === 0) return;
    for (const e of some) await walk(e, into);
  }
}

const most = 100; // lines shown while files are read

/** Takes files and folders dropped on the screen, or chosen, and says what became of each. */
export function DropZone({ onAdded, children }: { readonly onAdded: () => void; readonly children: preact.ComponentChildren }) {
  const [over, setOver] = useState(false);
  const [sent, setSent] = useState<readonly Sent[]>([]);
  const [busy, setBusy] = useState(false);
  const [said, setSaid] = useState("");
  const stop = useRef(false);
  const input = useRef<HTMLInputElement>(null);
  const folders = useRef<HTMLInputElement>(null);

  const take = async (files: readonly Found[], folder: boolean): Promise<void> => {
    if (busy) {
      setSaid("Files are being read: wait until they are done, or stop them.");
      return;
    }
    setSaid(files.length === 0 ? "There is no file in it." : "");
    if (files.length === 0) return;
    setBusy(true);
    stop.current = false;
    const sorted = folder ? [...files].sort((a, b) => (a.path < b.path ? -1 : a.path > b.path ? 1 : 0)) : files;
    const given: Given[] = [];
    for (const f of sorted) given.push({ path: f.path, kind: kindOf(f.file.name, /\.(toml|json)$/i.test(f.file.name) ? await f.file.slice(0, 16384).text() : "") });
    const p = plan(given, folder);
    const at = (i: number): File => (sorted[i] as Found).file;
    const list: Sent[] = p.sendings.map((s) => ({
      name: s.sources.length === 0 ? (sorted[s.record as number] as Found).path : s.sources.map((i) => (sorted[i] as Found).path).join(" + "), state: "waiting", failed: false, added: 0, text: "",
    }));
    for (const [i, text] of p.said) list.push({ name: (sorted[i] as Found).path, state: "done", failed: text.startsWith("left out"), added: 0, text });
    setSent([...list]);
    let shownAt = 0;
    for (const [i, s] of p.sendings.entries()) {
      const put = (change: Partial<Sent>): void => {
        list[i] = { ...(list[i] as Sent), ...change };
        if (list.length < most || performance.now() - shownAt > 250 || i === p.sendings.length - 1) {
          shownAt = performance.now();
          setSent([...list]);
        }
      };
      if (stop.current) {
        put({ state: "done", failed: true, text: "not read: stopped" });
        continue;
      }
      put({ state: "reading" });
      try {
        const results = await client.add(s.sources.map(at), {
          ...(s.record === undefined ? {} : { record: at(s.record) }), ...(s.recipe === undefined ? {} : { recipe: at(s.recipe) }), ...(s.sheet === undefined ? {} : { sheet: at(s.sheet) }),
        });
        put({ state: "done", failed: results.some((r) => (r.error ?? "") !== ""), added: results.flatMap((r) => r.flights ?? []).filter((a) => (a.known ?? "") === "").length, text: results.map(outcome).join("; ") });
      } catch (e) {
        put({ state: "done", failed: true, text: e instanceof Error ? e.message : String(e) });
        if (e instanceof client.Unreachable) stop.current = true;
      }
    }
    // What failed comes first: it is what a person has to look at.
    setSent([...list.filter((x) => x.failed), ...list.filter((x) => !x.failed)]);
    setBusy(false);
    onAdded();
  };

  const drop = async (data: DataTransfer | null): Promise<void> => {
    const entries = [...(data?.items ?? [])].map((i) => (i.kind === "file" ? i.webkitGetAsEntry() : null));
    const files = [...(data?.files ?? [])].map((file) => ({ path: file.name, file }));
    if (!entries.some((e) => e !== null && e.isDirectory)) return take(files, false);
    const found: Found[] = [];
    try {
      for (const e of entries) if (e !== null) await walk(e, found);
    } catch (e) {
      setSaid(`The folder could not be read: ${e instanceof Error ? e.message : String(e)}`);
      return undefined;
    }
    return take(found, true);
  };

  const done = sent.filter((s) => s.state === "done").length;
  const failed = sent.filter((s) => s.failed).length, added = sent.reduce((n, s) => n + s.added, 0);
  const shown = busy && sent.length > most ? [...sent.filter((s) => s.failed), ...sent.filter((s) => s.state === "reading")].slice(-most) : sent;
  return (
    <div class={`drop${over ? " over" : ""}`}
      onDragOver={(e) => { e.preventDefault(); setOver(true); }}
      onDragLeave={(e) => { if (e.currentTarget === e.target) setOver(false); }}
      onDrop={(e) => { e.preventDefault(); setOver(false); void drop(e.dataTransfer); }}>
      {children}
      <div class="adding">
        <input ref={input} type="file" multiple class="hidden" tabIndex={-1} aria-label="Files to add" onChange={(e) => { void take([...(e.currentTarget.files ?? [])].map((file) => ({ path: file.name, file })), false); e.currentTarget.value = ""; }} />
        <input ref={(x) => { folders.current = x; if (x !== null) x.webkitdirectory = true; }} type="file" class="hidden" tabIndex={-1} aria-label="Folder to add" onChange={(e) => { void take([...(e.currentTarget.files ?? [])].map((file) => ({ path: file.webkitRelativePath === "" ? file.name : file.webkitRelativePath, file })), true); e.currentTarget.value = ""; }} />
        <button type="button" disabled={busy} onClick={() => input.current?.click()}>Add files …</button> <button type="button" disabled={busy} onClick={() => folders.current?.click()}>Add a folder …</button>{" "}
        <span class="quiet">or drop them here; in a folder, files that share their name before the first dot are one flight</span>
        {said === "" ? null : <p role="alert">{said}</p>}
        {sent.length === 0 ? null : (
          <section class="sent" aria-label="Files added">
            <h2 aria-live="polite">{busy ? `Reading ${Math.min(done + 1, sent.length)} of ${sent.length} files` : `${sent.length === 1 ? "1 file" : `${sent.length} files`} read: ${added} ${added === 1 ? "flight" : "flights"} added${failed === 0 ? "" : `, ${failed} failed`}`}</h2>
            <progress max={sent.length} value={done} aria-label="Files read" />{" "}
            {busy ? <button type="button" onClick={() => { stop.current = true; }}>Stop after this one</button> : <button type="button" onClick={() => setSent([])}>Close this list</button>}
            <ul>
              {shown.map((s, i) => (
                <li key={i} class={s.failed ? "failed" : ""}><b>{s.name}</b>: {s.state === "waiting" ? "waiting" : s.state === "reading" ? "reading …" : s.text}</li>
              ))}
            </ul>
          </section>
        )}
      </div>
    </div>
  );
}

function outcome(f: AddedFile): string {
  // The row begins with the file's name: the reason need not.
  const reason = (text: string): string => (text.startsWith(`${f.file}: `) ? text.slice(f.file.length + 2) : text);
  const parts = (f.flights ?? []).map((a) => ((a.known ?? "") !== "" ? `already there as ${a.flight.name} (${a.known})` : `${a.flight.name}: ${a.flight.verdict}, ${a.flight.line}`));
  if ((f.error ?? "") !== "") parts.push(reason(f.error as string));
  return parts.length === 0 ? "no flight in it" : parts.join("; ");
}
