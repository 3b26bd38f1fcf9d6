import { useEffect, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Setting, SheetName, SheetText } from "../api/types";

/** Settings and instrument sheets, each value with where it comes from. */
export function SettingsScreen() {
  const [list, setList] = useState<readonly Setting[]>();
  const [sheets, setSheets] = useState<readonly SheetName[]>([]);
  const [sheet, setSheet] = useState<SheetText>();
  const [failed, setFailed] = useState("");
  const [text, setText] = useState("");
  useEffect(() => {
    client.settings().then(setList, (e: unknown) => setFailed(String(e)));
    client.sheets().then(setSheets, (e: unknown) => setFailed(String(e)));
  }, []);
  const show = (name: string): void => void client.sheet(name).then(setSheet, (e: unknown) => setFailed(String(e)));
  return (
    <div class="settings">
      <h1>Settings and instrument sheets</h1>
      {failed === "" ? null : <p class="notice" role="alert">{failed}</p>}
      <section>
        <h2>Instrument sheets that ship</h2>
        <p>
          {sheets.map((s) => (
            <button type="button" key={s.name} aria-pressed={sheet?.name === s.name} onClick={() => show(s.name)}>{s.name}</button>
          ))}
        </p>
        {sheet === undefined ? <p class="quiet">Choose one to read it with the source of each number.</p> : <pre class="text" tabIndex={0} aria-label={`Sheet ${sheet.name}`}>{sheet.text}</pre>}
      </section>
      <section>
        <h2>Settings</h2>
        <p>What flights are processed with unless a settings file was given with them; the flight's own screen shows those in force for it.</p>
        <label>Search <input type="search" value={text} onInput={(e) => setText(e.currentTarget.value)} /></label>
        {list === undefined ? <p class="waiting">Reading the settings …</p> : <SettingsTable list={list.filter((s) => `${s.key} ${s.source}`.toLowerCase().includes(text.toLowerCase()))} />}
      </section>
    </div>
  );
}

export function SettingsTable({ list }: { readonly list: readonly Setting[] }) {
  return (
    <table class="facts">
      <thead><tr><th scope="col">setting</th><th scope="col">value</th><th scope="col">from</th><th scope="col">source of the default</th></tr></thead>
      <tbody>
        {list.map((s) => (
          <tr key={s.key}><th scope="row">{s.key}</th><td class="free">{s.value}{s.value === s.default ? "" : ` (shipped ${s.default})`}</td><td>{s.from}</td><td class="quiet">{s.source}</td></tr>
        ))}
      </tbody>
    </table>
  );
}
