// The sketch of where the radiosonde is and where it is expected to come down: north up,
// rings of kilometres round the release point.
import type { Place } from "../api/types";
import { kilometres } from "../model/live";
import { step } from "../model/ticks";

export interface Sketch {
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
  const km = (p: Place): readonly [number, number] => kilometres(p, d.start);
  const all = [...d.track, ...d.ahead, ...d.ellipse, ...(d.now === null ? [] : [d.now]), ...(d.landing === null ? [] : [d.landing])].map(km);
  let [e0, e1, n0, n1] = [-0.5, 0.5, -0.5, 0.5];
  for (const [e, n] of all) {
    e0 = Math.min(e0, e);
    e1 = Math.max(e1, e);
    n0 = Math.min(n0, n);
    n1 = Math.max(n1, n);
  }
  const margin = 26;
  const k = Math.min((width - 2 * margin) / (e1 - e0), (height - 2 * margin) / (n1 - n0));
  const at = ([e, n]: readonly [number, number]): readonly [number, number] => [width / 2 + (e - (e0 + e1) / 2) * k, height / 2 - (n - (n0 + n1) / 2) * k];
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
    toward: [Math.cos(angle), Math.sin(angle)],
    track: path(d.track), ahead: path(d.ahead), ellipse: path(d.ellipse, true), rings, start: [sx, sy],
    now: d.now === null ? undefined : at(km(d.now)), landing: d.landing === null ? undefined : at(km(d.landing)),
  };
}
