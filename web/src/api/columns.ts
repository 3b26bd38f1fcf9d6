// Reads the block of columns a flight travels as (internal/api/columns.go).
import type { ColumnsHeader } from "./types";

export type Values = Float32Array | Float64Array | Uint8Array | Int32Array;

export interface Columns {
  readonly header: ColumnsHeader;
  /** The column, or undefined where the flight has none. Part is "" for columns without stages. */
  get(name: string, part: string): Values | undefined;
}

const makers = {
  f4: Float32Array,
  f8: Float64Array,
  u1: Uint8Array,
  i4: Int32Array,
} as const;

/** Lays typed arrays over the bytes; nothing is copied. Throws a sentence where the block is not what it says. */
export function decodeColumns(bytes: ArrayBuffer): Columns {
  const head = new DataView(bytes);
  if (bytes.byteLength < 8 || new TextDecoder().decode(new Uint8Array(bytes, 0, 4)) !== "LLC1") {
    throw new Error("the server sent something that is not a block of columns");
  }
  const length = head.getUint32(4, true);
  const start = 8 + length;
  if (start > bytes.byteLength || start % 8 !== 0) throw new Error("the block of columns is cut off in its header");
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 8, length))) as ColumnsHeader;
  const all = new Map<string, Values>();
  for (const c of header.columns ?? []) {
    const make = makers[c.type as keyof typeof makers];
    if (make === undefined) throw new Error(`column ${c.name} has the unknown type ${c.type}`);
    const at = start + c.offset;
    if (at + header.rows * make.BYTES_PER_ELEMENT > bytes.byteLength) throw new Error(`the block of columns is cut off in ${c.name}`);
    all.set(`${c.name}/${c.part}`, new make(bytes, at, header.rows));
  }
  return { header, get: (name, part) => all.get(`${name}/${part}`) };
}
