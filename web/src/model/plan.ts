// A preparation as the browser holds it, and the plan file it stands for.
import type { Desk, DeskFile, DeskPlan, DeskRequest, Remark } from "../api/types";

export type BlockName = "slot" | "place" | "fill" | "drift" | "check" | "surface" | "list" | "release";

export const blocks: readonly (readonly [BlockName, string])[] = [
  ["slot", "Slot"], ["place", "Weather and place"], ["fill", "Balloon and gas"], ["drift", "Where it will go"], ["check", "Ground check"],
  ["surface", "Surface observation"], ["list", "Launch list"], ["release", "Release"],
];

export type Entries = { readonly [key: string]: string };

/** Everything is text as it was typed; the server reads it. */
export interface Draft {
  readonly fields: Entries; // by the path of the plan file
  readonly lists: { readonly [name: string]: readonly Entries[] }; // payload.package, cylinder, stock, tick
  readonly files: readonly DeskFile[]; // named by the plan
  readonly windFlight: string; // of the logbook
  readonly drag: boolean; // fitted to this site's flights
}

export const emptyDraft: Draft = { fields: {}, lists: {}, files: [], windFlight: "", drag: false };

export interface Field {
  readonly path: string;
  readonly label: string;
  readonly unit?: string;
  readonly sample?: string;
  readonly options?: readonly (readonly [string, string])[];
}

const f = (path: string, label: string, unit = "", sample = ""): Field => ({ path, label, unit, sample });
const choose = (path: string, label: string, options: readonly (readonly [string, string])[]): Field => ({ path, label, options });

/** The fields of each block in the order of the work. */
export const fieldsOf: { readonly [b in BlockName]: readonly Field[] } = {
  slot: [
    f("release.nominal_utc", "Nominal hour", "UTC", "2031-06-04 00:00"), f("time_zone", "Local time of", "zone", "Europe/Zurich"), f("slot.local", "Nominal hour by the local clock, instead", "", "2031-06-04 02:00"),
    f("slot.releases", "Releases still to come, with this one", ""), f("slot.extra", "Extra releases agreed, with commas between", "UTC", "2031-06-04 15:00"),
  ],
  place: [
    f("site.name", "Site"), f("site.latitude_deg", "Latitude", "° north"), f("site.longitude_deg", "Longitude", "° east"),
    f("site.height_m_msl", "Height of the release point", "m above sea level"), f("site.barometer_height_m_msl", "Height of the barometer", "m above sea level"),
    f("site.antenna_height_m_msl", "Height of the antenna", "m above sea level"), f("operator", "Operator"),
    choose("fill.weather", "Weather on the way up", [["none", "dry"], ["light-rain", "light rain"], ["rain", "rain"], ["icing", "icing"]]),
  ],
  fill: [
    choose("balloon.gas", "Gas", [["helium", "helium"], ["hydrogen", "hydrogen"]]), f("fill.purity_pct", "Purity", "%", "99"), f("balloon.mass_kg", "Balloon", "kg", "0.8"),
    f("balloon.payload_kg", "Everything tied on below", "kg"), f("balloon.target_ascent_rate_m_s", "Wanted mean rate of climb", "m/s", "5"), f("balloon.nozzle_lift_kg", "Nozzle lift, if that is given instead", "kg"),
    f("fill.burst_diameter_m", "Burst diameter, if the maker gives another", "m"), f("balloon.string_m", "String", "m"), f("payload.string_breaks_n", "Force that breaks the string", "N"), choose("balloon.parachute", "Parachute", [["yes", "yes"], ["no", "no"]]),
  ],
  drift: [f("descent.fall_rate_m_s", "Rate of fall near the ground", "m/s"), f("descent.landing_height_m_msl", "Ground where it may land", "m above sea level")],
  check: [
    f("radiosonde.serial", "Serial number"), f("radiosonde.frequency_mhz", "Frequency", "MHz"), f("ground_check.time_utc", "Time of the check", "UTC"),
    f("ground_check.reference_temperature_c", "Reference temperature", "°C"), f("ground_check.temperature_c", "Radiosonde temperature", "°C"),
    f("ground_check.reference_humidity_pct", "Reference humidity", "%"), f("ground_check.humidity_a_pct", "Humidity sensor A", "%"), f("ground_check.humidity_b_pct", "Humidity sensor B", "%"), f("ground_check.humidity_pct", "Humidity, if there is one sensor", "%"),
    f("ground_check.reference_pressure_hpa", "Reference pressure", "hPa"), f("ground_check.pressure_hpa", "Radiosonde pressure", "hPa"),
  ],
  surface: [
    f("surface.time_utc", "Time of the observation", "UTC"), f("surface.pressure_hpa", "Pressure at the barometer, not reduced", "hPa"), f("surface.temperature_c", "Temperature", "°C"),
    f("surface.humidity_pct", "Humidity", "%"), f("surface.dew_point_c", "Dew point", "°C"), f("surface.wind_speed_m_s", "Wind speed", "m/s, or write 4 kt"),
    f("surface.wind_direction_deg", "Wind from, true", "°"), f("wind_compass_deg", "or by compass", "°"), f("declination_deg", "Declination, east positive", "°"), f("surface.cloud_code", "Cloud group"),
  ],
  list: [],
  release: [f("release.declared_utc", "Released at", "UTC, to the second"), f("notes", "Notes")],
};

/** The second comparison, nearer to the release; temperatures are typed in °C. */
export const secondCheck: readonly Field[] = [
  f("second_check.reference_temperature_k", "Reference temperature", "°C"), f("second_check.temperature_k", "Radiosonde temperature", "°C"), f("second_check.reference_humidity_pct", "Reference humidity", "%"),
  f("second_check.humidity_a_pct", "Humidity sensor A", "%"), f("second_check.humidity_b_pct", "Humidity sensor B", "%"),
];

/** What a person rules on the radiosonde; against the comparison with a name and a reason. */
export const ruling: readonly Field[] = [
  choose("ground_check.ruling", "Ruling on this radiosonde", [["accept", "fly it"], ["reject", "take another"]]), f("ground_check.ruled_by", "Ruled by"), f("ground_check.ruling_reason", "Reason of the ruling"),
];

export const contact: readonly Field[] = [f("contact.name", "Name"), f("contact.phone", "Telephone"), f("contact.mail", "Mail"), f("contact.text", "Text for the finder")];

const recordTables = new Set(["site", "release", "surface", "ground_check", "radiosonde", "balloon"]);
const texts = new Set(["operator", "notes", "time_zone", "launch_list", "slot.local", "fill.weather", "fill.balloons", "wind.profile"]);
const arrays = new Set(["slot.extra", "areas.files", "station_flights.files"]);
const listTexts = new Set(["name", "gas", "gauge_pressure", "temperature", "step", "who", "note"]);
const numeric = /^[-+]?\d+(\.\d+)?([eE][-+]?\d+)?$/;
const instant = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(:\d\d)?(Z|[-+]\d\d:\d\d)?$/;
const quote = (s: string): string => JSON.stringify(s.replace(/[\ud800-\udfff]/gu, "\ufffd").replaceAll("\u007f", ""));

/** A value of a list's row. */
function rowLiteral(key: string, text: string): string {
  if (key.endsWith("_utc")) {
    const m = instant.exec(text);
    return m === null ? quote(text) : `${m[1]}T${m[2]}${m[3] ?? ":00"}${m[4] ?? "Z"}`;
  }
  return listTexts.has(key) || !numeric.test(text) ? quote(text) : text;
}

function literal(path: string, text: string): string {
  const table = path.split(".")[0] as string;
  if (arrays.has(path)) return `[${text.split(",").map((x) => quote(x.trim())).join(", ")}]`;
  if (texts.has(path) || table === "contact" || (path.includes(".") && recordTables.has(table))) return quote(text);
  const number = text.replace("−", "-");
  if (!numeric.test(number)) return quote(text);
  if (table === "second_check" && path.endsWith("_k")) return (Number(number) + 273.15).toFixed(3);
  return number.replace(/^\+/, "");
}

export interface PlanText {
  readonly text: string;
  readonly paths: readonly string[]; // of each line, "" for none
}

/** Writes the plan file, and which field stands on which line. */
export function planText(d: Draft): PlanText {
  const lines: string[] = [], paths: string[] = [];
  const line = (text: string, path = ""): void => {
    lines.push(text);
    paths.push(path);
  };
  const tables = new Map<string, string[]>();
  for (const [path, text] of Object.entries(d.fields)) {
    if (text.trim() === "") continue;
    const at = path.lastIndexOf(".");
    const table = at < 0 ? "" : path.slice(0, at);
    tables.set(table, [...(tables.get(table) ?? []), path]);
  }
  for (const table of [...tables.keys()].sort()) {
    if (table !== "") line(`[${table}]`);
    for (const path of (tables.get(table) ?? []).sort()) line(`${path.slice(path.lastIndexOf(".") + 1)} = ${literal(path, (d.fields[path] as string).trim())}`, path);
  }
  for (const name of Object.keys(d.lists).sort()) {
    for (const row of d.lists[name] ?? []) {
      const keys = Object.keys(row).sort().filter((k) => (row[k] as string).trim() !== "");
      if (keys.length === 0) continue;
      line(`[[${name}]]`, name);
      for (const k of keys) {
        line(`${k} = ${rowLiteral(k, (row[k] as string).trim())}`, `${name}.${k}`);
      }
    }
  }
  return { text: lines.join("\n"), paths };
}

export const requestOf = (d: Draft, plan: PlanText, drag: readonly string[]): DeskRequest => ({
  plan: plan.text, files: d.files, ...(d.windFlight === "" ? {} : { wind_flight: d.windFlight }), ...(d.drag && drag.length > 0 ? { drag_flights: drag } : {}),
});

/** A plan file that was opened. Files it names are kept where they were chosen already. */
export function draftOf(p: DeskPlan, before: Draft): Draft {
  const lists: { [name: string]: readonly Entries[] } = {};
  for (const [name, rows] of Object.entries(p.lists)) lists[name] = rows ?? [];
  const fields: { [path: string]: string } = {};
  for (const [path, text] of Object.entries(p.fields)) {
    const kelvin = path.startsWith("second_check.") && path.endsWith("_k");
    fields[path] = kelvin ? String(Math.round((Number(text) - 273.15) * 1000) / 1000) : text;
  }
  const wanted = new Set(p.files ?? []);
  return { ...emptyDraft, fields, lists, files: before.files.filter((x) => wanted.has(x.name)) };
}

const kept = /^(site\.|balloon\.(?!nozzle_lift)|fill\.|slot\.(?!local)|descent\.|contact\.|areas\.|payload\.|operator$|time_zone$|declination_deg$|launch_list$|radiosonde\.(sheet|mass_kg))/;

/** The same site and gear for the next release: what belongs to one flight is left out. */
export function nextDraft(d: Draft): Draft {
  const fields: { [path: string]: string } = {};
  for (const [path, text] of Object.entries(d.fields)) if (kept.test(path)) fields[path] = text;
  const { tick: _, ...lists } = d.lists;
  // One release fewer is to come once this one was made.
  const left = Number(d.fields["slot.releases"] ?? "");
  if ((d.fields["release.declared_utc"] ?? "").trim() !== "" && Number.isInteger(left) && left > 1) fields["slot.releases"] = String(left - 1);
  return { ...d, fields, lists, windFlight: "", files: d.files.filter((x) => x.name !== d.fields["wind.profile"]) };
}

const blockOfRemark: { readonly [about: string]: BlockName } = {
  slot: "slot", place: "place", fill: "fill", "gas store": "fill", stock: "fill", drift: "drift", airspace: "drift", "ground check": "check", surface: "surface", list: "list",
};

export const remarksFor = (b: BlockName, list: readonly Remark[] | null | undefined): readonly Remark[] => (list ?? []).filter((r) => (blockOfRemark[r.about] ?? "release") === b);

/** The block a field belongs to. */
export function blockOf(path: string): BlockName {
  for (const [b] of blocks) if (fieldsOf[b].some((x) => x.path === path)) return b;
  const table = path.split(".")[0] as string;
  const of: { readonly [t: string]: BlockName } = {
    slot: "slot", site: "place", payload: "fill", fill: "fill", cylinder: "fill", stock: "fill", balloon: "fill", wind: "drift", areas: "drift", descent: "drift",
    station_flights: "fill", ground_check: "check", second_check: "check", radiosonde: "check", surface: "surface", tick: "list", launch_list: "list",
  };
  return of[table] ?? "release";
}

/** What the screen calls the keys of a plan file. */
const keyWords: readonly (readonly [string, string])[] = [
  ...Object.values(fieldsOf).flat(), ...secondCheck, ...ruling, ...contact,
].map((x): readonly [string, string] => [x.path, x.label]).concat([
  ["wind.profile", "Wind profile, such as a forecast"], ["wind.flight", "Wind from a flight of the logbook"], ["payload.package", "Things tied on, one by one"], ["areas.files", "Keep-out areas and lines"],
  ["launch_list", "The site's own list"], ["radiosonde.sheet", "Instrument sheet"], ["fill.free_lift_kg", "free lift"], ["fill.balloons", "table of balloons"], ["gauge_pressure", "gauge"], ["counted_utc", "counted at"], ["read_utc", "gauge read at"],
]);
const escaped = (s: string): string => s.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
const keyPattern = (path: string): string => {
  if (!path.includes(".")) return escaped(path);
  const kelvin = /_[kc]$/.test(path) ? `${escaped(path.slice(0, -2))}(?:_[kc])?` : escaped(path);
  return path.endsWith("_utc") ? `${escaped(path.slice(0, -4))}(?:_utc)?` : kelvin;
};
const keyPatterns = [...keyWords].sort((a, b) => b[0].length - a[0].length).map(([path, label]): readonly [RegExp, string] => [new RegExp(`(?<![\\w.])(?:\\[\\[)?${keyPattern(path)}(?:\\]\\])?(?![\\w.]*\\w)`, "g"), `“${label}”`]);

/** A sentence of the server in the words of the fields: no keys of the plan file, no lines of it. */
export function inWords(sentence: string): string {
  let out = sentence.split("\n").map((l) => l.replace(/^plan: (line \d+(, column \d+)?: )?/, "")).join("\n");
  for (const [key, label] of keyPatterns) out = out.replace(key, label);
  return out;
}

/** Which field a refusal of the server is about: its line in the plan, a path it names, or "". */
export function pathOf(sentence: string, plan: PlanText): string {
  const m = /line (\d+)/.exec(sentence);
  const byLine = m === null ? undefined : plan.paths[Number(m[1]) - 1];
  if (byLine !== undefined && byLine !== "") return byLine;
  if (sentence.startsWith("time_zone")) return "time_zone";
  return plan.paths.find((p) => p !== "" && sentence.includes(p)) ?? "";
}

export type Status = "done" | "open" | "warning" | "stop";

/** Where a block stands. */
export function statusOf(b: BlockName, d: Draft, desk: Desk | undefined, refused: BlockName | undefined): Status {
  if (refused === b) return "stop";
  const s = desk?.sheet;
  if (s === undefined || s === null) return "open";
  const remarks = remarksFor(b, s.remarks), missing = remarksFor(b, desk?.missing);
  if (remarks.some((r) => r.level === "stop") || missing.some((r) => r.level === "stop")) return "stop";
  const wanted = missing.length > 0;
  const open: { readonly [x in BlockName]: boolean } = {
    slot: wanted, place: wanted, fill: wanted || s.fill === null, drift: s.drift === null, check: (s.ground_check.lines ?? []).length === 0, surface: wanted,
    list: (s.launch_list ?? []).some((x) => x.when !== "after" && x.tick === undefined), release: (d.fields["release.declared_utc"] ?? "").trim() === "",
  };
  if (open[b] && b !== "list") return "open";
  if (b !== "list" && remarks.some((r) => r.level === "warning")) return "warning";
  return open[b] ? "open" : "done";
}

/** The next four nominal hours from an instant, as they are typed. */
export function nominalHours(now: Date): readonly string[] {
  const first = Math.ceil(now.getTime() / 21600e3) * 21600e3;
  return [0, 1, 2, 3].map((i) => new Date(first + i * 21600e3).toISOString().slice(0, 16).replace("T", " "));
}

export const stamp = (now: Date): string => now.toISOString().slice(0, 19).replace("T", " ");
