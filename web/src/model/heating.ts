// Two humidity sensors that are heated in turn: when each measures the air.
import type { Bench } from "./bench";
import type { Profile } from "./profile";

type Sensor = "humidity_a" | "humidity_b";

/** Whether a sensor is heated, 1 or 0 by row; undefined where the flight does not say. */
export const heatingOf = (profile: Profile, name: "heating_a" | "heating_b"): ArrayLike<number> | undefined => profile.get(name, "final") ?? profile.get(name, "raw");

const kept = new WeakMap<Profile, Map<string, Uint8Array | undefined>>();

/**
 * Flags of a sensor with 9 where it tells nothing of the air: while it is heated and, after
 * that, as long as its reading stands as received, because the correction leaves out what has
 * not come back yet. undefined where the flight does not say when it is heated.
 */
export function measuringFlags(profile: Profile, name: Sensor, flagged: boolean): Uint8Array | undefined {
  let all = kept.get(profile);
  if (all === undefined) kept.set(profile, (all = new Map()));
  const key = `${name} ${flagged}`;
  if (!all.has(key)) all.set(key, made(profile, name, flagged));
  return all.get(key);
}

function made(profile: Profile, name: Sensor, flagged: boolean): Uint8Array | undefined {
  const on = heatingOf(profile, name === "humidity_a" ? "heating_a" : "heating_b");
  if (on === undefined) return undefined;
  const flags = flagged ? profile.flags(name, "final") : undefined;
  const last = profile.get(name, "final"), first = profile.get(name, "raw");
  let corrected = false; // a sensor that is never corrected says nothing of its way back
  if (last !== undefined && first !== undefined) for (let i = profile.release; i < profile.top && !corrected; i++) corrected = on[i] !== 1 && last[i] !== first[i] && last[i] === last[i];
  const out = new Uint8Array(profile.rows);
  let coming = false;
  for (let i = 0; i < out.length; i++) {
    if (on[i] === 1) coming = corrected;
    else if (coming && last?.[i] !== first?.[i] && last?.[i] === last?.[i]) coming = false;
    out[i] = on[i] === 1 || coming ? 9 : (flags?.[i] ?? 1);
  }
  return out;
}

/** Longest stretch, in s, in which a heating phase is wide enough to be looked at. */
const longest = 900;

/** Whether readings while heated and on the way back are drawn: only where they can be told apart. */
export function phasesDrawn(b: Bench): boolean {
  const t = b.profile.time;
  return Math.abs((t[b.rowAt(b.hi)] as number) - (t[b.rowAt(b.lo)] as number)) <= longest;
}

/** What the panel says of the phases; "" where no sensor is heated. */
export function phasesNote(b: Bench): string {
  if (!b.profile.hasCurve("humidity_a", "final") || measuringFlags(b.profile, "humidity_a", true) === undefined) return "";
  if (!phasesDrawn(b)) return "heated: close up";
  return b.raw ? "heated: thin grey" : "heated: hidden, r shows";
}
