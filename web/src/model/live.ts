// What the Live screen says about a flight in progress: ages that go on between two
// messages of the server, countdowns, places in kilometres.
import type { Alarm, Place, State } from "../api/types";
import { Plane } from "./ground";
import { format } from "./units";

/** A number large enough to read across a vehicle, with its unit. */
export interface Large {
  readonly figure: string;
  readonly unit: string;
}

/** Seconds as they are said when they are an age. */
export function age(seconds: number | null): Large {
  if (seconds === null || !Number.isFinite(seconds)) return { figure: "–", unit: "" };
  if (seconds < 100) return { figure: format(Math.floor(seconds), 0), unit: "s" };
  if (seconds < 6000) return { figure: format(Math.floor(seconds / 60), 0), unit: "min" };
  if (seconds < 48 * 3600) return { figure: format(seconds / 3600, 1), unit: "h" };
  return { figure: format(seconds / 86400, 0), unit: "days" };
}

/** Seconds to go: minutes and seconds, from two hours on hours and minutes. */
export function countdown(seconds: number | null): Large {
  if (seconds === null || !Number.isFinite(seconds)) return { figure: "–", unit: "" };
  const s = Math.max(0, Math.round(seconds));
  const two = (n: number): string => String(n).padStart(2, "0");
  if (s >= 7200) return { figure: `${Math.floor(s / 3600)}:${two(Math.floor((s % 3600) / 60))}`, unit: "h:min" };
  return { figure: `${Math.floor(s / 60)}:${two(s % 60)}`, unit: "min:s" };
}

export function height(metres: number | null): Large {
  if (metres === null) return { figure: "–", unit: "km" };
  return { figure: format(metres / 1000, 2), unit: "km" };
}

/** Age of the data now: that of the message, and what has passed since it came (by the flight's clock). */
export const ageNow = (s: State, passed: number): number | null => (s.age_s === null ? null : s.age_s + passed * s.speed);

export const secondsTo = (seconds: number | null, s: State, passed: number): number | null =>
  seconds === null ? null : Math.max(0, seconds - passed * s.speed);

/** After how many seconds without data the other numbers are shown as old. */
export const oldAfter = 15;

export const holds = (a: Alarm): boolean => a.over_utc === undefined;

/** Kilometres east and north of a start. */
export function kilometres(p: Place, start: Place): readonly [number, number] {
  const plane = new Plane(start.latitude_deg, start.longitude_deg);
  plane.to(p.latitude_deg, p.longitude_deg);
  return [plane.east, plane.north];
}

/** A place as it is read out over the telephone: degrees with a letter, to about 10 m. */
export function placeText(p: Place): string {
  const part = (v: number, plus: string, minus: string): string => `${format(Math.abs(v), 4)}° ${v < 0 ? minus : plus}`;
  return `${part(p.latitude_deg, "N", "S")}, ${part(p.longitude_deg, "E", "W")}`;
}

const points = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"] as const;

export const compass = (bearing: number): string => points[Math.round((((bearing % 360) + 360) % 360) / 22.5) % 16] as string;

/** "12.3 km towards ENE (68°)"; "" where it is not known. */
export const awayText = (metres: number | null, bearing: number | null): string =>
  metres === null || bearing === null ? "" : `${format(metres / 1000, 1)} km towards ${compass(bearing)} (${format(bearing, 0)}°)`;
