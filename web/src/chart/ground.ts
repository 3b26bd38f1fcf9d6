// What lies under a track: land, lakes, coast and borders, the lines of the globe with their
// degrees, a scale of kilometres. For canvas and for paths of SVG alike.
import { boundsOf, degrees, isSeam, pathsIn, within, type Ground, type Layer, type View } from "../model/ground";
import { step } from "../model/ticks";
import { format } from "../model/units";
import { font, type Palette } from "./palette";

/** A view on a screen: pixel = kilometres from the centre times k, north up. */
export interface Sheet extends View {
  readonly width: number;
  readonly height: number;
  readonly k: number; // pixels a km
  readonly x: (east: number) => number;
  readonly y: (north: number) => number;
}

/** A sheet whose middle is a place in km and whose scale is k pixels a km. */
export function sheetOf(plane: View["plane"], width: number, height: number, east: number, north: number, k: number): Sheet {
  const [w, h] = [width / 2 / k, height / 2 / k];
  return { plane, width, height, k, x: (e) => width / 2 + (e - east) * k, y: (n) => height / 2 - (n - north) * k, west: east - w, east: east + w, south: north - h, north: north + h };
}

/** Something that takes a path: a canvas, or PathText. */
export interface Pen {
  moveTo(x: number, y: number): void;
  lineTo(x: number, y: number): void;
  closePath(): void;
}

/** A path of SVG. */
export class PathText implements Pen {
  text = "";
  moveTo(x: number, y: number): void {
    this.text += `M${x.toFixed(1)} ${y.toFixed(1)}`;
  }
  lineTo(x: number, y: number): void {
    this.text += `L${x.toFixed(1)} ${y.toFixed(1)}`;
  }
  closePath(): void {
    this.text += "Z";
  }
}

const margin = 40; // pixels beyond the sheet that are still told apart

/** Passes points on to a pen, less those that lie with both neighbours beyond one edge of the sheet. */
class Thinner {
  seen = false;
  private down = false; // the pen has begun a path
  private lastOut = 0; // where the last point drawn lies
  private held = false; // a point waits for the next
  private x = 0;
  private y = 0;
  private out = 0;

  constructor(private readonly s: Sheet, private readonly pen: Pen) {}

  point(x: number, y: number): void {
    const s = this.s;
    const out = (x < -margin ? 1 : x > s.width + margin ? 2 : 0) | (y < -margin ? 4 : y > s.height + margin ? 8 : 0);
    if (this.held && (!this.down || (this.lastOut & this.out & out) === 0)) this.put();
    this.x = x;
    this.y = y;
    this.out = out;
    this.held = true;
  }

  lift(): void {
    if (this.held && this.down) this.put();
    this.down = this.held = false;
  }

  private put(): void {
    if (this.down) this.pen.lineTo(this.x, this.y);
    else this.pen.moveTo(this.x, this.y);
    if (this.out === 0) this.seen = true;
    this.down = true;
    this.lastOut = this.out;
  }
}

/**
 * Draws a layer: "land" and "lakes" as closed rings to be filled, "coast" and "shores" as
 * their outlines without the edges of cells, "borders" as lines. Returns whether anything
 * came onto the sheet.
 */
export function drawGround(g: Ground, s: Sheet, what: Layer | "coast" | "shores", pen: Pen): boolean {
  const layer: Layer = what === "coast" ? "land" : what === "shores" ? "lakes" : what;
  const outline = what === "coast" || what === "shores";
  const to = new Thinner(s, pen);
  const most = 250; // units along a parallel that may be straight
  pathsIn(g, s, layer, (path, longitude, latitude) => {
    const n = path.length / 2;
    for (let i = 0; i < (outline ? n + 1 : n); i++) {
      const k = 2 * (i % n);
      const lon = path[k] as number, lat = path[k + 1] as number;
      if (i > 0) {
        const lon0 = path[2 * i - 2] as number, lat0 = path[2 * i - 1] as number;
        if (outline && (isSeam(lon, lon0) || isSeam(lat, lat0))) to.lift();
        else {
          const parts = Math.ceil(Math.abs(lon - lon0) / most);
          for (let m = 1; m < parts; m++) {
            s.plane.to(latitude + degrees(lat0 + ((lat - lat0) * m) / parts), longitude + degrees(lon0 + ((lon - lon0) * m) / parts));
            to.point(s.x(s.plane.east), s.y(s.plane.north));
          }
        }
      }
      s.plane.to(latitude + degrees(lat), longitude + degrees(lon));
      to.point(s.x(s.plane.east), s.y(s.plane.north));
    }
    to.lift();
    if (layer === what && what !== "borders") pen.closePath();
  });
  return to.seen;
}

export interface GraticuleLine {
  readonly points: readonly (readonly [number, number])[];
  readonly label: string;
  readonly at: readonly [number, number] | undefined; // where its label stands: on the left or lower edge
  readonly parallel: boolean;
}

const steps = [1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800]; // minutes of arc

/** "46° N", "46°20′ N", "180°". */
function degreeText(minutes: number, plus: string, minus: string): string {
  const m = Math.round(Math.abs(minutes)), whole = Math.floor(m / 60), rest = m % 60;
  const letter = m === 0 || (plus === "E" && m === 10800) ? "" : ` ${minutes > 0 ? plus : minus}`;
  return `${whole}°${rest === 0 ? "" : `${String(rest).padStart(2, "0")}′`}${letter}`;
}

/** Meridians and parallels at round degrees, about one every 90 pixels. */
export function graticule(s: Sheet): readonly GraticuleLine[] {
  const b = boundsOf(s);
  if (b === undefined) return [];
  const gap = 90;
  const perMinute = (111.2 / 60) * s.k; // pixels
  const latStep = steps.find((m) => m * perMinute >= gap) ?? 1800;
  const shrink = Math.max(0.02, Math.cos((Math.min(89, Math.abs(s.plane.latitude)) * Math.PI) / 180));
  const lonStep = steps.find((m) => m * perMinute * shrink >= gap) ?? 1800;
  const out: GraticuleLine[] = [];
  const line = (place: (t: number) => readonly [number, number], parallel: boolean, label: string): void => {
    const n = 24;
    const points: (readonly [number, number])[] = [];
    let at: readonly [number, number] | undefined;
    for (let i = 0; i <= n; i++) {
      s.plane.to(...place(i / n));
      const p = [s.x(s.plane.east), s.y(s.plane.north)] as const;
      const q = points[points.length - 1];
      if (q !== undefined && at === undefined) {
        const [axis, edge] = parallel ? [0, 0] as const : [1, s.height] as const;
        if ((q[axis] - edge) * (p[axis] - edge) <= 0 && q[axis] !== p[axis]) {
          const t = (edge - q[axis]) / (p[axis] - q[axis]), other = q[1 - axis as 0 | 1] + t * (p[1 - axis as 0 | 1] - q[1 - axis as 0 | 1]);
          if (parallel ? other > 14 && other < s.height - 18 : other > 34 && other < s.width - 30) at = parallel ? [0, other] : [other, s.height];
        }
      }
      points.push(p);
    }
    if (points.some(([x, y]) => x >= 0 && x <= s.width && y >= 0 && y <= s.height) || at !== undefined) out.push({ points, label, at, parallel });
  };
  const lon0 = s.plane.longitude;
  for (let m = Math.ceil((b.south * 60) / latStep) * latStep; m <= b.north * 60; m += latStep) {
    if (Math.abs(m) >= 5400) continue;
    const lat = m / 60;
    line((t) => [lat, lon0 + b.west + t * (b.east - b.west)], true, degreeText(m, "N", "S"));
  }
  const first = Math.ceil(((lon0 + b.west) * 60) / lonStep) * lonStep;
  for (let m = first; m <= Math.min((lon0 + b.east) * 60, first + 21600 - lonStep); m += lonStep) {
    const lon = m / 60;
    line((t) => [b.south + t * (b.north - b.south), lon], false, degreeText(((((m + 10800) % 21600) + 21600) % 21600) - 10800, "E", "W"));
  }
  return out;
}

/** A bar of round kilometres, a tenth to a quarter of the sheet long. */
export function scaleBar(s: Sheet): { readonly pixels: number; readonly label: string } {
  const km = step(s.width / s.k / 2.5, 4);
  return { pixels: km * s.k, label: `${km < 1 ? format(km * 1000, 0) : format(km, 0)} ${km < 1 ? "m" : "km"}` };
}

/** How far the lines of the ground can be believed; said on each map. */
export function groundNote(ground: Ground | "absent" | undefined, s: Sheet, seen: boolean): string {
  if (ground === undefined) return "";
  if (ground === "absent") return "the coastline could not be loaded";
  if (seen) return "coast to about 1 km, lakes to about 5 km";
  const [lat, away] = s.plane.from((s.west + s.east) / 2, (s.south + s.north) / 2), lon = s.plane.longitude + away;
  if (within(ground, "lakes", lat, lon)) return "on a lake, no shore here";
  return within(ground, "land", lat, lon) ? "no coast or larger lake here" : "open sea, no coast here";
}

/** Land, lakes, borders and the lines of the globe on a canvas. Labels come last: drawFrame. */
export function paintGround(ctx: CanvasRenderingContext2D, s: Sheet, ground: Ground | "absent" | undefined, ink: Palette): boolean {
  let seen = false;
  ctx.fillStyle = ground instanceof Object ? ink.water : ink.panel;
  ctx.fillRect(0, 0, s.width, s.height);
  if (ground instanceof Object) {
    ctx.fillStyle = ink.panel;
    ctx.beginPath();
    drawGround(ground, s, "land", ctx);
    ctx.fill();
    ctx.fillStyle = ink.water;
    ctx.beginPath();
    drawGround(ground, s, "lakes", ctx);
    ctx.fill();
  }
  ctx.lineWidth = 1;
  ctx.strokeStyle = ink.grid;
  ctx.beginPath();
  for (const l of graticule(s)) l.points.forEach(([x, y], i) => (i === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)));
  ctx.stroke();
  if (ground instanceof Object) {
    ctx.strokeStyle = ink.frame;
    ctx.setLineDash([6, 3, 1, 3]);
    ctx.beginPath();
    drawGround(ground, s, "borders", ctx);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.strokeStyle = ink.quiet;
    ctx.beginPath();
    for (const what of ["coast", "shores"] as const) if (drawGround(ground, s, what, ctx)) seen = true;
    ctx.stroke();
  }
  return seen;
}

/** Degrees, the scale, north and the note, over everything else. */
export function paintFrame(ctx: CanvasRenderingContext2D, s: Sheet, note: string, ink: Palette): void {
  ctx.font = font(11);
  ctx.lineWidth = 3;
  ctx.lineJoin = "round";
  const write = (text: string, x: number, y: number): void => {
    ctx.strokeStyle = ink.panel;
    ctx.strokeText(text, x, y);
    ctx.fillText(text, x, y);
  };
  ctx.fillStyle = ink.quiet;
  for (const l of graticule(s)) {
    if (l.at === undefined) continue;
    ctx.textBaseline = "bottom";
    ctx.textAlign = l.parallel ? "left" : "center";
    write(l.label, l.parallel ? 3 : l.at[0], l.parallel ? l.at[1] - 1 : s.height - 2);
  }
  ctx.textBaseline = "top";
  ctx.textAlign = "left";
  if (note !== "") write(note, 3, 3);
  const bar = scaleBar(s), right = s.width - 10, y = 34;
  ctx.textAlign = "center";
  write(bar.label, right - bar.pixels / 2, y - 16);
  ctx.strokeStyle = ctx.fillStyle = ink.ink;
  ctx.lineWidth = 1.5;
  ctx.beginPath();
  ctx.moveTo(right - bar.pixels, y - 3);
  ctx.lineTo(right - bar.pixels, y);
  ctx.lineTo(right, y);
  ctx.lineTo(right, y - 3);
  ctx.stroke();
  ctx.beginPath();
  ctx.moveTo(right - 4, 58);
  ctx.lineTo(right - 4, 42);
  ctx.lineTo(right - 7, 48);
  ctx.moveTo(right - 4, 42);
  ctx.lineTo(right - 1, 48);
  ctx.stroke();
  ctx.textAlign = "right";
  ctx.textBaseline = "middle";
  ctx.lineWidth = 3;
  write("N", right - 12, 51);
}
