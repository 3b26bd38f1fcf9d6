// The coast of the world, asked for once, when the first map is shown.
import type { ComponentChildren } from "preact";
import { useEffect, useMemo, useState } from "preact/hooks";
import * as client from "../api/client";
import { drawGround, graticule, groundNote, PathText, scaleBar, type Sheet } from "../chart/ground";
import { Ground } from "../model/ground";

let asked: Promise<Ground> | undefined;

/** The coast; undefined until it has come, "absent" where it does not come. */
export function useGround(wanted: boolean): Ground | "absent" | undefined {
  const [ground, setGround] = useState<Ground | "absent">();
  useEffect(() => {
    if (!wanted) return undefined;
    let live = true;
    asked ??= client.ground().then((b) => new Ground(b));
    asked.then((g) => {
      if (live) setGround(g);
    }, () => {
      asked = undefined; // asked for again with the next map
      if (live) setGround("absent");
    });
    return () => {
      live = false;
    };
  }, [wanted]);
  return ground;
}

interface Texts {
  readonly land: string;
  readonly lakes: string;
  readonly borders: string;
  readonly coast: string;
  readonly lines: string;
  readonly seen: boolean;
}

function texts(s: Sheet, ground: Ground | "absent" | undefined): Texts {
  const pens = { land: new PathText(), lakes: new PathText(), borders: new PathText(), coast: new PathText(), lines: new PathText() };
  let seen = false;
  if (ground instanceof Object) {
    for (const l of ["land", "lakes", "borders"] as const) drawGround(ground, s, l, pens[l]);
    for (const l of ["coast", "shores"] as const) if (drawGround(ground, s, l, pens.coast)) seen = true;
  }
  for (const l of graticule(s)) l.points.forEach(([x, y], i) => (i === 0 ? pens.lines.moveTo(x, y) : pens.lines.lineTo(x, y)));
  return { land: pens.land.text, lakes: pens.lakes.text, borders: pens.borders.text, coast: pens.coast.text, lines: pens.lines.text, seen };
}

/** The ground of a map in SVG, and over it what children draw; degrees, scale, north and note come last. */
export function GroundMap({ sheet: s, kept, children }: { readonly sheet: Sheet; readonly kept: string; readonly children: ComponentChildren }) {
  const ground = useGround(true);
  const t = useMemo(() => texts(s, ground), [kept, ground]);
  const bar = scaleBar(s), right = s.width - 10, note = groundNote(ground, s, t.seen);
  return (
    <>
      {ground instanceof Object ? <>
        <rect class="ground-water" width={s.width} height={s.height} />
        <path class="ground-land" d={t.land} />
        <path class="ground-water" d={t.lakes} />
      </> : null}
      <path class="ground-lines" d={t.lines} />
      <path class="ground-borders" d={t.borders} />
      <path class="ground-coast" d={t.coast} />
      {children}
      {graticule(s).map((l) => (l.at === undefined ? null : l.parallel
        ? <text key={l.label} class="ground-text" x="3" y={l.at[1] - 3}>{l.label}</text>
        : <text key={l.label} class="ground-text" x={l.at[0]} y={s.height - 4} text-anchor="middle">{l.label}</text>))}
      {note === "" ? null : <text class="ground-text" x="3" y="12">{note}</text>}
      <path class="ground-scale" d={`M${right - bar.pixels} 27v4H${right}v-4M${right - 4} 56V40m-3 6l3 -6l3 6`} />
      <text class="ground-text" x={right - bar.pixels / 2} y="25" text-anchor="middle">{bar.label}</text>
      <text class="ground-text" x={right - 12} y="53" text-anchor="end">N</text>
    </>
  );
}
