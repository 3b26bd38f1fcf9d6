// A wind barb by the trade's convention: the staff points to where the wind comes from;
// half feather 5 kt, feather 10 kt, pennant 50 kt (WMO-No. 485, plotting symbols; to the
// nearest 5 kt).

export interface Feathers {
  readonly pennants: number;
  readonly whole: number;
  readonly half: number;
}

/** Feathers of a speed in m/s. */
export function feathers(speed: number): Feathers {
  const fives = Math.round((speed * 3600) / 1852 / 5);
  return { pennants: Math.floor(fives / 10), whole: Math.floor((fives % 10) / 2), half: fives % 2 };
}

export function barb(ctx: CanvasRenderingContext2D, x: number, y: number, from: number, speed: number, length: number, southern: boolean): void {
  const n = feathers(speed);
  if (n.pennants + n.whole + n.half === 0) {
    ctx.beginPath();
    ctx.arc(x, y, 3, 0, 7);
    ctx.stroke();
    return;
  }
  ctx.save();
  ctx.translate(x, y);
  ctx.rotate((from * Math.PI) / 180);
  const side = southern ? -1 : 1; // feathers on the side of lower pressure
  ctx.beginPath();
  ctx.moveTo(0, 0);
  ctx.lineTo(0, -length);
  ctx.stroke();
  let at = -length;
  const wide = 9 * side;
  for (let i = 0; i < n.pennants; i++) {
    ctx.beginPath();
    ctx.moveTo(0, at);
    ctx.lineTo(wide, at + 1);
    ctx.lineTo(0, at + 5);
    ctx.closePath();
    ctx.fill();
    at += 6;
  }
  ctx.beginPath();
  for (let i = 0; i < n.whole; i++) {
    ctx.moveTo(0, at);
    ctx.lineTo(wide, at - 3);
    at += 3.5;
  }
  if (n.half > 0) {
    if (n.pennants + n.whole === 0) at += 3.5; // a lone half feather stands off the end
    ctx.moveTo(0, at);
    ctx.lineTo(wide / 2, at - 1.5);
  }
  ctx.stroke();
  ctx.restore();
}
