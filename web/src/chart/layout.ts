// Where the panels stand on the canvas, in CSS pixels.
import { lanes, type Panel, type PanelId } from "../model/panels";

export interface Place {
  readonly panel: Panel;
  readonly x: number;
  readonly width: number;
}

export interface Layout {
  readonly width: number;
  readonly height: number;
  readonly gutter: number;
  readonly top: number;
  readonly bottom: number;
  readonly places: readonly Place[];
  readonly lanesX: number;
  readonly lane: number; // width of one
}

const weight: { readonly [id in PanelId]: number } = { temperature: 1.65, humidity: 1.45, speed: 1, direction: 0.85, components: 1, ascent: 0.8, barometer: 0.9 };

export function layout(width: number, height: number, panels: readonly Panel[]): Layout {
  const gutter = 84, gap = 10, lane = width < 800 ? 13 : 15;
  const lanesWidth = lane * lanes.length;
  const free = Math.max(60, width - gutter - lanesWidth - gap * panels.length - 2);
  const sum = panels.reduce((s, p) => s + weight[p.id], 0);
  let x = gutter;
  const places = panels.map((panel) => {
    const w = Math.floor((free * weight[panel.id]) / sum);
    const place = { panel, x, width: w };
    x += w + gap;
    return place;
  });
  return { width, height, gutter, top: 2, bottom: height - 20, places, lanesX: x, lane };
}

export const placeAt = (l: Layout, x: number): Place | undefined => l.places.find((p) => x >= p.x && x <= p.x + p.width);
