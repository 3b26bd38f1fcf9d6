import assert from "node:assert/strict";
import { test } from "node:test";
import { decodeColumns } from "../../src/api/columns";

function block(columns: readonly { name: string; part: string; type: string; offset: number }[], rows: number, data: Uint8Array): ArrayBuffer {
  let header = JSON.stringify({ rows, revision: 3, zero_utc: "2031-06-03T23:04:11.000Z", columns });
  header += " ".repeat((8 - (header.length % 8)) % 8);
  const out = new Uint8Array(8 + header.length + data.length);
  out.set(new TextEncoder().encode("LLC1"));
  new DataView(out.buffer).setUint32(4, header.length, true);
  out.set(new TextEncoder().encode(header), 8);
  out.set(data, 8 + header.length);
  return out.buffer;
}

const sample = (): ArrayBuffer => {
  const data = new Uint8Array(48);
  const view = new DataView(data.buffer);
  [0, 1.5, 3].forEach((t, i) => view.setFloat64(8 * i, t, true));
  [280.25, NaN, 281].forEach((t, i) => view.setFloat32(24 + 4 * i, t, true));
  data.set([1, 9, 3], 40);
  return block([
    { name: "time", part: "", type: "f8", offset: 0 }, { name: "temperature", part: "final", type: "f4", offset: 24 },
    { name: "temperature", part: "raw", type: "f4", offset: 24 }, { name: "temperature", part: "flag", type: "u1", offset: 40 },
  ], 3, data);
};

test("columns come back as they were written, NaN included", () => {
  const c = decodeColumns(sample());
  assert.equal(c.header.rows, 3);
  assert.deepEqual([...(c.get("time", "") ?? [])], [0, 1.5, 3]);
  assert.deepEqual([...(c.get("temperature", "final") ?? [])], [280.25, NaN, 281]);
  assert.deepEqual([...(c.get("temperature", "raw") ?? [])], [280.25, NaN, 281]);
  assert.deepEqual([...(c.get("temperature", "flag") ?? [])], [1, 9, 3]);
  assert.equal(c.get("pressure", "final"), undefined);
});

test("a block that is cut off, foreign or of an unknown type is refused", () => {
  const whole = sample();
  assert.throws(() => decodeColumns(whole.slice(0, whole.byteLength - 6)), /cut off in temperature/);
  assert.throws(() => decodeColumns(whole.slice(0, 40)), /cut off in its header/);
  assert.throws(() => decodeColumns(new ArrayBuffer(0)), /not a block/);
  assert.throws(() => decodeColumns(new TextEncoder().encode("<html></html>   ").buffer as ArrayBuffer), /not a block/);
  assert.throws(() => decodeColumns(block([{ name: "time", part: "", type: "i8", offset: 0 }], 1, new Uint8Array(8))), /unknown type/);
});
