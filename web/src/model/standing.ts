// Where a flight stands with the person who answers for it.
import type { Flight, Signature } from "../api/types";

export const minute = (utc: string): string => `${utc.slice(0, 16).replace("T", " ")} UTC`;

/** Who signed, when, and with which note. */
export const signedLine = (s: Signature): string =>
  `signed off by ${s.who}, ${minute(s.when_utc)}${s.note === undefined || s.note === "" ? "" : `: ${s.note}`}`;

/** The flight's state in one line, as the head of its page says it. */
export function standing(f: Flight, reviewer: string): string {
  const s = f.sign_off;
  if (s.signature !== undefined) return s.state === "signed off" ? signedLine(s.signature) : `differs from what was ${signedLine(s.signature)}`;
  if (s.reopened !== undefined) return `in review, reopened by ${s.reopened.who}, ${minute(s.reopened.when_utc)}: ${s.reopened.reason}`;
  return s.state === "new" || reviewer === "" ? s.state || "new" : `${s.state}, ${reviewer}`;
}

/** What an exported file will say. */
export const handedOver = (f: Flight): string =>
  (f.sign_off.signature === undefined ? "Nobody has signed this flight: the files say that it is not signed off."
    : `The files say that the flight was ${signedLine(f.sign_off.signature)}${f.sign_off.state === "signed off" ? "" : "; and that what is computed now differs"}.`);
