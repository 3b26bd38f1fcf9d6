// The charts below the panels: thermodynamic diagram, hodograph, track.
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import * as client from "../api/client";
import type { Diagram, Indices } from "../api/types";
import { drawDiagram, markDiagram } from "../chart/diagram";
import { drawHodograph, markHodograph } from "../chart/hodograph";
import { fit, followTheme, palette, type Palette } from "../chart/palette";
import { drawTrack, markTrack, trackOf } from "../chart/track";
import type { Bench } from "../model/bench";
import { format } from "../model/units";
import { airText, windText } from "../model/words";
import { useGround } from "./ground";

type Draw = (ctx: CanvasRenderingContext2D, width: number, height: number, ink: Palette) => void;

/** A chart of two layers: what follows from the flight, drawn when as changes, and the cursor. */
function Chart({ bench, label, as, draw, mark }: { readonly bench: Bench; readonly label: string; readonly as: string; readonly draw: Draw; readonly mark: Draw }) {
  const holder = useRef<HTMLDivElement>(null), below = useRef<HTMLCanvasElement>(null), above = useRef<HTMLCanvasElement>(null);
  const [size, setSize] = useState({ w: 0, h: 0 });
  const [theme, setTheme] = useState(0);
  useLayoutEffect(() => {
    const h = holder.current;
    if (h === null) return undefined;
    const watch = new ResizeObserver(() => setSize({ w: h.clientWidth, h: h.clientHeight }));
    watch.observe(h);
    const again = (): void => setTheme((n) => n + 1);
    const off = followTheme(again);
    return () => {
      watch.disconnect();
      off();
    };
  }, []);
  useEffect(() => {
    if (below.current !== null && size.w > 0) draw(fit(below.current, size.w, size.h).ctx, size.w, size.h, palette());
  }, [as, size, theme, bench.profile]);
  useEffect(() => {
    if (above.current === null || size.w === 0) return;
    const { ctx } = fit(above.current, size.w, size.h);
    ctx.clearRect(0, 0, size.w, size.h);
    mark(ctx, size.w, size.h, palette());
  }, [bench.cursor, size, theme, bench.profile]);
  return (
    <div class="chart-canvas" ref={holder}>
      <canvas ref={below} role="img" aria-label={label} />
      <canvas ref={above} aria-hidden="true" />
    </div>
  );
}

let furniture: Promise<Diagram> | undefined;

export function Charts({ bench, indices }: { readonly bench: Bench; readonly indices: Indices | undefined }) {
  const [lines, setLines] = useState<Diagram>();
  const [parcel, setParcel] = useState("mixed layer");
  useEffect(() => {
    furniture ??= client.diagram();
    furniture.then(setLines, () => {
      furniture = undefined; // asked for again with the next flight
    });
  }, []);
  const parcels = indices?.parcels ?? [];
  const chosen = parcels.find((p) => p.name === parcel) ?? parcels[0];
  const base = `${bench.flight.id} ${bench.flight.revision}`;
  const t = trackOf(bench);
  const ground = useGround(t !== undefined);
  const far = useMemo(() => {
    let most = 0;
    if (t !== undefined) for (let i = bench.profile.release; i < bench.profile.rows; i++) most = Math.max(most, Math.hypot(t.east[i] as number, t.north[i] as number) || 0);
    return most;
  }, [t]);
  return (
    <section class="charts" aria-label="Charts of the flight">
      <figure>
        <figcaption><h3>Thermodynamic diagram <small>ascent; °C, hPa</small></h3>
          {parcels.length === 0 ? <span class="quiet">no parcel</span> : <label>parcel <select value={chosen?.name ?? ""} onChange={(e) => setParcel(e.currentTarget.value)}>{parcels.map((p) => <option key={p.name}>{p.name}</option>)}</select></label>}
        </figcaption>
        <Chart bench={bench} as={`${base} ${lines === undefined} ${chosen?.name ?? ""} ${parcels.length}`} label={`Temperature and dew point of the ascent against pressure, with dry and saturated adiabats, mixing ratio lines in g/kg, a lifted parcel and wind barbs. ${airText(bench)} The numbers stand in the tables of levels and indices.`}
          draw={(c, w, h, ink) => drawDiagram(c, bench, lines, chosen, w, h, ink)} mark={(c, w, h, ink) => markDiagram(c, bench, w, h, ink)} />
      </figure>
      <figure>
        <figcaption><h3>Hodograph <small>ascent; m/s; heights in km above the ground</small></h3></figcaption>
        <Chart bench={bench} as={base} label={`Wind of the ascent as the end of its arrow, with heights in kilometres above the ground. ${windText(bench)}`}
          draw={(c, w, h, ink) => drawHodograph(c, bench, w, h, ink)} mark={(c, w, h, ink) => markHodograph(c, bench, w, h, ink)} />
      </figure>
      <figure>
        <figcaption><h3>Track <small>north up</small></h3><span class="quiet">{far > 0 ? `as far as ${format(far, 1)} km` : ""}</span></figcaption>
        <Chart bench={bench} as={`${base} ${ground === undefined ? "" : typeof ground === "string" ? ground : "ground"}`} label={`Track over ground with release, burst and last position, on the coast, lakes and borders of the world and lines of latitude and longitude, with a scale of kilometres.${far > 0 ? ` As far as ${format(far, 1)} km.` : ""}`}
          draw={(c, w, h, ink) => drawTrack(c, bench, ground, w, h, ink)} mark={(c, w, h, ink) => markTrack(c, bench, w, h, ink)} />
      </figure>
    </section>
  );
}
