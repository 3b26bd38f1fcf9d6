// What the canvases show, in words for those who cannot see them.
import type { Bench } from "./bench";
import { drawn } from "./flags";
import { format } from "./units";

/** Smallest or largest drawn value of the ascent and its row; undefined where there is none. */
function extreme(b: Bench, name: string, largest: boolean): { readonly value: number; readonly row: number } | undefined {
  const v = b.profile.get(name, "final"), flags = b.profile.flags(name, "final");
  let row = -1;
  if (v !== undefined) for (let i = b.profile.release; i < b.profile.top; i++) {
    const x = v[i] as number;
    if (x !== x || (flags !== undefined && !drawn(flags[i] as number))) continue;
    if (row < 0 || (largest ? x > (v[row] as number) : x < (v[row] as number))) row = i;
  }
  return row < 0 || v === undefined ? undefined : { value: v[row] as number, row };
}

const at = (b: Bench, row: number): string => {
  const z = b.profile.get("height_msl", "final")?.[row];
  return z === undefined || z !== z ? "" : ` at ${format(z / 1000, 1)} km`;
};

/** One sentence or more on a flight's profiles: what is drawn, from where to where, the extremes, the findings. */
export function panelsText(b: Bench): string {
  const titles = b.panels().map((p) => p.title.toLowerCase());
  const out = [titles.length === 0 ? "Nothing of this flight can be drawn." : `Profiles of ${titles.join(", ")} on one vertical axis of ${b.axis}.`];
  const low = extreme(b, "height_msl", false), high = extreme(b, "height_msl", true);
  if (low !== undefined && high !== undefined) out.push(`The ascent goes from ${format(low.value, 0)} m to ${format(high.value, 0)} m.`);
  const cold = extreme(b, "temperature", false), fast = extreme(b, "wind_speed", true), dry = extreme(b, "humidity", false), moist = extreme(b, "humidity", true);
  if (cold !== undefined) out.push(`Coldest: ${format(cold.value, 1)} °C${at(b, cold.row)}.`);
  if (dry !== undefined && moist !== undefined) out.push(`Humidity from ${format(dry.value, 0)} % to ${format(moist.value, 0)} %.`);
  if (fast !== undefined) out.push(`Strongest wind: ${format(fast.value, 1)} m/s${at(b, fast.row)}.`);
  out.push(b.findings.length === 1 ? "1 finding." : `${b.findings.length} findings.`);
  return out.join(" ");
}

/** The extremes of the wind, for the hodograph. */
export function windText(b: Bench): string {
  const fast = extreme(b, "wind_speed", true);
  return fast === undefined ? "No usable wind." : `Strongest: ${format(fast.value, 1)} m/s${at(b, fast.row)}.`;
}

/** The extremes of temperature, for the diagram. */
export function airText(b: Bench): string {
  const cold = extreme(b, "temperature", false), warm = extreme(b, "temperature", true);
  return cold === undefined || warm === undefined ? "No usable temperature." : `From ${format(warm.value, 1)} °C${at(b, warm.row)} to ${format(cold.value, 1)} °C${at(b, cold.row)}.`;
}
