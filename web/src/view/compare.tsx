// Another flight laid over this one, with differences by layer.
import { useState } from "preact/hooks";
import * as client from "../api/client";
import type { Row, VariableName } from "../api/types";
import type { Bench } from "../model/bench";
import { byLayer } from "../model/compare";
import { Profile } from "../model/profile";
import { everything, pick, slotOf } from "../model/rows";
import { dayMinute, display, format } from "../model/units";
import { Pane } from "./parts";

const compared: readonly (readonly [VariableName, string])[] = [["temperature", "Temperature"], ["humidity", "Humidity"], ["wind_speed", "Wind speed"], ["pressure", "Pressure"]];

export function ComparePane({ bench, rows }: { readonly bench: Bench; readonly rows: readonly Row[] }) {
  const [text, setText] = useState("");
  const [failed, setFailed] = useState("");
  const [variable, setVariable] = useState<VariableName>("temperature");
  const choose = async (r: Row): Promise<void> => {
    try {
      const [flight, columns] = await Promise.all([client.flight(r.id), client.columns(r.id)]);
      bench.other = { name: flight.name, profile: new Profile(columns, flight) };
      setFailed("");
      bench.changed();
    } catch (e) {
      setFailed(e instanceof Error ? e.message : String(e));
    }
  };
  const other = bench.other;
  if (other === undefined) {
    const site = rows.find((r) => r.id === bench.flight.id)?.site ?? "";
    const at = Date.parse(bench.flight.zero_utc);
    const near = (r: Row): number => (r.site === site ? 0 : 1e14) + Math.abs(Date.parse(r.release_utc ?? slotOf(r)) - at);
    const list = pick(rows, { ...everything, text }).filter((r) => r.id !== bench.flight.id).sort((a, b) => near(a) - near(b)).slice(0, 30);
    return (
      <Pane name="compare">
        <label>Lay over this flight <input type="search" value={text} placeholder="site, file, serial" onInput={(e) => setText(e.currentTarget.value)} /></label>
        {failed === "" ? null : <p role="alert">{failed}</p>}
        <p class="quiet">Nearest in place and time first.</p>
        <ul class="choices">{list.map((r) => <li key={r.id}><button type="button" onClick={() => void choose(r)}>{dayMinute(slotOf(r))} {r.site} <span class="quiet">{r.verdict}</span></button></li>)}</ul>
        {list.length === 0 ? <p class="quiet">There is no other flight.</p> : null}
      </Pane>
    );
  }
  const d = display(variable);
  const layers = byLayer(bench.profile, other.profile, variable);
  return (
    <Pane name="compare">
      <p>Pale lines are <b>{other.name}</b>. <button type="button" onClick={() => { bench.other = undefined; bench.changed(); }}>Take it away</button></p>
      <label>Differences of <select value={variable} onChange={(e) => setVariable(e.currentTarget.value as VariableName)}>{compared.map(([v, label]) => <option key={v} value={v}>{label}</option>)}</select></label>
      <table class="facts layers">
        <thead><tr><th scope="col">km</th><th scope="col">mean <small>{d.unit}</small></th><th scope="col">deviation</th><th scope="col">steps of 50 m</th></tr></thead>
        <tbody>
          {[...layers].reverse().map((l) => (
            <tr key={l.bottom}><th scope="row">{l.bottom}–{l.top}</th><td>{l.mean > 0 ? "+" : ""}{format(l.mean, d.decimals)}</td><td>{format(l.deviation, d.decimals)}</td><td class="quiet">{l.count}</td></tr>
          ))}
        </tbody>
      </table>
      <p class="quiet">This flight minus the other, means over 50 m of height, usable values of the ascents.{layers.length === 0 ? " They have no height in common." : ""}</p>
    </Pane>
  );
}
