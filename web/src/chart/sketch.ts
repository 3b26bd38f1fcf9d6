// The small profile in a row of the logbook: height to the right, value upwards.

/** Path of a sketch in a box; runs without values are left out. lo and hi are values of the edges. */
export function sketch(values: readonly (number | null)[] | null, width: number, height: number, lo: number, hi: number): string {
  if (values === null || values.length < 2) return "";
  let path = "";
  let pen = false;
  values.forEach((v, i) => {
    if (v === null) {
      pen = false;
      return;
    }
    const x = (i / (values.length - 1)) * (width - 2) + 1;
    const y = height - 1 - ((Math.min(Math.max(v, lo), hi) - lo) / (hi - lo)) * (height - 2);
    path += `${pen ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`;
    pen = true;
  });
  return path;
}
