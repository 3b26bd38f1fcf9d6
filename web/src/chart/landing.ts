// The map of where the radiosonde is and where it is expected to come down: north up,
// rings of kilometres round the release point.
import type { Place } from "../api/types";
import { Plane } from "../model/ground";
import { step } from "../model/ticks";
import { sheetOf, type Sheet } from "./ground";

export interface Sketch {
  readonly sheet: Sheet;
  readonly track: string;
  readonly ahead: string;
  readonly ellipse: string;
  readonly rings: readonly { readonly r: number; readonly label: string }[];
  readonly toward: readonly [number, number]; // direction from the start in which most room is: labels stand there
  readonly start: readonly [number, number];
  readonly now: readonly [number, number] | undefined;
  readonly landing: readonly [number, number] | undefined;
}

export interface Drawn {
  readonly start: Place;
  readonly track: readonly Place[];
  readonly now: Place | null;
  readonly ahead: readonly Place[];
  readonly ellipse: readonly Place[];
  readonly landing: Place | null;
}

/** Paths and places in a box of width and height. */
export function landingSketch(d: Drawn, width: number, height: number): Sketch {
  const plane = new Plane(d.start.latitude_deg, d.start.longitude_deg);
  const km = (p: Place): readonly [number, number] => {
    plane.to(p.latitude_deg, p.longitude_deg);
    return [plane.east, plane.north];
  };
  const all = [...d.track, ...d.ahead, ...d.ellipse, ...(d.now === null ? [] : [d.now]), ...(d.landing === null ? [] : [d.landing])].map(km);
  let [e0, e1, n0, n1] = [-0.5, 0.5, -0.5, 0.5];
  for (const [e, n] of all) {
    e0 = Math.min(e0, e);
    e1 = Math.max(e1, e);
    n0 = Math.min(n0, n);
    n1 = Math.max(n1, n);
  }
  // A little room to grow into, in coarse steps, so that the ground stands still while the flight goes on.
  const grain = step(Math.max(e1 - e0, n1 - n0), 8);
  [e0, n0] = [Math.floor(e0 / grain) * grain, Math.floor(n0 / grain) * grain];
  [e1, n1] = [Math.ceil(e1 / grain) * grain, Math.ceil(n1 / grain) * grain];
  const margin = 26;
  const k = Math.min((width - 2 * margin) / (e1 - e0), (height - 2 * margin) / (n1 - n0));
  const sheet = sheetOf(plane, width, height, (e0 + e1) / 2, (n0 + n1) / 2, k);
  const at = ([e, n]: readonly [number, number]): readonly [number, number] => [sheet.x(e), sheet.y(n)];
  const path = (list: readonly Place[], closed = false): string =>
    list.length < 2 ? "" : list.map((p, i) => {
      const [x, y] = at(km(p));
      return `${i === 0 ? "M" : "L"}${x.toFixed(1)} ${y.toFixed(1)}`;
    }).join("") + (closed ? "Z" : "");
  const reach = Math.max(...all.map(([e, n]) => Math.hypot(e, n)), 0.7);
  const by = step(reach, 4);
  const rings = [];
  for (let r = by; r <= reach * 1.3; r += by) rings.push({ r: r * k, label: by < 1 ? r.toFixed(1) : String(Math.round(r)) });
  const [sx, sy] = at([0, 0]);
  // Beside the track, not on it.
  const angle = Math.hypot(width / 2 - sx, height / 2 - sy) < 20 ? -Math.PI / 4 : Math.atan2(height / 2 - sy, width / 2 - sx) + 0.5;
  return {
    sheet, toward: [Math.cos(angle), Math.sin(angle)],
    track: path(d.track), ahead: path(d.ahead), ellipse: path(d.ellipse, true), rings, start: [sx, sy],
    now: d.now === null ? undefined : at(km(d.now)), landing: d.landing === null ? undefined : at(km(d.landing)),
  };
}
