// The logbook's rows: search, filter, sort. The server sends them worst first.
import type { Row } from "../api/types";

export type SortKey = "worst" | "slot" | "site" | "verdict" | "top" | "open" | "state" | "reviewer" | "temperature" | "humidity";

export interface Wanted {
  readonly text: string;
  readonly verdict: "" | "accept" | "look" | "refuse";
  readonly state: "" | "new" | "in review" | "signed off" | "signed off, differs now" | "not signed off" | "other method set";
  readonly site: string; // "" any
  readonly sheet: string; // "" any
  readonly sort: SortKey;
  readonly falling: boolean;
}

export const everything: Wanted = { text: "", verdict: "", state: "", site: "", sheet: "", sort: "worst", falling: false };

/** What a row is searched by, in lower case. */
const haystack = (r: Row): string =>
  [r.name, r.site, r.line, r.reviewer, r.signer ?? "", r.serial, r.sheet, ...(r.sources ?? []), ...(r.reasons ?? [])].join("\n").toLowerCase();

const verdictRank: { readonly [v: string]: number } = { refuse: 0, look: 1, accept: 2 };

/** Instant a row is sorted by: the nominal hour, else the release. */
export const slotOf = (r: Row): string => r.nominal_utc ?? r.release_utc ?? "";

const lowest = (list: readonly (number | null)[] | null): number => Math.min(...(list ?? []).filter((x) => x !== null), Infinity);
const highest = (list: readonly (number | null)[] | null): number => Math.max(...(list ?? []).filter((x) => x !== null), -Infinity);
const number = (a: number, b: number): number => (a === b ? 0 : a < b ? -1 : 1);

const by: { readonly [k in SortKey]: (a: Row, b: Row) => number } = {
  worst: () => 0,
  slot: (a, b) => slotOf(a).localeCompare(slotOf(b)),
  site: (a, b) => a.site.localeCompare(b.site) || slotOf(a).localeCompare(slotOf(b)),
  verdict: (a, b) => (verdictRank[a.verdict] ?? -1) - (verdictRank[b.verdict] ?? -1),
  top: (a, b) => (a.top_m_msl ?? -1) - (b.top_m_msl ?? -1),
  open: (a, b) => a.open - b.open,
  state: (a, b) => a.state.localeCompare(b.state),
  reviewer: (a, b) => a.reviewer.localeCompare(b.reviewer),
  temperature: (a, b) => number(lowest(a.sketch_temperature_k), lowest(b.sketch_temperature_k)),
  humidity: (a, b) => number(highest(a.sketch_humidity_pct), highest(b.sketch_humidity_pct)),
};

/** Whether a row is in the state asked for; what differs now is signed off, too. */
export const inState = (r: Row, state: Wanted["state"]): boolean =>
  state === "" || (state === "other method set" ? (r.method_set_now ?? "") !== "" : state === "signed off" ? (r.signer ?? "") !== "" : state === "not signed off" ? (r.signer ?? "") === "" : r.state === state);

/** The rows wanted, in the order wanted; equal ones stay worst first. */
export function pick(rows: readonly Row[], w: Wanted): Row[] {
  const words = w.text.toLowerCase().split(/\s+/).filter((x) => x !== "");
  const out = rows.filter(
    (r) => (w.verdict === "" || r.verdict === w.verdict) && inState(r, w.state) &&
      (w.site === "" || r.site === w.site) && (w.sheet === "" || r.sheet === w.sheet) &&
      (words.length === 0 || ((h) => words.every((x) => h.includes(x)))(haystack(r))),
  );
  if (w.sort === "worst") return w.falling ? out.reverse() : out;
  const compare = by[w.sort];
  return out.sort(w.falling ? (a, b) => compare(b, a) : compare);
}

/** The different words that rows have, in order; without "". */
export const wordsOf = (rows: readonly Row[], of: (r: Row) => string): string[] => [...new Set(rows.map(of))].filter((x) => x !== "").sort((a, b) => a.localeCompare(b));
