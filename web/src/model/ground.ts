// The coast, borders and larger lakes of the world (web/ground.mjs packs them), and the
// plane of a map: where places lie in kilometres east and north of its centre.
//
//	"LLG1"   4 bytes
//	index    uint32, little-endian: where each cell begins after the index; one more for the end
//	cells    5° by 5°, from 180° W 90° S eastward, then northward. Each has its rings of land,
//	         rings of lakes and lines of borders: a number of paths; of each its number of
//	         points; of each point the steps in longitude and latitude from the one before.
//
// Numbers are varints of seven bits, steps with their sign in the lowest bit, in units of
// 0.002° from the cell's southwest corner. Cells overlap by ten units.

const size = 5, across = 72, up = 36;
const unit = 0.002, side = size / unit, overlap = 10;

export type Layer = "land" | "lakes" | "borders";
const layers: readonly Layer[] = ["land", "lakes", "borders"];

/** Longitude and latitude in units from the cell's corner, pair after pair. */
export type Path = Int16Array;
type Cell = { readonly [l in Layer]: readonly Path[] };

/** Whether a step from one point of a ring to the next is an edge of its cell and no coast. */
export const isSeam = (a: number, b: number): boolean => a === b && (a === -overlap || a === 0 || a === side || a === side + overlap);

export class Ground {
  private readonly bytes: Uint8Array;
  private readonly index: Uint32Array;
  private readonly cells = new Map<number, Cell>();

  /** Throws a sentence where the bytes are not what they should be. */
  constructor(buffer: ArrayBuffer) {
    const head = new DataView(buffer), count = across * up;
    const start = 4 + 4 * (count + 1);
    if (buffer.byteLength < start || head.getUint32(0, false) !== 0x4c4c4731) throw new Error("the server sent something that is no coastline");
    this.index = Uint32Array.from({ length: count + 1 }, (_, i) => head.getUint32(4 + 4 * i, true));
    this.bytes = new Uint8Array(buffer, start);
    if (this.index[count] !== this.bytes.length) throw new Error("the coastline is cut off");
  }

  /** The cell i cells east of 180° W and j north of the south pole; i goes round the earth. */
  cell(i: number, j: number): Cell {
    const at = j * across + (((i % across) + across) % across);
    let c = this.cells.get(at);
    if (c === undefined) this.cells.set(at, (c = this.read(at)));
    return c;
  }

  private read(at: number): Cell {
    const b = this.bytes;
    let p = this.index[at] as number;
    const next = (): number => {
      let n = 0;
      for (let shift = 0; ; shift += 7) {
        const x = b[p++] as number;
        n |= (x & 127) << shift;
        if (x < 128) return n;
      }
    };
    const step = (): number => {
      const n = next();
      return (n & 1) === 1 ? -((n + 1) >> 1) : n >> 1;
    };
    const out: Partial<Record<Layer, Path[]>> = {};
    for (const l of layers) {
      out[l] = Array.from({ length: next() }, () => {
        const path = new Int16Array(2 * next());
        let x = 0, y = 0;
        for (let k = 0; k < path.length; k += 2) {
          path[k] = x += step();
          path[k + 1] = y += step();
        }
        return path;
      });
    }
    return out as Cell;
  }
}

const radius = 6371; // km, of the sphere with the earth's volume
const rad = Math.PI / 180;
export const perDegree = radius * rad;

/**
 * The azimuthal equidistant plane round a place: distances and bearings from the centre are
 * true on the sphere of 6,371 km, so within 0.5 % on the earth, and neither the date line nor
 * a pole is a border. East and north are in km.
 */
export class Plane {
  east = 0; // what to() found
  north = 0;
  private readonly sin0: number;
  private readonly cos0: number;

  constructor(readonly latitude: number, readonly longitude: number) {
    this.sin0 = Math.sin(latitude * rad);
    this.cos0 = Math.cos(latitude * rad);
  }

  /** Finds east and north of a place, in degrees. */
  to(latitude: number, longitude: number): void {
    const s = Math.sin(latitude * rad), c = Math.cos(latitude * rad), away = (longitude - this.longitude) * rad;
    const x = c * Math.sin(away), y = this.cos0 * s - this.sin0 * c * Math.cos(away);
    const sine = Math.hypot(x, y);
    const k = sine > 0 ? (radius * Math.atan2(sine, this.sin0 * s + this.cos0 * c * Math.cos(away))) / sine : radius;
    this.east = x * k;
    this.north = y * k;
  }

  /** Latitude, and longitude minus the centre's within ±180, of a place in km. */
  from(east: number, north: number): readonly [number, number] {
    const r = Math.hypot(east, north);
    if (r === 0) return [this.latitude, 0];
    const s = Math.sin(r / radius), c = Math.cos(r / radius);
    return [Math.asin(Math.min(1, Math.max(-1, c * this.sin0 + (north * s * this.cos0) / r))) / rad, Math.atan2(east * s, r * this.cos0 * c - north * this.sin0 * s) / rad];
  }
}

/** A rectangle of the plane, in km. */
export interface View {
  readonly plane: Plane;
  readonly west: number;
  readonly east: number;
  readonly south: number;
  readonly north: number;
}

export interface Bounds {
  readonly south: number;
  readonly north: number;
  readonly west: number; // longitudes, minus that of the centre
  readonly east: number;
}

/** Degrees that a view reaches; undefined where it is no map any more but half the earth. */
export function boundsOf(v: View): Bounds | undefined {
  if (!(Math.hypot(v.east - v.west, v.north - v.south) < 8000)) return undefined;
  let [south, north, west, east] = [90, -90, 180, -180];
  const n = 8;
  for (let i = 0; i <= n; i++) {
    for (let j = 0; j <= n; j++) {
      const [lat, lon] = v.plane.from(v.west + ((v.east - v.west) * i) / n, v.south + ((v.north - v.south) * j) / n);
      south = Math.min(south, lat);
      north = Math.max(north, lat);
      west = Math.min(west, lon);
      east = Math.max(east, lon);
    }
  }
  for (const pole of [90, -90]) {
    const y = (pole - v.plane.latitude) * perDegree;
    if (!(y >= v.south && y <= v.north && v.west <= 0 && v.east >= 0)) continue;
    [west, east] = [-180, 180];
    if (pole > 0) north = 90;
    else south = -90;
  }
  // What lies between the places asked for.
  const more = Math.max(0.05, (north - south) / n);
  const wide = Math.max(0.05, (east - west) / n);
  return { south: Math.max(-90, south - more), north: Math.min(90, north + more), west: Math.max(-180, west - wide), east: Math.min(180, east + wide) };
}

/** Calls f with each path of a layer near a view and its cell's southwest corner in degrees. */
export function pathsIn(g: Ground, v: View, layer: Layer, f: (path: Path, longitude: number, latitude: number) => void): void {
  const b = boundsOf(v);
  if (b === undefined) return;
  const x0 = Math.floor((v.plane.longitude + b.west + 180) / size), x1 = Math.min(x0 + across - 1, Math.floor((v.plane.longitude + b.east + 180) / size));
  const y0 = Math.max(0, Math.floor((b.south + 90) / size)), y1 = Math.min(up - 1, Math.floor((b.north + 90) / size));
  for (let j = y0; j <= y1; j++) for (let i = x0; i <= x1; i++) for (const p of g.cell(i, j)[layer]) f(p, i * size - 180, j * size - 90);
}

/** Whether a place, in degrees, lies in land, or a lake: the rings of its cell go round it. */
export function within(g: Ground, layer: "land" | "lakes", latitude: number, longitude: number): boolean {
  const i = Math.floor((longitude + 180) / size), j = Math.min(up - 1, Math.floor((latitude + 90) / size));
  const x = (longitude - (i * size - 180)) / unit, y = (latitude - (j * size - 90)) / unit;
  let turns = 0;
  for (const p of g.cell(i, j)[layer]) {
    for (let k = 0; k < p.length; k += 2) {
      const x0 = p[k] as number, y0 = p[k + 1] as number, m = k + 2 < p.length ? k + 2 : 0, x1 = p[m] as number, y1 = p[m + 1] as number;
      if (y0 <= y === y1 <= y) continue;
      if (x0 + ((y - y0) / (y1 - y0)) * (x1 - x0) > x) turns += y1 > y0 ? 1 : -1;
    }
  }
  return turns !== 0;
}

export const degrees = (units: number): number => units * unit;
