// Display units and number formats. Inside it is always the server's unit; screens show
// °C, hPa, %, m/s, m.
import type { VariableName } from "../api/types";

export interface Display {
  readonly unit: string;
  readonly decimals: number;
  readonly offset: number; // added to the server's value
}

const plain = (unit: string, decimals: number): Display => ({ unit, decimals, offset: 0 });
const celsius: Display = { unit: "°C", decimals: 2, offset: -273.15 };

const displays: { readonly [name in VariableName]?: Display } = {
  pressure: plain("hPa", 2),
  temperature: celsius,
  dew_point: celsius,
  virtual_temperature: celsius,
  internal_temperature: celsius,
  humidity_sensor_temperature_a: celsius,
  humidity_sensor_temperature_b: celsius,
  potential_temperature: plain("K", 2),
  humidity: plain("%", 1),
  humidity_a: plain("%", 1),
  humidity_b: plain("%", 1),
  wind_speed: plain("m/s", 1),
  wind_direction: plain("°", 0),
  wind_u: plain("m/s", 1),
  wind_v: plain("m/s", 1),
  velocity_east: plain("m/s", 2),
  velocity_north: plain("m/s", 2),
  velocity_up: plain("m/s", 2),
  latitude: plain("°", 5),
  longitude: plain("°", 5),
  height_msl: plain("m", 1),
  height_ellipsoid: plain("m", 1),
  geopotential_height: plain("gpm", 1),
  ascent_rate: plain("m/s", 2),
  satellites: plain("", 0),
  signal: plain("", 1),
  frame: plain("", 0),
  heating_a: plain("", 0),
  heating_b: plain("", 0),
  battery: plain("V", 2),
  mixing_ratio: plain("g/kg", 3),
  solar_elevation: plain("°", 1),
};

export const display = (name: VariableName): Display => displays[name] ?? plain("", 3);

/** A number with a true minus sign; "–" where it is not set. */
export function format(value: number | null | undefined, decimals: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = Math.abs(value).toFixed(decimals);
  const zero = /^[0.]*$/.test(text);
  const [whole = "", fraction] = text.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
  return (value < 0 && !zero ? "−" : "") + grouped + (fraction === undefined ? "" : `.${fraction}`);
}

/** format, filled with figure spaces so that a column aligns on the decimal sign. */
export function aligned(value: number | null | undefined, decimals: number, widest: number): string {
  const text = format(value, decimals);
  if (widest === 0 || decimals >= widest) return text;
  return text + (decimals === 0 ? "\u2008" : "") + "\u2007".repeat(widest - decimals);
}

export const show = (name: VariableName, value: number | null | undefined): string => {
  const d = display(name);
  return value === null || value === undefined ? "–" : format(value + d.offset, d.decimals);
};

const names: { readonly [name in VariableName]?: string } = {
  humidity_a: "humidity A", humidity_b: "humidity B", wind_u: "wind towards east", wind_v: "wind towards north", height_msl: "height", height_ellipsoid: "height above the ellipsoid",
  heating_a: "heating A", heating_b: "heating B", humidity_sensor_temperature_a: "temperature of humidity A", humidity_sensor_temperature_b: "temperature of humidity B", none: "",
};

/** A variable in the middle of a sentence. */
export const nameOf = (v: VariableName): string => names[v] ?? v.replaceAll("_", " ");

/** A sentence of the server as it is read: a true minus sign before a number, instants as a day and a time. */
export const prose = (text: string): string =>
  text.replace(/(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)(\.\d+)?Z/g, "$1 $2$3 UTC").replace(/(^|[\s([±:→])-(?=\d)/g, "$1−");

/** A unit as it is written on screens: "J kg-1" as J/kg, "K km-1" as K/km. */
export const unitText = (unit: string): string =>
  unit.replace(/ (\w+)-1\b/g, "/$1").replace(/ (\w+)-2\b/g, "/$1²").replace(/([a-z])2\b/g, "$1²").replace(/^degree$/, "°").replace(/^degC$/, "°C").replace(/^1$/, "");

/** A number of the launch record as it is typed or shown, with the unit it is read in here; what has a unit, or is no number, stays as it is. */
export const withUnit = (value: string, unit: string): string =>
  (unit === "" || !/^[-+−]?\d+([.,]\d+)?$/.test(value.trim()) ? value : `${value.trim()} ${unit === "°" ? "deg" : unit}`);

/** Hours, minutes, seconds of an instant, in UTC. */
export const clock = (ms: number): string => new Date(Math.round(ms / 1000) * 1000).toISOString().slice(11, 19);

/** ms since 1970 of an instant written with up to nanoseconds; the browser's own reading drops what is below a millisecond. */
export function msOf(utc: string): number {
  const below = /\.\d{3}(\d+)/.exec(utc)?.[1];
  return Date.parse(utc) + (below === undefined ? 0 : Number(`0.${below}`));
}

/** Day and minute of an instant, in UTC; "" where it is not set. */
export function dayMinute(utc: string | undefined): string {
  if (utc === undefined || utc === "" || utc.startsWith("0001-")) return "";
  return `${utc.slice(0, 10)} ${utc.slice(11, 16)}`;
}

let local: Intl.DateTimeFormat | undefined; // making one takes a millisecond

/** The same instant by the clock of the place where the page is read. */
export function localClock(utc: string): string {
  const t = Date.parse(utc);
  if (Number.isNaN(t)) return "";
  local ??= new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZoneName: "short" });
  return local.format(t);
}

/** Minutes and seconds since release, signed. */
export function elapsed(seconds: number): string {
  const s = Math.round(Math.abs(seconds));
  const two = (n: number): string => String(n).padStart(2, "0");
  const h = Math.floor(s / 3600);
  return `${seconds < 0 && s > 0 ? "−" : ""}${h > 0 ? `${h}:${two(Math.floor(s / 60) % 60)}` : Math.floor(s / 60)}:${two(s % 60)}`;
}
