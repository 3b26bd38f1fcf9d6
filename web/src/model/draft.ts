// A decision in the making.
import type { Action, Decision, VariableName } from "../api/types";
import type { Bench, RowSpan } from "./bench";
import { prose, withUnit } from "./units";

export interface Draft {
  readonly action: Action;
  readonly title: string;
  readonly variables: readonly VariableName[];
  readonly offered: readonly VariableName[]; // that may be chosen; empty: the action is about none
  readonly span: RowSpan | undefined;
  readonly spans?: readonly RowSpan[]; // where there are several, the span reaches from the first to the last
  readonly field: string;
  readonly value: string;
  readonly reason?: string; // offered, to be kept or replaced
}

export interface Offer {
  readonly key: string;
  readonly label: string;
  readonly draft: Draft;
}

const base = { variables: [], offered: [], span: undefined, field: "", value: "" } as const;

/** What may be decided on: the flight's variables a person thinks in, wind as one thing. */
export function decidable(b: Bench): VariableName[] {
  const wanted: readonly VariableName[] = ["pressure", "temperature", "humidity", "humidity_a", "humidity_b", "wind_speed", "height_msl", "ascent_rate", "latitude", "longitude"];
  return wanted.filter((v) => (b.flight.variables ?? []).some((x) => x.name === v));
}

/** What can be done with a span, first the most usual. */
export function offers(b: Bench, span: RowSpan, variables: readonly VariableName[]): Offer[] {
  const offered = decidable(b);
  const chosen = variables.filter((v) => offered.includes(v)).slice(0, 1);
  const on = { ...base, variables: chosen, offered, span };
  const list: Draft[] = [
    { ...on, action: "exclude", title: "Exclude" },
    { ...on, action: "restore", title: "Restore" },
    { ...on, action: "flag", title: "Questionable", value: "questionable" },
    { ...on, action: "flag", title: "Bad", value: "bad" },
    { ...on, action: "flag", title: "Good", value: "good" },
  ];
  if (offered.includes("humidity_b")) {
    list.push({ ...base, span, action: "choose-sensor", title: "Sensor A", value: "a" }, { ...base, span, action: "choose-sensor", title: "Sensor B", value: "b" });
  }
  list.push(
    { ...base, action: "set-release", title: "Release at its foot", value: b.profile.utc(span.from) },
    { ...base, action: "set-burst", title: "Burst at its top", value: b.profile.utc(span.to) },
    { ...base, span, action: "note", title: "Note" },
  );
  return list.map((draft, i) => ({ key: draft.action === "note" ? "m" : i < 9 ? String(i + 1) : "", label: draft.title, draft }));
}

/** A note: about the selected finding, from its first sample to its last, or about the flight. */
export function note(b: Bench): Draft {
  const of = spanOfFinding(b);
  return of === undefined ? { ...base, action: "note", title: "Note about the flight" } : { ...base, action: "note", title: "Note about the finding", span: of.span };
}

/** A number as the server gives it for the launch record, kelvin for temperatures, in the unit the record is read in here. */
export function recordValue(value: string, unit: string): string {
  const kelvin = unit === "°C" && /^\d+(\.\d+)?$/.test(value);
  return withUnit(kelvin ? String(Number((Number(value) - 273.15).toFixed(6))) : value, unit);
}

/** A decision that leadline suggests, as a draft to look at. */
export function suggested(d: Decision, b: Bench): Draft {
  const span = d.from_utc !== undefined && d.to_utc !== undefined ? { from: b.profile.rowAt(d.from_utc), to: Math.max(b.profile.rowAt(d.from_utc), Math.min(b.profile.rowAt(d.to_utc), b.profile.rows - 1)) } : undefined;
  const item = (b.flight.record ?? []).find((i) => i.path === d.field);
  const titles: { readonly [a in Action]?: string } = {
    exclude: "Exclude", restore: "Restore", flag: "Flag", "set-release": "Move the release", "set-burst": "Move the burst", "choose-sensor": `Choose sensor ${(d.value ?? "").toUpperCase()}`,
    "correct-record": `Correct ${item?.label ?? d.field ?? ""}`,
  };
  const variables = d.variables ?? [];
  return { ...base, action: d.action, title: titles[d.action] ?? d.action, variables, offered: variables.length > 0 ? [...new Set([...variables, ...decidable(b)])] : [], span, field: d.field ?? "", value: recordValue(d.value ?? "", item?.unit ?? ""), reason: prose(d.reason) };
}

/** To accept or dismiss a finding. */
export const ruling = (action: "accept" | "dismiss", id: string): Draft => ({ ...base, action, title: action === "accept" ? "Accept the finding" : "Dismiss the finding", field: id });

export const recordCorrection = (field: string, label: string, value: string): Draft => ({ ...base, action: "correct-record", title: `Correct ${label}`, field, value });

/** The samples of the selected finding, or of its place in hand, for deciding about them: never those between its places. */
export function spanOfFinding(b: Bench): { span: RowSpan; spans: RowSpan[]; variables: VariableName[] } | undefined {
  const f = b.finding();
  const spans = (f?.spans ?? []).filter((_, i) => b.place === undefined || i === b.place).map((s) => ({ from: s.from_row, to: s.to_row - 1 })).sort((x, y) => x.from - y.from);
  const from = spans[0]?.from, to = Math.max(...spans.map((s) => s.to));
  return f === undefined || from === undefined ? undefined : { span: { from, to }, spans, variables: [f.variable] };
}

/** The draft as the server wants it. Spans go as instants, so that they keep their meaning when the release moves. */
export function decisionOf(d: Draft, b: Bench, reason: string, who: string): Decision {
  // A bare number typed for the launch record is in the unit that stands beside the item.
  const value = d.action === "correct-record" ? withUnit(d.value, (b.flight.record ?? []).find((i) => i.path === d.field)?.unit ?? "") : d.value;
  return {
    id: "", action: d.action, reason, who,
    ...(d.variables.length > 0 ? { variables: d.variables } : {}),
    ...(d.spans !== undefined && d.spans.length > 1 ? { spans: d.spans.map((s) => ({ from_utc: b.profile.utc(s.from), to_utc: b.profile.utc(s.to) })) } : d.span !== undefined ? { from_utc: b.profile.utc(d.span.from), to_utc: b.profile.utc(d.span.to) } : {}),
    ...(d.field !== "" ? { field: d.field } : {}),
    ...(value !== "" ? { value } : {}),
  };
}

/** The last decision in force, or undefined. */
export const lastInForce = (list: readonly Decision[] | null): Decision | undefined => (list ?? []).filter((d) => d.revoked === undefined).at(-1);
