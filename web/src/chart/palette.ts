// Colours as app.css has them in force, so that light, dark and print are stated once.
import type { Ink } from "../model/panels";

export type Tone = Ink | "paper" | "panel" | "grid" | "frame" | "quiet" | "select" | "bad" | "questionable" | "note" | "water";

const tones: readonly Tone[] = [
  "temperature", "humidity", "sensor-a", "sensor-b", "wind", "ink", "raw", "ice", "paper", "panel", "grid", "frame", "quiet", "select", "bad",
  "questionable", "note", "water",
];

export type Palette = { readonly [t in Tone]: string };

export function palette(): Palette {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(tones.map((t) => [t, style.getPropertyValue(`--${t}`).trim() || "#888"])) as Palette;
}

export const font = (px: number): string => `${px}px system-ui, sans-serif`;

/** Sizes a canvas for the screen's pixels and returns its context in CSS pixels. */
export function fit(canvas: HTMLCanvasElement, width: number, height: number): { ctx: CanvasRenderingContext2D; perPixel: number } {
  const perPixel = Math.min(window.devicePixelRatio || 1, 3);
  const w = Math.max(1, Math.round(width * perPixel)), h = Math.max(1, Math.round(height * perPixel));
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
  }
  const ctx = canvas.getContext("2d");
  if (ctx === null) throw new Error("this browser draws no canvas");
  ctx.setTransform(perPixel, 0, 0, perPixel, 0, 0);
  return { ctx, perPixel };
}

/** Calls f whenever the colours may have changed; the function returned ends that. */
export function followTheme(f: () => void): () => void {
  const media = ["(prefers-color-scheme: dark)", "(forced-colors: active)"].map((q) => matchMedia(q));
  for (const m of media) m.addEventListener("change", f);
  window.addEventListener("leadline-theme", f);
  return () => {
    for (const m of media) m.removeEventListener("change", f);
    window.removeEventListener("leadline-theme", f);
  };
}
