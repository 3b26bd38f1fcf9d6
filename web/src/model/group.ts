// One decision for many flights: what is proposed, what it changes, in words.
import type { Effect, Group, Proposal, Range, Row, VariableName } from "../api/types";
import { display, format, nameOf, prose, withUnit } from "./units";

export type Kind = "correct-record" | "choose-sheet" | "exclude" | "flag";

/** An end of a range as it is typed, in the unit of the screen. */
export interface TypedRange {
  readonly of: string; // "time" or a variable
  readonly from: string;
  readonly to: string;
}

/** A proposal in the making. */
export interface GroupDraft {
  readonly kind: Kind;
  readonly field: string;
  readonly value: string;
  readonly shifted: boolean; // the value is added to what each flight has
  readonly sheet: string; // name of a shipped sheet, or of the file below
  readonly sheetText: string; // "" for a shipped one
  readonly check: string;
  readonly about: VariableName;
  readonly severity: "note" | "questionable" | "bad";
  readonly flag: "questionable" | "bad";
  readonly variables: readonly VariableName[];
  readonly where: readonly TypedRange[];
}

export const emptyDraft: GroupDraft = {
  kind: "correct-record", field: "", value: "", shifted: false, sheet: "", sheetText: "", check: "", about: "none", severity: "questionable", flag: "questionable", variables: [], where: [],
};

/** Variables a person rules on for many flights; one on the wind is on all of it. */
export const ruledOn: readonly VariableName[] = ["pressure", "temperature", "humidity", "humidity_a", "humidity_b", "wind_speed", "height_msl", "latitude", "longitude"];
export const ruledName = (v: VariableName): string => (v === "wind_speed" ? "wind" : nameOf(v));

/** Quantities a range may be of, with the unit they are typed in. */
export const rangesOf: readonly (readonly [string, string, string])[] = [
  ["pressure", "pressure", "hPa"], ["height_msl", "height above mean sea level", "m"], ["time", "time since release", "s"], ["temperature", "temperature", "°C"], ["humidity", "relative humidity", "%"],
  ["wind_speed", "wind speed", "m/s"], ["ascent_rate", "ascent rate", "m/s"], ["solar_elevation", "solar elevation", "°"],
];

/** A number as people type it; NaN where it is none. */
function typed(text: string): number {
  const t = text.trim().replace("−", "-").replace(",", ".");
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(t) ? Number(t) : NaN;
}

/** What is missing from a draft before its effect can be computed; "" where nothing is. */
export function missing(d: GroupDraft): string {
  switch (d.kind) {
    case "correct-record":
      return d.field === "" ? "Choose an item of the launch record." : d.value.trim() !== "" ? "" : d.shifted ? "Give the amount, with sign and unit." : "Give the new value, with its unit.";
    case "choose-sheet":
      return d.sheet === "" ? "Choose an instrument sheet." : "";
    case "exclude":
    case "flag": {
      for (const r of d.where) {
        if (r.from.trim() === "" && r.to.trim() === "") return "Give the range at least one end, or take it out.";
        for (const end of [r.from, r.to]) if (end.trim() !== "" && Number.isNaN(typed(end))) return `“${end}” is no number.`;
      }
      if (d.check === "" && d.about === "none") {
        if (d.where.length === 0) return "Say which kind of span: a check, a variable, or a range.";
        if (d.variables.length === 0) return "Say which variables: a range alone does not.";
      }
      return "";
    }
  }
}

/** A bare number is in the unit that stands beside the item; an amount it is shifted by needs its own. */
export function proposalOf(d: GroupDraft, reason: string, who: string, unit = ""): Proposal {
  const base = { action: d.kind, reason, who };
  switch (d.kind) {
    case "correct-record":
      return { ...base, field: d.field, value: d.shifted ? d.value.trim() : withUnit(d.value.trim(), unit), ...(d.shifted ? { shifted: true } : {}) };
    case "choose-sheet":
      return { ...base, sheet: { name: d.sheet, ...(d.sheetText === "" ? {} : { text: d.sheetText }) } };
    case "exclude":
    case "flag": {
      const where = d.where.map((r): Range => {
        const offset = r.of === "time" ? 0 : display(r.of as VariableName).offset;
        const end = (t: string): number | null => (t.trim() === "" ? null : typed(t) - offset);
        return { of: r.of, from: end(r.from), to: end(r.to) };
      });
      return { ...base, ...(d.kind === "flag" ? { value: d.flag } : {}), kind: { check: d.check, about: d.about, severity: d.severity, where, variables: d.variables } };
    }
  }
}

/** What follows from measured variables: named, where they change too, without figures. */
const derived: readonly VariableName[] = ["dew_point", "mixing_ratio", "virtual_temperature", "potential_temperature", "geopotential_height"];

/** An item of the launch record as it stands in a line: thousands apart, a true minus, instants as day and time. */
export function itemText(text: string): string {
  const decimals = /^-?\d+(\.\d+)?$/.test(text) ? (text.split(".")[1] ?? "").length : -1;
  return text === "" ? "not given" : decimals >= 0 ? format(Number(text), decimals) : prose(text);
}

/** What changes on one flight, each part a few words. */
export function effectParts(e: Effect): string[] {
  const out: string[] = [];
  if (e.item !== undefined) out.push(`${e.item.label} ${itemText(e.item.before)} → ${itemText(e.item.after)} ${e.item.unit}`.trim());
  if (e.sheet !== undefined) out.push(`${e.sheet[0] === "" ? "no sheet" : e.sheet[0]} → ${e.sheet[1]}`);
  if (e.samples > 0) out.push(`${format(e.samples, 0)} ${e.samples === 1 ? "sample" : "samples"} in ${format(e.spans, 0)} ${e.spans === 1 ? "span" : "spans"}`);
  if (e.release_s !== null && Math.abs(e.release_s) > 0.0005) out.push(`release moves by ${format(e.release_s, 1)} s`);
  const small: string[] = [], also: string[] = [];
  const measured = (e.variables ?? []).some((v) => !derived.includes(v.variable));
  for (const v of e.variables ?? []) {
    if (v.variable === "wind_direction" || v.variable === "wind_u" || v.variable === "wind_v") continue; // the wind's speed stands for all of it
    const x = display(v.variable);
    const seen = v.largest_change === null ? v.values_changed > 0 : Math.abs(v.largest_change) >= 0.5 * 10 ** -x.decimals;
    const parts: string[] = [];
    if (v.flags_changed > 0) parts.push(`${format(v.flags_changed, 0)} ${v.flags_changed === 1 ? "flag" : "flags"}`);
    if (seen) parts.push(`${format(v.values_changed, 0)} ${v.values_changed === 1 ? "value" : "values"}${v.largest_change === null ? "" : ` by ${format(v.largest_change, x.decimals)} ${x.unit} at most`}`);
    if (measured && derived.includes(v.variable)) {
      if (parts.length > 0) also.push(nameOf(v.variable));
    } else if (parts.length === 0) small.push(ruledName(v.variable));
    else out.push(`${ruledName(v.variable)} ${parts.join(", ")}`);
  }
  if (also.length > 0) out.push(`with it ${also.join(", ")}`);
  if (small.length > 0) out.push(`by less than is shown: ${small.join(", ")}`);
  if (e.levels_changed > 0) out.push(`${e.levels_changed} ${e.levels_changed === 1 ? "level" : "levels"}`);
  if (e.findings_gone + e.findings_new > 0) out.push(`findings: ${e.findings_gone} go, ${e.findings_new} come`);
  return out;
}

/** Why a flight is not changed, as a sentence. */
export function refusalWords(e: Effect): string {
  if (e.effect === "no effect") return e.samples > 0 ? `No effect: its ${format(e.samples, 0)} ${e.samples === 1 ? "sample" : "samples"} of this kind ${e.samples === 1 ? "is" : "are"} withheld already.` : "No effect.";
  return `Cannot be applied: ${e.why ?? ""}${/[.!?]$/.test(e.why ?? "") ? "" : "."}`;
}

export interface Sum {
  readonly changes: number;
  readonly none: number;
  readonly cannot: number;
  readonly verdicts: readonly (readonly [string, string, number])[]; // from, to, flights
}

export function sumOf(list: readonly Effect[]): Sum {
  const n = { changes: 0, none: 0, cannot: 0 };
  const verdicts = new Map<string, number>();
  for (const e of list) {
    if (e.effect === "changes") n.changes++;
    else if (e.effect === "cannot") n.cannot++;
    else n.none++;
    if (e.verdict[0] !== e.verdict[1]) {
      const key = e.verdict.join("\n");
      verdicts.set(key, (verdicts.get(key) ?? 0) + 1);
    }
  }
  return { ...n, verdicts: [...verdicts].sort().map(([k, count]) => [k.split("\n")[0] ?? "", k.split("\n")[1] ?? "", count] as const) };
}

/** What a group decided, in words. */
export function groupWords(g: Group): string {
  switch (g.action) {
    case "correct-record": return `corrected ${g.label ?? g.field ?? ""}${(g.rule ?? "") === "" ? ` to ${prose(g.value ?? "")}` : `, ${g.rule ?? ""}`}`;
    case "choose-sheet": return `chose the instrument sheet ${g.value ?? ""}`;
    case "choose-settings": return g.value === "shipped" ? "chose the shipped settings" : `chose the settings ${g.value ?? ""}`;
    case "flag": return `set ${g.value ?? ""}: ${(g.rule ?? "").replaceAll("_", " ")}`;
    default: return `excluded ${(g.rule ?? "").replaceAll("_", " ")}`;
  }
}

/** On how many flights a group is in force, and of how many it was stored for. */
export function inForce(g: Group): readonly [number, number] {
  const all = new Set<string>(), now = new Set<string>();
  for (const p of g.parts ?? []) {
    all.add(p.flight);
    if (p.in_force) now.add(p.flight);
  }
  return [now.size, all.size];
}

/** Rows selected, with the place from which a range is drawn. */
export interface Selection {
  readonly ids: ReadonlySet<string>;
  readonly anchor: string;
}

export const nothing: Selection = { ids: new Set(), anchor: "" };

export function toggled(s: Selection, id: string): Selection {
  const ids = new Set(s.ids);
  if (!ids.delete(id)) ids.add(id);
  return { ids, anchor: id };
}

/** Adds the rows from the anchor to id; without an anchor that is shown, id alone. */
export function extended(s: Selection, id: string, shown: readonly Row[]): Selection {
  const to = shown.findIndex((r) => r.id === id), from = shown.findIndex((r) => r.id === s.anchor);
  if (to < 0) return s;
  const ids = new Set(s.ids);
  for (let i = Math.min(to, from < 0 ? to : from); i <= Math.max(to, from < 0 ? to : from); i++) ids.add((shown[i] as Row).id);
  return { ids, anchor: from < 0 ? id : s.anchor };
}

/** All rows shown; where all are selected already, none of them. */
export function allShown(s: Selection, shown: readonly Row[]): Selection {
  const ids = new Set(s.ids);
  const every = shown.length > 0 && shown.every((r) => ids.has(r.id));
  for (const r of shown) {
    if (every) ids.delete(r.id);
    else ids.add(r.id);
  }
  return { ids, anchor: s.anchor };
}

const parts: readonly (readonly [string, string])[] = [
  ["site", "Site"], ["release", "Release"], ["surface", "Surface observation"], ["ground_check", "Ground check"], ["radiosonde", "Radiosonde"], ["balloon", "Balloon"], ["", "Other"],
];

/** Items of the launch record under the heading of their part. */
export function byPart<T extends { readonly path: string }>(items: readonly T[]): (readonly [string, readonly T[]])[] {
  const known = new Set(parts.map(([k]) => k));
  const of = (i: T): string => { const head = i.path.split(".")[0] ?? ""; return i.path.includes(".") && known.has(head) ? head : ""; };
  return parts.map(([k, title]) => [title, items.filter((i) => of(i) === k)] as const).filter(([, list]) => list.length > 0);
}
