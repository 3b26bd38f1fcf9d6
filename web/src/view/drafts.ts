// Preparations in the making, kept by name in this browser and nowhere else.
import { emptyDraft, type Draft } from "../model/plan";

const key = "leadline-desk";

export interface Drafts {
  readonly current: string;
  readonly all: { readonly [name: string]: Draft };
}

const start: Drafts = { current: "release 1", all: { "release 1": emptyDraft } };
const isText = (x: unknown): x is string => typeof x === "string";
const isRecord = (x: unknown): x is Record<string, unknown> => typeof x === "object" && x !== null && !Array.isArray(x);
const entries = (x: unknown): { [k: string]: string } => (isRecord(x) ? Object.fromEntries(Object.entries(x).filter((e): e is [string, string] => isText(e[1]))) : {});

/** What was kept may be of another version or broken: only what fits is taken. */
function draftFrom(x: unknown): Draft {
  if (!isRecord(x)) return emptyDraft;
  const lists: { [name: string]: { [k: string]: string }[] } = {};
  if (isRecord(x["lists"])) for (const [name, rows] of Object.entries(x["lists"])) if (Array.isArray(rows)) lists[name] = rows.map(entries);
  const files = Array.isArray(x["files"]) ? x["files"].map(entries).filter((f) => isText(f["name"]) && isText(f["text"])).map((f) => ({ name: f["name"] as string, text: f["text"] as string })) : [];
  return { fields: entries(x["fields"]), lists, files, windFlight: isText(x["windFlight"]) ? x["windFlight"] : "", drag: x["drag"] === true };
}

export function loadDrafts(): Drafts {
  try {
    const x: unknown = JSON.parse(localStorage.getItem(key) ?? "");
    if (!isRecord(x) || !isRecord(x["all"])) return start;
    const all = Object.fromEntries(Object.entries(x["all"]).map(([name, d]) => [name, draftFrom(d)]));
    const names = Object.keys(all);
    if (names.length === 0) return start;
    return { current: isText(x["current"]) && x["current"] in all ? x["current"] : (names[0] as string), all };
  } catch {
    return start;
  }
}

/** Tells whether the browser has kept them. */
export function keepDrafts(d: Drafts): boolean {
  try {
    localStorage.setItem(key, JSON.stringify(d));
    return true;
  } catch {
    return false;
  }
}

export function highContrast(): boolean {
  try {
    return localStorage.getItem("leadline-contrast") === "high";
  } catch {
    return false;
  }
}

export function keepContrast(high: boolean): void {
  try {
    localStorage.setItem("leadline-contrast", high ? "high" : "");
  } catch {
    // A browser that keeps nothing still works.
  }
}
