// After the flight: where the radiosonde was last received, where it should have come down,
// the label for who finds it, and what became of it.
import { useEffect, useState } from "preact/hooks";
import * as client from "../api/client";
import type { CameDown, Recovery, RecoveryList, Row } from "../api/types";
import { awayText, placeText } from "../model/live";
import { recoveryRequest, recoveryStates, type RecoveryEntry } from "../model/recovery";
import { clock, format } from "../model/units";
import { Label } from "./label";
import { contact, rememberContact, rememberWho, who } from "./remember";

const day = (utc: string): string => utc.slice(0, 16).replace("T", " ");
const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));

export function RecoveryPane({ id, revision }: { readonly id: string; readonly revision: number }) {
  const [down, setDown] = useState<CameDown>();
  const [failed, setFailed] = useState("");
  const [finder, setFinder] = useState(contact);
  useEffect(() => {
    let live = true;
    const timer = setTimeout(() => {
      client.cameDown(id, finder).then((d) => {
        if (!live) return;
        setDown(d);
        setFailed("");
      }, (e: unknown) => {
        if (live) setFailed(words(e));
      });
    }, 200);
    return () => {
      live = false;
      clearTimeout(timer);
    };
  }, [id, revision, finder]);
  if (down === undefined) return failed === "" ? <p class="waiting">Looking where it came down …</p> : <p role="alert">{failed}</p>;
  const l = down.landing, last = down.last_received;
  return (
    <div class="recovery">
      {failed === "" ? null : <p role="alert">{failed}</p>}
      <div class="recovery-parts">
        <section>
          <h3>Where it is</h3>
          <dl class="places">
            <div><dt>last received</dt><dd>{last.known ? <>{placeText(last.place)}<small>{last.height_m_msl === null ? "" : `at ${format(last.height_m_msl, 0)} m, `}{clock(Date.parse(last.utc))} UTC</small></> : "no position was received"}</dd></div>
            {l.known ? <div><dt>{l.happened ? "came down" : "expected at"}</dt><dd><b>{placeText(l.place)}</b><small>{awayText(l.distance_m, l.bearing_deg)}{l.utc === undefined ? "" : `, ${clock(Date.parse(l.utc))} UTC`}{l.major_95_m === null || l.minor_95_m === null ? "" : `; 95 % within ${format(l.major_95_m / 1000, 1)} by ${format(l.minor_95_m / 1000, 1)} km`}</small></dd></div> : null}
          </dl>
          <p class="quiet">{l.sentence === "" ? "" : `${l.sentence.charAt(0).toUpperCase()}${l.sentence.slice(1)}. `}Nothing is worth climbing, trespassing or wading for; in a power line it belongs to the operator of the line. The authority and the land's owners come first.</p>
        </section>
        <section>
          <h3>What became of it</h3>
          <Entries list={down.entries ?? []} none={down.kept ? "Nothing has been written down yet." : "This server keeps no recovery log."} />
          {down.kept ? <NewEntry onWrite={async (q) => {
            const written = await client.writeRecovery(id, recoveryRequest(q));
            setDown((d) => ({ ...written, label: d?.label ?? written.label })); // the label keeps the contact it was asked with
          }} /> : null}
        </section>
        <section>
          <h3>Label for the finder</h3>
          <div class="fields">
            {([["name", "Name"], ["phone", "Telephone"], ["mail", "Mail"], ["text", "Text for the finder"]] as const).map(([part, label]) => (
              <label class="field" key={part}><span>{label}</span><input type="text" name={`contact.${part}`} value={finder[part] ?? ""} autocomplete="off" onInput={(e) => {
                const next = { ...finder, [part]: e.currentTarget.value };
                setFinder(next);
                rememberContact(next);
              }} /></label>
            ))}
          </div>
          <Label text={down.label} />
        </section>
      </div>
    </div>
  );
}

function Entries({ list, none }: { readonly list: readonly Recovery[]; readonly none: string }) {
  if (list.length === 0) return <p class="quiet">{none}</p>;
  return (
    <ol class="recovery-log">
      {list.map((e, i) => (
        <li key={i}><b>{e.state}</b> {day(e.at_utc)} UTC{e.place === undefined ? "" : `, ${placeText(e.place)}`}{e.note === undefined ? "" : `: ${e.note}`}{e.finder === undefined ? "" : ` (found by ${e.finder})`} <small>{e.who}</small></li>
      ))}
    </ol>
  );
}

function NewEntry({ onWrite }: { readonly onWrite: (q: RecoveryEntry) => Promise<void> }) {
  const empty: RecoveryEntry = { state: "found", who: who(), at: "", latitude: "", longitude: "", finder: "", note: "" };
  const [q, setQ] = useState(empty);
  const [said, setSaid] = useState("");
  const field = (key: keyof RecoveryEntry, label: string, sample = "") => (
    <label class="field"><span>{label}</span><input type="text" name={`recovery.${key}`} value={q[key]} placeholder={sample} autocomplete="off" onInput={(e) => setQ({ ...q, [key]: e.currentTarget.value })} /></label>
  );
  return (
    <details>
      <summary>Write down what became of it</summary>
      <div class="fields">
        <label class="field"><span>State</span><select name="recovery.state" value={q.state} onChange={(e) => setQ({ ...q, state: e.currentTarget.value })}>{recoveryStates.map((s) => <option key={s} value={s}>{s}</option>)}</select></label>
        {field("who", "Your name")}{field("at", "Since, UTC", "now")}{field("latitude", "Latitude, ° north")}{field("longitude", "Longitude, ° east")}
        {field("finder", "Finder, only with their consent")}{field("note", "Note")}
      </div>
      <div class="buttons"><button type="button" class="main" onClick={() => {
        rememberWho(q.who);
        onWrite(q).then(() => {
          setSaid("Written down.");
          setQ({ ...empty, who: q.who });
        }, (e: unknown) => setSaid(words(e)));
      }}>Write it down</button></div>
      <p class="said" role="status">{said}</p>
    </details>
  );
}

/** What holds for each radiosonde of the log, those still out first. */
export function RecoveryOverview({ rows }: { readonly rows: readonly Row[] }) {
  const [list, setList] = useState<RecoveryList>();
  const [failed, setFailed] = useState("");
  useEffect(() => {
    client.recoveries().then(setList, (e: unknown) => setFailed(words(e)));
  }, []);
  if (failed !== "") return <p role="alert">{failed}</p>;
  if (list === undefined || !list.kept) return null;
  const entries = list.entries ?? [];
  const settled = (e: Recovery): boolean => e.state === "returned" || e.state === "given up";
  const flight = (e: Recovery): Row | undefined => rows.find((r) => r.name === e.flight) ?? rows.find((r) => e.serial !== "" && r.serial === e.serial);
  return (
    <details class="recovery-overview">
      <summary>Radiosondes that came down{entries.length === 0 ? "" : ` · ${entries.filter((e) => !settled(e)).length} still out, ${entries.length} in the log`}</summary>
      {list.torn ? <p class="notice" role="alert">The last line of the log was being written when something went wrong: it is left out.</p> : null}
      {entries.length === 0 ? <p class="quiet">The log is empty. Each flight's page has a part “Recovery”: last position, expected landing, label and log.</p> : (
        <ul class="recovery-log">
          {[...entries].sort((a, b) => Number(settled(a)) - Number(settled(b)) || b.at_utc.localeCompare(a.at_utc)).map((e, i) => {
            const r = flight(e);
            return <li key={i}><b>{e.state}</b> {r === undefined ? e.serial || e.flight : <a href={`#/flight/${encodeURIComponent(r.id)}`}>{e.serial || e.flight}</a>} since {day(e.at_utc)} UTC{e.place === undefined ? "" : `, ${placeText(e.place)}`}{e.note === undefined ? "" : `: ${e.note}`} <small>{e.who}</small></li>;
          })}
        </ul>
      )}
    </details>
  );
}
