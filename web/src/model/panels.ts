// What each panel shows. Drawing is in chart/, these are facts about the screen.
import type { VariableName } from "../api/types";

/** Names of colours; their values are in app.css. */
export type Ink = "temperature" | "humidity" | "sensor-a" | "sensor-b" | "wind" | "ink" | "raw" | "ice";

export interface Line {
  readonly name: string;
  readonly part: "raw" | "final" | "";
  readonly label: string;
  readonly ink: Ink;
  readonly dash?: readonly number[];
  readonly width?: number;
  readonly band?: boolean; // with its uncertainty
  readonly dots?: boolean; // a circular quantity: dots, never lines
}

export interface Panel {
  readonly id: PanelId;
  readonly title: string;
  readonly unit: string;
  readonly lines: readonly Line[]; // the first are drawn first
  readonly variables: readonly VariableName[]; // what a decision in this panel is about
  readonly least: number; // smallest range shown
  readonly lowest?: number; // no smaller value widens the range
  readonly whole?: readonly [number, number]; // range where it is not fitted to the samples
  readonly zero?: boolean; // a line at 0
  readonly asked?: boolean; // shown only where it is asked for
  readonly absent: string; // said where there is nothing to draw
}

export type PanelId = "temperature" | "humidity" | "speed" | "direction" | "components" | "ascent" | "barometer";

const raw = (name: string): Line => ({ name, part: "raw", label: "raw", ink: "raw", width: 1 });

export const panels: readonly Panel[] = [
  {
    id: "temperature", title: "Temperature", unit: "°C", least: 4, lowest: -95, variables: ["temperature", "humidity"], absent: "no temperature in this flight",
    lines: [
      raw("dew_point"), raw("temperature"),
      { name: "dew_point", part: "final", label: "dew point", ink: "humidity", dash: [5, 2], band: true },
      { name: "temperature", part: "final", label: "temperature", ink: "temperature", band: true },
    ],
  },
  {
    id: "humidity", title: "Humidity", unit: "%", least: 10, lowest: -5, whole: [0, 110], variables: ["humidity", "humidity_a", "humidity_b"],
    absent: "no humidity in this flight",
    lines: [
      raw("humidity"), raw("humidity_a"), raw("humidity_b"),
      { name: "ice_saturation", part: "", label: "ice sat.", ink: "ice", dash: [1, 3], width: 1 },
      { name: "humidity_a", part: "final", label: "A", ink: "sensor-a", dash: [6, 2], width: 1 },
      { name: "humidity_b", part: "final", label: "B", ink: "sensor-b", dash: [2, 2], width: 1 },
      { name: "humidity", part: "final", label: "humidity", ink: "humidity", band: true },
    ],
  },
  {
    id: "speed", title: "Wind speed", unit: "m/s", least: 4, variables: ["wind_speed"], absent: "no wind in this flight",
    lines: [raw("wind_speed"), { name: "wind_speed", part: "final", label: "wind speed", ink: "wind", band: true }],
  },
  {
    id: "direction", title: "Wind from", unit: "°", least: 40, whole: [0, 360], variables: ["wind_speed"], absent: "no wind in this flight",
    lines: [{ ...raw("wind_direction"), dots: true }, { name: "wind_direction", part: "final", label: "wind from", ink: "wind", dots: true, band: true }],
  },
  {
    id: "components", title: "Wind u, v", unit: "m/s", least: 4, variables: ["wind_speed"], zero: true, asked: true, absent: "no wind in this flight",
    lines: [
      raw("velocity_east"), raw("velocity_north"),
      { name: "wind_v", part: "final", label: "v north", ink: "ink", dash: [5, 2], band: true },
      { name: "wind_u", part: "final", label: "u east", ink: "wind", band: true },
    ],
  },
  {
    id: "ascent", title: "Ascent rate", unit: "m/s", least: 2, variables: ["ascent_rate"], zero: true, absent: "no ascent rate in this flight",
    lines: [raw("velocity_up"), raw("ascent_rate"), { name: "ascent_rate", part: "final", label: "ascent rate", ink: "ink", width: 1, band: true }],
  },
  {
    id: "barometer", title: "Barometer minus satellite", unit: "m", least: 20, variables: ["pressure"], zero: true,
    absent: "no barometer, or no satellite height, in this flight",
    lines: [{ name: "barometer_minus_satellite", part: "", label: "barometer − satellite height", ink: "ink", width: 1 }],
  },
];

/** The panel that a decision about a variable belongs to; undefined where none shows it. */
export const panelOf = (v: VariableName): Panel | undefined => panels.find((p) => p.variables[0] === v) ?? panels.find((p) => p.variables.includes(v)) ?? panels.find((p) => p.lines.some((l) => l.name === v));

export interface Lane {
  readonly id: string;
  readonly letter: string;
  readonly label: string;
  readonly variables: readonly VariableName[];
}

/** The lanes of findings: one column a variable, the rest in the last. */
export const lanes: readonly Lane[] = [
  { id: "pressure", letter: "p", label: "pressure", variables: ["pressure"] },
  { id: "temperature", letter: "T", label: "temperature", variables: ["temperature", "virtual_temperature", "potential_temperature", "internal_temperature"] },
  { id: "humidity", letter: "U", label: "humidity", variables: ["humidity", "humidity_a", "humidity_b", "dew_point", "mixing_ratio", "heating_a", "heating_b", "humidity_sensor_temperature_a", "humidity_sensor_temperature_b"] },
  { id: "wind", letter: "W", label: "wind", variables: ["wind_speed", "wind_direction", "wind_u", "wind_v", "velocity_east", "velocity_north"] },
  { id: "position", letter: "z", label: "height and position", variables: ["height_msl", "height_ellipsoid", "geopotential_height", "ascent_rate", "velocity_up", "latitude", "longitude", "satellites"] },
  { id: "rows", letter: "·", label: "whole rows and the rest", variables: ["none", "frame", "signal", "battery", "solar_elevation"] },
];

export const laneOf = (v: VariableName): number => {
  const i = lanes.findIndex((l) => l.variables.includes(v));
  return i < 0 ? lanes.length - 1 : i;
};
