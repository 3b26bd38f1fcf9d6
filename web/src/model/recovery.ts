// An entry of the recovery log as it is typed.
import type { RecoveryRequest } from "../api/types";

export const recoveryStates = ["down", "found", "returned", "given up"] as const;

export interface RecoveryEntry {
  readonly state: string;
  readonly who: string;
  readonly at: string; // UTC; "" now
  readonly latitude: string;
  readonly longitude: string;
  readonly finder: string;
  readonly note: string;
}

const degrees = (text: string, name: string): number => {
  const n = Number(text.replace("−", "-").replace(",", "."));
  if (text.trim() === "" || !Number.isFinite(n)) throw new Error(`${name} “${text}” is no number: write degrees such as 46.2102, or leave both empty`);
  return n;
};

/** The entry as the server wants it; throws a sentence where it cannot be read. */
export function recoveryRequest(e: RecoveryEntry): RecoveryRequest {
  const at = e.at.trim();
  const m = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(:\d\d)?Z?$/.exec(at);
  if (at !== "" && m === null) throw new Error(`“${at}” is no instant: write it as 2031-06-07 09:00, or leave it empty for now`);
  const placed = e.latitude.trim() !== "" || e.longitude.trim() !== "";
  return {
    state: e.state, who: e.who.trim(),
    ...(m === null ? {} : { at_utc: `${m[1]}T${m[2]}${m[3] ?? ":00"}Z` }),
    ...(placed ? { place: { latitude_deg: degrees(e.latitude, "latitude"), longitude_deg: degrees(e.longitude, "longitude") } } : {}),
    ...(e.finder.trim() === "" ? {} : { finder: e.finder.trim() }), ...(e.note.trim() === "" ? {} : { note: e.note.trim() }),
  };
}
