// Flags (IOC 54:V3), verdicts and severities: their words.
export const good = 1;
export const notEvaluated = 2;
export const questionable = 3;
export const bad = 4;
export const missing = 9;

const words: { readonly [flag: number]: string } = {
  [good]: "good", [notEvaluated]: "not evaluated", [questionable]: "questionable", [bad]: "bad", [missing]: "missing",
};

export const flagWord = (flag: number | undefined): string => (flag === undefined ? "" : (words[flag] ?? ""));

/** Whether a sample may be drawn as part of the line. */
export const drawn = (flag: number): boolean => flag !== bad && flag !== missing;

export type VerdictWord = "accept" | "look" | "refuse";
