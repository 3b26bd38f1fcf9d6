// Words beside marks that do not cover each other: the first come, first placed.
interface Area {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

export class Labels {
  private readonly taken: Area[] = [];

  constructor(private readonly width: number, private readonly height: number) {}

  /** Keeps an area free of words. */
  keep(x: number, y: number, radius: number): void {
    this.taken.push({ x0: x - radius, y0: y - radius, x1: x + radius, y1: y + radius });
  }

  /** Writes a word beside a mark, where there is room; one that must be seen is written in any case. */
  write(ctx: CanvasRenderingContext2D, text: string, x: number, y: number, halo: string, must: boolean): void {
    const w = ctx.measureText(text).width, h = 12;
    const places = [[7, -9], [-7 - w, -9], [7, 10], [-7 - w, 10], [-w / 2, -16], [-w / 2, 17]] as const;
    const free = places.find(([dx, dy]) => {
      const a = { x0: x + dx, y0: y + dy - h / 2, x1: x + dx + w, y1: y + dy + h / 2 };
      return a.x0 >= 1 && a.x1 <= this.width - 1 && a.y0 >= 1 && a.y1 <= this.height - 1 && !this.taken.some((b) => a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1);
    });
    if (free === undefined && !must) return;
    const [dx, dy] = free ?? (x + 7 + w > this.width ? places[1] : places[0]);
    this.taken.push({ x0: x + dx - 2, y0: y + dy - h / 2, x1: x + dx + w + 2, y1: y + dy + h / 2 });
    ctx.textAlign = "left";
    ctx.textBaseline = "middle";
    ctx.lineJoin = "round";
    ctx.lineWidth = 3;
    ctx.strokeStyle = halo;
    ctx.strokeText(text, x + dx, y + dy);
    ctx.fillText(text, x + dx, y + dy);
  }
}
