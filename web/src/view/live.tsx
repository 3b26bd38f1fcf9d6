// The flight in progress: four numbers to read across a vehicle, alarms, growing panels,
// where it is and where it will come down.
import { useCallback, useEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Live, Place, State, Value } from "../api/types";
import { landingSketch } from "../chart/landing";
import { Bench } from "../model/bench";
import { flagWord } from "../model/flags";
import { age, ageNow, awayText, countdown, height, holds, oldAfter, placeText, secondsTo, type Large } from "../model/live";
import { clock, display, format, localClock, show } from "../model/units";
import { GroundMap } from "./ground";
import { highContrast, keepContrast } from "./drafts";
import { Panels } from "./panels";
import { Flag, Severity, Toggle } from "./parts";

const nothing = (): void => undefined;
/** How often the panels are drawn from new columns. */
const panelsEvery = 4000;

export function LiveScreen() {
  const [live, setLive] = useState<Live>();
  const [reachable, setReachable] = useState(true);
  const came = useRef(performance.now());
  const [, tick] = useState(0);

  useEffect(() => {
    const stop = client.followLive((l) => {
      came.current = performance.now();
      setLive(l);
      setReachable(true);
    }, setReachable);
    const timer = setInterval(() => tick((n) => n + 1), 500);
    return () => {
      stop();
      clearInterval(timer);
    };
  }, []);

  if (live === undefined) {
    return <div class="live"><h1>Live</h1>{reachable ? <p class="waiting">Asking what is followed …</p> : <p class="quiet">Nothing has been shown yet.</p>}</div>;
  }
  if (!live.following || live.state === undefined) return <Idle />;
  const passed = live.state.ended === undefined ? Math.max(0, (performance.now() - came.current) / 1000) : 0;
  return <Following state={live.state} passed={passed} reachable={reachable} />;
}

/** A server that follows nothing says how to begin. */
function Idle() {
  return (
    <div class="live">
      <h1>Live</h1>
      <div class="empty">
        <p>No flight is followed by this leadline. Start it beside the receiver, with the source it writes:</p>
        <pre>{`leadline follow received.txt --record launch.toml --serve
leadline follow tcp://192.168.1.20:4001 --recipe receiver.toml --serve
leadline follow udp://127.0.0.1:5555 --recipe receiver.toml --serve`}</pre>
        <p>To practise with a flight of the past, at twenty times its pace:</p>
        <pre>leadline follow old-flight.txt --replay 20x --serve</pre>
        <p>Everything received is kept first; an interruption loses nothing.</p>
      </div>
    </div>
  );
}

function Following({ state: s, passed, reachable }: { readonly state: State; readonly passed: number; readonly reachable: boolean }) {
  const since = ageNow(s, passed);
  // A fast replay speaks once a second too, and much of its flight passes between.
  const old = s.ended === undefined && (!reachable || (since !== null && since > Math.max(oldAfter, 1.5 * s.speed) && s.rows > 0));
  const alarms = s.alarms ?? [];
  const now = alarms.filter(holds);
  const b = s.burst;
  const toBurst: Large = b.happened ? { figure: "burst", unit: "" } : countdown(b.known ? secondsTo(b.in_s, s, passed) : null);
  const lastAge = age(since);
  const under = (u: number | null, text: string): string => (u === null ? "" : ` ± ${text}`);
  return (
    <div class="live">
      <header class="live-head">
        <h1>{s.flight === "" ? s.name : s.flight}</h1>
        <span class="phase">{s.phase === "" ? "no data yet" : s.phase}</span>
        {s.speed === 1 ? null : <span class="phase">replay, {format(s.speed, 0)}×</span>}
        <span class="grow" />
        <Contrast />
        <span class="time">{clock(Date.parse(s.now_utc))} UTC <small>{localClock(s.now_utc)} here</small></span>
      </header>
      {reachable ? null : (
        <p class="notice" role="alert">leadline does not answer. The numbers below are as of {clock(Date.parse(s.now_utc))} UTC, {lastAge.figure === "–" ? "" : `${age(passed).figure} ${age(passed).unit} ago`}.
          What the program receives it keeps; if it has ended, start the same command again and it goes on.</p>
      )}
      {s.ended === undefined ? null : <EndedNotice state={s} />}
      <dl class={`large${old ? " old" : ""}`}>
        <LargeNumber label="height" value={height(s.height_m_msl)} below={s.pressure_hpa === null ? "" : `${format(s.pressure_hpa, s.pressure_hpa < 100 ? 1 : 0)} hPa`} />
        <LargeNumber label="ascent rate" value={{ figure: format(s.ascent_rate_m_s, 1), unit: "m/s" }}
          below={[s.target_ascent_rate_m_s === null ? "" : `planned ${format(s.target_ascent_rate_m_s, 1)}`, s.mean_ascent_rate_m_s === null ? "" : `${format(s.mean_ascent_rate_m_s, 1)} over 3 min`].filter((x) => x !== "").join(", ")} />
        <LargeNumber label="last data" value={lastAge.figure === "–" ? lastAge : { figure: lastAge.figure, unit: `${lastAge.unit} ago` }} fresh
          below={s.last_row_utc === undefined ? "nothing received" : `row of ${clock(Date.parse(s.last_row_utc))} UTC`} />
        <LargeNumber label={b.happened ? "balloon" : `time to burst${toBurst.unit === "" ? "" : `, ${toBurst.unit}`}`} value={{ figure: toBurst.figure, unit: "" }}
          below={b.known && b.utc !== undefined ? `${clock(Date.parse(b.utc))}${under(b.u_s, b.happened ? `${format(b.u_s, 1)} s` : `${format((b.u_s ?? 0) / 60, 0)} min`)}${b.height_m_msl === null ? "" : `, ${format(b.height_m_msl / 1000, 1)}${under(b.u_m, format((b.u_m ?? 0) / 1000, 1))} km`}` : b.sentence} />
      </dl>
      <ul class="alarms-now" aria-label="Alarms that hold" aria-live="assertive">
        {now.map((a) => (
          <li key={a.kind + a.since_utc}><AlarmSign /><b>{a.kind}</b> <span>{sentence(a.sentence)}</span> <small>since {clock(Date.parse(a.since_utc))}</small></li>
        ))}
      </ul>
      <p class="summary">{s.summary}{s.unread === "" ? null : <span class="quiet"> Not readable yet: {s.unread}.</span>}</p>
      <p class="link-line"><LinkSign link={s.link} />{sentence(s.link_sentence)} {s.received_bytes === 0 ? null : <span class="quiet">{format(s.received_bytes / 1000, 0)} kB received, {s.unsaved_bytes === 0 ? "all of it on disk" : `${format(s.unsaved_bytes, 0)} bytes in memory only`}; {format(s.rows, 0)} rows.</span>}</p>
      {(s.others ?? []).map((r) => (
        <p class="link-line" key={r.name}><LinkSign link={r.link} />Further receiver {r.name}: {sentence(r.link_sentence)} <span class="quiet">{format(r.received_bytes / 1000, 0)} kB received{r.age_s === null ? "" : `, last data ${age(ageNow({ ...s, age_s: r.age_s }, passed)).figure} ${age(ageNow({ ...s, age_s: r.age_s }, passed)).unit} ago`}; {r.apart === "" ? "joined by time" : `kept apart: ${r.apart}`}.</span></p>
      ))}
      <div class="live-work">
        <Growing state={s} />
        <aside class="live-side">
          <LandingBox state={s} />
          <section><h2>Alarms</h2><AlarmList state={s} /></section>
          <Values state={s} />
          <section><h2>Findings so far</h2>
            {(s.findings ?? []).length === 0 ? <p class="quiet">None above a note. Some checks speak only when the flight is complete.</p> : (
              <ul class="live-findings">{(s.findings ?? []).map((f) => <li key={f.id}><Severity word={f.severity} /> <span>{sentence(f.sentence)}</span></li>)}</ul>
            )}
          </section>
          {s.message.wanted ? <section><h2>First message, to {format(s.message.upto_hpa, 0)} hPa</h2>
            <p>{s.message.written_utc === undefined ? (s.message.sentence === "" ? "It is written when that level has been passed." : sentence(s.message.sentence)) : `${clock(Date.parse(s.message.written_utc))} UTC: ${s.message.where ?? ""}`}</p></section> : null}
          {s.ended === undefined ? <Finish /> : null}
        </aside>
      </div>
    </div>
  );
}

/** The switch for sunlight, shared with the launch desk. */
function Contrast() {
  const [high, setHigh] = useState(highContrast());
  useEffect(() => {
    document.documentElement.dataset["contrast"] = high ? "high" : "";
    keepContrast(high);
    window.dispatchEvent(new Event("leadline-theme"));
    return () => {
      delete document.documentElement.dataset["contrast"];
      window.dispatchEvent(new Event("leadline-theme"));
    };
  }, [high]);
  return <Toggle on={high} onClick={() => setHigh(!high)}>High contrast</Toggle>;
}

function LargeNumber({ label, value, below, fresh }: { readonly label: string; readonly value: Large; readonly below: string; readonly fresh?: boolean }) {
  return (
    <div class={fresh === true ? "fresh" : ""}>
      <dt>{label}</dt>
      <dd><span class="figure">{value.figure}</span>{value.unit === "" ? null : <span class="unit"> {value.unit}</span>}<span class="below-figure">{below}</span></dd>
    </div>
  );
}

const sentence = (s: string): string => (s === "" ? "" : `${s.charAt(0).toUpperCase()}${s.slice(1)}${/[.!?]$/.test(s) ? "" : "."}`);

function AlarmSign() {
  return <svg class="shape" viewBox="0 0 14 14" aria-hidden="true"><path d="M7 1.5 13 12.5H1Z" /><path d="M7 5V8.6M7 10V11.2" /></svg>;
}

/** Receiving a full circle, waiting an open one, lost a cross, ended a bar. */
function LinkSign({ link }: { readonly link: string }) {
  return (
    <svg class="shape link-sign" viewBox="0 0 12 12" role="img" aria-label={link}>
      {link === "receiving" ? <circle class="full" cx="6" cy="6" r="5" /> : link === "lost" ? <path d="M2 2 10 10M10 2 2 10" /> : link === "ended" ? <path d="M1 6H11" /> : <circle cx="6" cy="6" r="4.5" />}
    </svg>
  );
}

function AlarmList({ state: s }: { readonly state: State }) {
  const list = s.alarms ?? [];
  if (list.length === 0) return <p class="quiet">None so far. Alarms are: no data, no satellites, slow ascent, early burst, wrong time.</p>;
  return (
    <ol class="alarm-list">
      {list.map((a) => (
        <li key={a.kind + a.since_utc} class={holds(a) ? "" : "settled"}>
          <span class="alarm-time">{clock(Date.parse(a.since_utc))}</span>
          <span>{sentence(a.sentence)}{a.over_utc === undefined ? null : <em> Over {clock(Date.parse(a.over_utc))}: {a.ended}.</em>}</span>
        </li>
      ))}
    </ol>
  );
}

function Values({ state: s }: { readonly state: State }) {
  const list = s.values ?? [];
  if (list.length === 0) return null;
  return (
    <section class="values">
      <h2>Last values</h2>
      <table>
        <thead><tr><th scope="col" class="name">variable</th><th scope="col">value</th><th scope="col" class="unit">unit</th><th scope="col" class="name">flag</th></tr></thead>
        <tbody>
          {list.map((v) => <tr key={v.variable}><th scope="row">{v.label}</th><td>{show(v.variable, v.value)}</td><td class="unit">{display(v.variable).unit}</td><td class="name">{lateText(v) === "" ? <Flag word={flagWord(v.flag)} /> : lateText(v)}</td></tr>)}
        </tbody>
      </table>
    </section>
  );
}

const lateText = (v: Value): string => (v.late_s !== null && v.late_s > oldAfter ? `${age(v.late_s).figure} ${age(v.late_s).unit} old` : "");

function EndedNotice({ state: s }: { readonly state: State }) {
  const e = s.ended;
  if (e === undefined) return null;
  return (
    <div class="notice" role="status">
      <p>{sentence(`the flight is over: ${e.why}`)}</p>
      {e.error === undefined || e.error === "" ? null : <p>It is not in the logbook: {e.error}. Everything received is kept in <code>{s.journal}</code>.</p>}
      {(e.flights ?? []).map((f) => (
        <p key={f.id}><a href={`#/flight/${encodeURIComponent(f.id)}`}>{f.name}</a> is in the logbook{f.known === undefined || f.known === "" ? "" : `, as it was before (${f.known})`}. {sentence(f.line)}</p>
      ))}
    </div>
  );
}

/** Ends the flight by hand: asked twice, for it cannot be taken back. */
function Finish() {
  const [asked, setAsked] = useState(false);
  const [said, setSaid] = useState("");
  const finish = async (): Promise<void> => {
    try {
      await client.finishLive({ who: "" });
      setSaid("Ending …");
    } catch (e) {
      setSaid(e instanceof Error ? e.message : String(e));
    }
    setAsked(false);
  };
  return (
    <section class="finish">
      {asked ? <p>What comes after this is not received any more. <button type="button" class="main" onClick={() => void finish()}>End the flight now</button> <button type="button" onClick={() => setAsked(false)}>Go on</button></p>
        : <p><button type="button" onClick={() => setAsked(true)}>End the flight …</button> <span class="quiet">It ends by itself after landing, or after a long silence.</span></p>}
      <p role="status">{said}</p>
    </section>
  );
}

/** The flight page's panels, drawn anew as the flight grows. */
function Growing({ state: s }: { readonly state: State }) {
  const [bench, setBench] = useState<Bench>();
  const [failed, setFailed] = useState("");
  const kept = useRef<Bench | undefined>(undefined);
  const busy = useRef(false);
  const last = useRef(-Infinity);
  const [, tick] = useState(0);
  const load = useCallback(async (): Promise<void> => {
    if (busy.current) return;
    busy.current = true;
    last.current = performance.now();
    try {
      const [flight, columns] = await Promise.all([client.liveFlight(), client.liveColumns()]);
      // Two answers of two moments do not fit together: the next ones will.
      if (flight.rows === columns.header.rows) {
        const old = kept.current;
        if (old === undefined || old.flight.events.release.found !== flight.events.release.found) {
          kept.current = new Bench(flight, columns);
          setBench(kept.current);
        } else old.replace(flight, columns);
        if (flight.events.burst.found && old?.flight.events.burst.found !== true && kept.current !== undefined) {
          kept.current.descent = true;
          kept.current.reset();
        }
        setFailed("");
      }
    } catch (e) {
      if (!(e instanceof client.Unreachable)) setFailed(e instanceof Error ? e.message : String(e));
    }
    busy.current = false;
  }, []);
  useEffect(() => {
    if (s.rows === 0 || s.revision === kept.current?.flight.revision) return undefined;
    const wait = Math.max(0, last.current + panelsEvery - performance.now());
    const timer = setTimeout(() => void load(), wait);
    return () => clearTimeout(timer);
  }, [s.revision, s.rows === 0]);
  useEffect(() => bench?.subscribe(() => tick((n) => n + 1)), [bench]);
  if (bench === undefined) return <div class="live-panels"><p class="waiting">{failed === "" ? "The panels grow when rows come." : failed}</p></div>;
  return (
    <div class="live-panels">
      <div class="tools" role="toolbar" aria-label="What the panels show">
        <Toggle on={bench.raw} onClick={() => bench.toggle("raw")}>Raw</Toggle>
        <Toggle on={bench.before} onClick={() => bench.toggle("before")}>Before release</Toggle>
        <Toggle on={bench.descent} onClick={() => bench.toggle("descent")}>Descent</Toggle>
        <button type="button" onClick={() => bench.reset()}>Whole flight</button>
        {failed === "" ? null : <span class="quiet">{failed}</span>}
      </div>
      <div class="stage"><Panels bench={bench} onSpan={nothing} onHover={nothing} /></div>
    </div>
  );
}

/** Where it is, where it has been, where it is expected to land. */
function LandingBox({ state: s }: { readonly state: State }) {
  const seen = useRef<Place[]>([]);
  const loaded = useRef(-Infinity);
  const [, tick] = useState(0);
  // The track so far comes with the columns; between them the last positions are added.
  useEffect(() => {
    if (s.rows === 0 || performance.now() - loaded.current < 2 * panelsEvery) return;
    loaded.current = performance.now();
    void client.liveColumns().then((c) => {
      const lat = c.get("latitude", "final"), lon = c.get("longitude", "final"), time = c.get("time", "");
      if (lat === undefined || lon === undefined || time === undefined) return;
      const out: Place[] = [];
      const every = Math.max(1, Math.floor(c.header.rows / 400));
      for (let i = 0; i < c.header.rows; i += every) {
        if ((time[i] as number) >= 0 && lat[i] === lat[i] && lon[i] === lon[i]) out.push({ latitude_deg: lat[i] as number, longitude_deg: lon[i] as number });
      }
      seen.current = out;
      tick((n) => n + 1);
    }, nothing);
  }, [s.revision]);
  const l = s.landing;
  const width = 360, tall = 250;
  if (s.start === null) return <section><h2>Position</h2><p class="quiet">No position has been received.</p></section>;
  const track = s.phase === "before release" ? [] : [...seen.current, ...(s.position === null ? [] : [s.position])];
  const d = landingSketch({ start: s.start, track, now: s.position, ahead: l.track ?? [], ellipse: l.ellipse_95 ?? [], landing: l.known ? l.place : null }, width, tall);
  const words = l.known ? `${l.happened ? "Landed" : "Landing expected"} ${awayText(l.distance_m, l.bearing_deg)} of the release point` : "";
  return (
    <section>
      <h2>{l.happened ? "Landed" : "Position and expected landing"}</h2>
      <svg class="landing" viewBox={`0 0 ${width} ${tall}`} role="img" aria-label={`Map, north up. The radiosonde is ${awayText(s.distance_m, s.bearing_deg)} of the release point. ${words}`}>
        <GroundMap sheet={d.sheet} kept={[s.start.latitude_deg, s.start.longitude_deg, d.sheet.west, d.sheet.north, d.sheet.k].join()}>
        {d.rings.map((r) => <g key={r.r}><circle class="ring" cx={d.start[0]} cy={d.start[1]} r={r.r} /><text class="ring-label" x={d.start[0] + r.r * d.toward[0] + 3} y={d.start[1] + r.r * d.toward[1] - 3}>{r.label} km</text></g>)}
        {d.ellipse === "" ? null : <path class="area" d={d.ellipse} />}
        {d.ahead === "" ? null : <path class="ahead" d={d.ahead} />}
        {d.track === "" ? null : <path class="track" d={d.track} />}
        <path class="start" d={`M${d.start[0] - 5} ${d.start[1]}h10M${d.start[0]} ${d.start[1] - 5}v10`} />
        {d.now === undefined ? null : <circle class="here" cx={d.now[0]} cy={d.now[1]} r="4.5" />}
        {d.landing === undefined ? null : <path class="down" d={`M${d.landing[0] - 5} ${d.landing[1] - 5}l10 10m0 -10l-10 10`} />}
        </GroundMap>
      </svg>
      <dl class="places">
        {s.position === null ? null : <div><dt><svg class="shape" viewBox="0 0 12 12" aria-hidden="true"><circle class="full" cx="6" cy="6" r="4.5" /></svg> radiosonde</dt><dd>{placeText(s.position)}<small>{awayText(s.distance_m, s.bearing_deg)}</small></dd></div>}
        {l.known ? <div><dt><svg class="shape" viewBox="0 0 12 12" aria-hidden="true"><path d="M2 2 10 10M10 2 2 10" /></svg> {l.happened ? "landed" : "landing"}</dt><dd>{placeText(l.place)}<small>{awayText(l.distance_m, l.bearing_deg)}{l.utc === undefined ? "" : `, ${clock(Date.parse(l.utc))} UTC`}{l.major_95_m === null || l.minor_95_m === null ? "" : `; 95 % within ${format(l.major_95_m / 1000, 1)} by ${format(l.minor_95_m / 1000, 1)} km`}</small></dd></div> : null}
      </dl>
      <p class="quiet">{sentence(l.sentence)}{l.known && !l.happened ? " The airspace authority and the land's owners come first." : ""}</p>
    </section>
  );
}
