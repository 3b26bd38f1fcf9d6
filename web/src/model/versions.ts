// Versions of flights: what a user may lay over what, and how it is written in an address.
import type { Flight, FlightVersion, Ruling, SettingsFile, VariableName } from "../api/types";
import type { Profile } from "./profile";
import type { Ink } from "./panels";

/** One side of a comparison, ready to be drawn. */
export interface Side {
  readonly version: FlightVersion;
  readonly flight: Flight; // in that version
  readonly stored: Flight; // as it stands
  readonly profile: Profile;
}

export const most = 6; // sides at once
export const letterOf = (i: number): string => "ABCDEF"[i] ?? "?";
/** Lines are told apart by their dashes, for colour says the variable. */
export const dashes: readonly (readonly number[])[] = [[], [7, 3], [2, 2], [9, 2, 2, 2], [4, 4], [12, 4]];

/** Columns a version is drawn from. */
export const partOf = (v: FlightVersion): "raw" | "final" => (v.stage === "raw" ? "raw" : "final");

/** A file name as it stands in a code, where @ divides the parts. */
const plain = (name: string): string => name.replaceAll("@", "-");

/** "3@without:d2@raw", as the command line writes it; a settings file stands in it by its name. */
export function codeOf(v: FlightVersion): string {
  let s = v.flight;
  if (v.without !== undefined) s += `@without:${v.without}`;
  if (v.as_of_revision !== undefined) s += `@revision:${v.as_of_revision}`;
  if (v.settings === "shipped") s += "@shipped";
  if (v.settings === "given") s += `@settings:${plain(v.settings_name ?? "")}`;
  if (v.stage === "raw") s += "@raw";
  return s;
}

/** Reads a code; undefined where it is none, or where its settings file is not among those at hand. */
export function versionOf(code: string, files: readonly SettingsFile[] = []): FlightVersion | undefined {
  const [flight = "", ...parts] = code.split("@");
  if (flight === "") return undefined;
  let v: FlightVersion = { flight };
  for (const p of parts) {
    const cut = p.indexOf(":");
    const key = cut < 0 ? p : p.slice(0, cut), value = cut < 0 ? "" : p.slice(cut + 1);
    if (key === "raw") v = { ...v, stage: "raw" };
    else if (key === "shipped") v = { ...v, settings: "shipped" };
    else if (key === "without" && value !== "") v = { ...v, without: value };
    else if (key === "revision" && /^\d+$/.test(value)) v = { ...v, as_of_revision: Number(value) };
    else if (key === "settings") {
      const file = files.find((f) => plain(f.name) === value);
      if (file === undefined) return undefined;
      v = { ...v, settings: "given", settings_name: file.name, settings_text: file.text };
    } else return undefined;
  }
  return v;
}

const what = (r: Ruling): string => r.about?.action.replaceAll("-", " ") ?? r.kind;

/** The versions a flight has, as code and words, the usual ones first. */
export function versionsOf(flight: Flight, files: readonly SettingsFile[] = []): (readonly [string, string])[] {
  const id = flight.id;
  const out: (readonly [string, string])[] = [[id, "as it stands"], [`${id}@raw`, "as received"]];
  for (const d of flight.decisions ?? []) if (d.revoked === undefined || d.revoked === null) out.push([`${id}@without:${d.id}`, `without ${d.id}: ${d.action.replaceAll("-", " ")}, ${d.reason}`.slice(0, 80)]);
  const history = flight.history ?? [];
  if (history.length > 0) out.push([`${id}@revision:0`, "before every decision"]);
  for (const r of history.slice(0, -1)) out.push([`${id}@revision:${r.revision}`, `as of revision ${r.revision}, after ${what(r)} by ${r.who}`.slice(0, 80)]);
  out.push([`${id}@shipped`, "with the shipped settings"]);
  for (const f of files) out.push([withSettings(id, f), `with the settings ${f.name}`]);
  return out;
}

/** The code of a flight with a settings file; one without text is what ships. */
export const withSettings = (id: string, f: SettingsFile): string => (f.text === "" ? `${id}@shipped` : `${id}@settings:${plain(f.name)}`);

/** The flight before a step of its history, and after it. */
export const aroundStep = (flight: Pick<Flight, "id" | "revision">, revision: number): readonly [string, string] =>
  [`${flight.id}@revision:${revision - 1}`, revision === flight.revision ? flight.id : `${flight.id}@revision:${revision}`];

/** What is particular about a version, "" where nothing is. */
export function wordsOf(v: FlightVersion): string {
  return [
    v.stage === "raw" ? "as received" : "", v.without === undefined ? "" : `without decision ${v.without}`, v.as_of_revision === undefined ? "" : `as of revision ${v.as_of_revision}`,
    v.settings === "shipped" ? "shipped settings" : v.settings === "given" ? `settings ${v.settings_name ?? ""}` : "",
  ].filter((x) => x !== "").join(", ");
}

/** A part of an address as it was meant; one that was cut off or mistyped stays as it stands. */
export function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

/** Sides in an address: "#/compare/3@raw/3". */
export const sidesIn = (rest: string): string[] => rest.split("/").map(decoded).filter((x) => x !== "").slice(0, most);
export const compareAddress = (codes: readonly string[]): string => `/compare/${codes.map((c) => encodeURIComponent(c)).join("/")}`;

/** Bounds of layers as they are typed; a sentence where they cannot be. */
export function boundsOf(text: string): readonly number[] | string {
  const words = text.split(/[\s,;]+/).filter((x) => x !== "");
  if (words.length === 0) return [];
  const list = words.map(Number);
  const bad = words.find((_, i) => !Number.isFinite(list[i]) || (list[i] as number) <= 0);
  if (bad !== undefined) return `“${bad}” is no pressure.`;
  if (list.length < 2) return "Layers need two bounds or more.";
  for (let i = 1; i < list.length; i++) if ((list[i] as number) >= (list[i - 1] as number)) return `The bounds must fall: ${words[i] ?? ""} follows ${words[i - 1] ?? ""}.`;
  return list;
}

export interface ComparedPanel {
  readonly name: VariableName;
  readonly title: string;
  readonly short: string; // where there is little room
  readonly ink: Ink;
  readonly least: number; // smallest range of the values shown
  readonly leastDifference: number;
  readonly dots?: boolean;
}

const usual: readonly ComparedPanel[] = [
  { name: "temperature", title: "Temperature", short: "Temp.", ink: "temperature", least: 4, leastDifference: 0.2 },
  { name: "humidity", title: "Humidity", short: "Hum.", ink: "humidity", least: 10, leastDifference: 2 },
  { name: "wind_speed", title: "Wind speed", short: "Speed", ink: "wind", least: 4, leastDifference: 1 },
  { name: "wind_direction", title: "Wind from", short: "From", ink: "wind", least: 40, leastDifference: 10, dots: true },
];
const places: readonly ComparedPanel[] = [
  { name: "pressure", title: "Pressure", short: "p", ink: "ink", least: 10, leastDifference: 0.2 },
  { name: "height_msl", title: "Height", short: "z", ink: "ink", least: 100, leastDifference: 10 },
  { name: "geopotential_height", title: "Geopotential height", short: "gph", ink: "ink", least: 100, leastDifference: 10 },
];

/** The panels shown: the last is the pressure, or the height where pressures are equal. */
export function comparedPanels(has: (v: VariableName) => boolean): ComparedPanel[] {
  const last = places.find((p) => has(p.name));
  return last === undefined ? [...usual] : [...usual, last];
}
