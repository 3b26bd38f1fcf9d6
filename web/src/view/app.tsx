import { useCallback, useEffect, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Change, Logbook, Row } from "../api/types";
import { everything, pick, type Wanted } from "../model/rows";
import { decoded } from "../model/versions";
import { CompareScreen } from "./compare";
import { DeskScreen } from "./desk";
import { FlightScreen } from "./flight";
import { Help } from "./help";
import { useKeys } from "./keys";
import { LiveScreen } from "./live";
import { LogbookScreen } from "./logbook";
import { Key } from "./parts";
import { setTheme, theme } from "./remember";
import { SettingsScreen } from "./settings";

interface Place {
  readonly screen: "logbook" | "flight" | "desk" | "live" | "settings" | "compare";
  readonly id: string;
}

function placeOf(hash: string): Place {
  const [screen, id, ...more] = hash.replace(/^#\/?/, "").split("/");
  if (screen === "compare") return { screen: "compare", id: [id ?? "", ...more].join("/") };
  if (screen === "flight" && id !== undefined && id !== "") return { screen: "flight", id: decoded(id) };
  if (screen === "desk") return { screen: "desk", id: "" };
  if (screen === "live") return { screen: "live", id: "" };
  if (screen === "settings") return { screen: "settings", id: "" };
  return { screen: "logbook", id: "" };
}

export const go = (hash: string): void => {
  location.hash = hash;
};

export function App() {
  const [place, setPlace] = useState(placeOf(location.hash));
  const [book, setBook] = useState<Logbook>();
  const [failed, setFailed] = useState("");
  const [reachable, setReachable] = useState(true);
  const [since, setSince] = useState("");
  const [change, setChange] = useState<Change>();
  const [help, setHelp] = useState(false);
  const [wanted, setWanted] = useState<Wanted>(everything);
  const [last, setLast] = useState("");
  const lost = useRef(false);
  const old = useRef(false); // the rows have changed since they were read
  const screen = useRef(place.screen);
  screen.current = place.screen;

  const reading = useRef({ now: false, again: false, took: 0 });
  const newest = useRef<Logbook | undefined>(undefined);
  const load = useCallback(async () => {
    // One reading at a time; a change meanwhile asks for one more, not before as long again has
    // passed: while hundreds of flights come in, the page stays quick.
    const r = reading.current;
    if (r.now) {
      r.again = true;
      return;
    }
    r.now = true;
    const began = performance.now();
    try {
      newest.current = await client.logbook();
      setBook(newest.current);
      setFailed("");
      setSince(new Date().toISOString().slice(11, 19));
      setReachable(true);
    } catch (e) {
      if (e instanceof client.Unreachable) setReachable(false);
      else setFailed(e instanceof Error ? e.message : String(e));
    }
    r.took = performance.now() - began;
    setTimeout(() => {
      r.now = false;
      if (r.again) {
        r.again = false;
        void load();
      }
    }, r.took);
  }, []);

  useEffect(() => {
    const onHash = (): void => setPlace(placeOf(location.hash));
    window.addEventListener("hashchange", onHash);
    const stop = client.follow(
      (c) => {
        // Many flights that moved at once are one change; the one on the screen may be among them.
        const mine = placeOf(location.hash).id;
        setChange(c.moved?.find((m) => m.flight === mine) ?? c);
        // The rows of years are megabytes: they are read anew when they are looked at.
        if (screen.current === "logbook") void load();
        else old.current = true;
      },
      (up) => {
        setReachable(up);
        if (up && lost.current && (newest.current !== undefined || screen.current !== "flight")) void load();
        lost.current = !up;
      },
    );
    return () => {
      stop();
      window.removeEventListener("hashchange", onHash);
    };
  }, []);

  useEffect(() => {
    // A flight opened by its address needs no list of all flights, until somebody asks for another.
    if (newest.current === undefined && place.screen !== "flight" && place.screen !== "live") void load();
    else if (place.screen === "logbook" && old.current) {
      old.current = false;
      void load();
    }
    if (place.screen === "flight") setLast(place.id);
    window.scrollTo(0, 0);
  }, [place.screen, place.id]);

  const rows: readonly Row[] = book?.flights ?? [];
  const order = pick(rows, wanted);
  // The order in which one goes from flight to flight stays as the logbook last showed it: a
  // flight that is decided on moves in the list, and the next one is still the next.
  const walk = useRef<readonly string[]>([]);
  if (place.screen === "logbook" && book !== undefined) walk.current = order.map((r) => r.id);
  /** Goes to the flight after or before this one, in that order; false where there is none. */
  const neighbour = async (by: 1 | -1): Promise<boolean> => {
    if (!walk.current.includes(place.id)) {
      if (newest.current === undefined) await load();
      walk.current = pick(newest.current?.flights ?? [], wanted).map((r) => r.id);
    }
    const next = walk.current[walk.current.indexOf(place.id) + by];
    if (next !== undefined) go(`/flight/${encodeURIComponent(next)}`);
    return next !== undefined;
  };

  useKeys({
    "?": () => setHelp(true),
    "g l": () => go("/"),
    "g f": () => {
      const id = last !== "" ? last : order[0]?.id;
      if (id !== undefined) go(`/flight/${encodeURIComponent(id)}`);
    },
    "g d": () => go("/desk"),
    "g v": () => go("/live"),
    "g s": () => go("/settings"),
    "g o": () => go("/compare"),
  });

  const here = (s: Place["screen"]): { "aria-current"?: "page" } => (place.screen === s ? { "aria-current": "page" } : {});
  return (
    <>
      <a class="skip" href="#main" onClick={(e) => { e.preventDefault(); document.getElementById("main")?.focus(); }}>To the content</a>
      <header class="bar">
        <a class="mark" href="#/">leadline</a>
        <nav aria-label="Screens">
          <a href="#/" {...here("logbook")}>Logbook <Key>g l</Key></a>
          {last === "" ? null : <a href={`#/flight/${encodeURIComponent(last)}`} {...here("flight")}>Flight <Key>g f</Key></a>}
          <a href="#/desk" {...here("desk")}>Launch desk <Key>g d</Key></a>
          <a href="#/live" {...here("live")}>Live <Key>g v</Key></a>
          <a href="#/compare" {...here("compare")}>Compare <Key>g o</Key></a>
          <a href="#/settings" {...here("settings")}>Settings <Key>g s</Key></a>
        </nav>
        <span class="grow" />
        <Appearance />
        <button type="button" class="plain" onClick={() => setHelp(true)}>Keys <Key>?</Key></button>
      </header>
      {reachable || place.screen === "live" ? null : (
        <p class="notice" role="alert">
          leadline does not answer. {since === "" ? "" : `What you see is as of ${since} UTC. `}Nothing that was stored is lost; a decision in the making is not stored yet.
          Start it again with <code>leadline serve</code>; this page then goes on by itself.
        </p>
      )}
      {failed === "" ? null : <p class="notice" role="alert">The logbook could not be read: {failed}</p>}
      <main id="main" tabIndex={-1}>
        {place.screen === "desk" ? (
          <DeskScreen rows={rows} />
        ) : place.screen === "live" ? (
          <LiveScreen />
        ) : place.screen === "compare" ? (
          <CompareScreen rest={place.id} rows={rows} change={change} />
        ) : place.screen === "settings" ? (
          <SettingsScreen rows={rows} />
        ) : place.screen === "flight" ? (
          <FlightScreen key={place.id} id={place.id} change={change} rows={rows} neighbour={neighbour} onRows={() => { if (newest.current === undefined) void load(); }} />
        ) : (
          <LogbookScreen loaded={book !== undefined} rows={rows} shown={order} wanted={wanted} onWant={setWanted} onAdded={() => void load()} last={last} />
        )}
      </main>
      {help ? <Help screen={place.screen} onClose={() => setHelp(false)} /> : null}
    </>
  );
}

function Appearance() {
  const [t, set] = useState(theme());
  return (
    <label class="appearance">
      Appearance{" "}
      <select value={t} onChange={(e) => {
        const v = e.currentTarget.value;
        const next = v === "light" || v === "dark" ? v : "";
        setTheme(next);
        set(next);
      }}>
        <option value="">as the system</option>
        <option value="light">light</option>
        <option value="dark">dark</option>
      </select>
    </label>
  );
}
