// Findings in the order in which they are worked through.
import type { Finding, Severity } from "../api/types";
import { unitText } from "./units";

const rank: { readonly [s in Severity]: number } = { bad: 0, questionable: 1, note: 2 };

/** Open ones first, then by severity, then from the ground up. */
export function ordered(list: readonly Finding[] | null): Finding[] {
  return [...(list ?? [])].sort(
    (a, b) =>
      Number((a.state ?? "") !== "") - Number((b.state ?? "") !== "") ||
      rank[a.severity] - rank[b.severity] ||
      (firstRow(a) - firstRow(b)) ||
      (a.id < b.id ? -1 : 1),
  );
}

export const firstRow = (f: Finding): number => Math.min(Infinity, ...(f.spans ?? []).map((s) => s.from_row));

/** What was measured against which limit, as a short text; "" where there is neither. */
export function evidence(f: Finding): string {
  const text = (x: number): string => String(Number(x.toPrecision(4))).replace("-", "−");
  const unit = f.unit === "" ? "" : ` ${unitText(f.unit)}`;
  if (f.measured !== null && f.limit !== null) return `${text(f.measured)}${unit}, limit ${text(f.limit)}${unit}`;
  if (f.measured !== null) return `${text(f.measured)}${unit}`;
  if (f.limit !== null) return `limit ${text(f.limit)}${unit}`;
  return "";
}

/** Findings above a note that nobody has accepted or dismissed. */
export const openFindings = (list: readonly Finding[] | null): readonly Finding[] => (list ?? []).filter((f) => f.severity !== "note" && (f.state ?? "") === "");

/** What becomes of findings: those that go, those that come, and those that stay with other figures. */
export function turnover(gone: readonly Finding[], fresh: readonly Finding[]): { goes: Finding[]; comes: Finding[]; changes: Finding[] } {
  const comes = [...fresh], goes: Finding[] = [], changes: Finding[] = [];
  for (const g of gone) {
    const at = comes.findIndex((f) => f.check === g.check && f.variable === g.variable);
    if (at < 0) goes.push(g);
    else changes.push(...comes.splice(at, 1));
  }
  return { goes, comes, changes };
}
