/** Strokes on a picture's canvas: shapes that mean something without any colour. Places are in the picture's own units. */
import type uPlot from 'uplot';

/** The inks of the page, as its style sheet has them now. */
export interface Inks {
  readonly ink: string;
  readonly mid: string;
  readonly faint: string;
  readonly line: string;
  readonly warm: string;
  readonly band: string;
  readonly sheet: string;
}

const NAMES = ['ink', 'mid', 'faint', 'line', 'warm', 'band', 'sheet'] as const;

/** Reads them. */
export function inksNow(): Inks {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()])) as unknown as Inks;
}

/** Round: in range; up: above; down: below; ring: no target, or only shown; square: of the laboratory. */
export type Shape = 'round' | 'up' | 'down' | 'ring' | 'square';

export interface Pen {
  readonly inks: Inks;
  /** A shape at a value; `isDoubled` for critical ones, `isNew` with a stroke under it. */
  mark(x: number, y: number, shape: Shape, more?: { readonly isDoubled?: boolean; readonly isNew?: boolean }): void;
  /** A horizontal whisker from one x to another, with its ends. */
  whisker(from: number, to: number, y: number): void;
  /** A filled band between two values. */
  band(from: number, to: number, low: number, high: number): void;
  /** A line through places. */
  path(points: readonly (readonly [number, number])[], ink: string, width?: number, dash?: readonly number[]): void;
  /** Words; `dy` in CSS pixels below the place. */
  words(
    x: number,
    y: number,
    says: string,
    how?: { readonly align?: CanvasTextAlign; readonly dy?: number; readonly ink?: string },
  ): void;
  /** A small triangle on the foot of the picture, from one x to another. */
  notch(from: number, to: number, says: string): void;
  /** Words at the foot. */
  footWords(x: number, says: string, rise?: number): void;
  /** A short stroke at the foot. */
  footStroke(x: number): void;
}

const SIZE = 5;

/** A pen for one drawing of a picture. */
export function penOf(u: uPlot, inks: Inks): Pen {
  const { ctx } = u;
  const unit = devicePixelRatio;
  const X = (x: number): number => u.valToPos(clamp(x, u.scales['x']), 'x', true);
  const Y = (y: number): number => u.valToPos(y, 'y', true);
  const foot = u.bbox.top + u.bbox.height;
  const shapeAt = (x: number, y: number, shape: Shape, size: number): void => {
    ctx.beginPath();
    if (shape === 'up' || shape === 'down') {
      const s = shape === 'up' ? -1 : 1;
      ctx.moveTo(x, y + s * size * 1.2);
      ctx.lineTo(x + size * 1.1, y - s * size * 0.8);
      ctx.lineTo(x - size * 1.1, y - s * size * 0.8);
      ctx.closePath();
    } else if (shape === 'square') ctx.rect(x - size * 0.85, y - size * 0.85, size * 1.7, size * 1.7);
    else ctx.arc(x, y, size * 0.9, 0, 2 * Math.PI);
  };
  const stroke = (ink: string, width: number, dash: readonly number[] = []): void => {
    ctx.strokeStyle = ink;
    ctx.lineWidth = width * unit;
    ctx.setLineDash(dash.map((d) => d * unit));
    ctx.stroke();
    ctx.setLineDash([]);
  };
  const font = (): void => {
    ctx.font = `${13 * unit}px system-ui, "DejaVu Sans", sans-serif`;
  };
  const textAt = (px: number, py: number, says: string, align: CanvasTextAlign, ink: string): void => {
    font();
    ctx.textAlign = align;
    ctx.textBaseline = 'middle';
    // A rim of the sheet's colour keeps words readable over lines.
    ctx.lineJoin = 'round';
    ctx.strokeStyle = inks.sheet;
    ctx.lineWidth = 4 * unit;
    ctx.strokeText(says, px, py);
    ctx.fillStyle = ink;
    ctx.fillText(says, px, py);
  };
  return {
    inks,
    mark(x, y, shape, more = {}) {
      const [px, py] = [X(x), Y(y)];
      shapeAt(px, py, shape, SIZE * unit);
      if (shape === 'ring' || shape === 'square') {
        ctx.fillStyle = inks.sheet;
        ctx.fill();
        stroke(inks.ink, 1.6);
      } else {
        ctx.fillStyle = inks.ink;
        ctx.fill();
      }
      if (more.isDoubled) {
        shapeAt(px, py, shape, SIZE * 1.9 * unit);
        stroke(inks.ink, 1.4);
      }
      if (more.isNew) {
        ctx.beginPath();
        ctx.moveTo(px - 7 * unit, py + 11 * unit);
        ctx.lineTo(px + 7 * unit, py + 11 * unit);
        stroke(inks.warm, 2.4);
      }
    },
    whisker(from, to, y) {
      const [a, b, py] = [X(from), X(to), Y(y)];
      ctx.beginPath();
      ctx.moveTo(a, py);
      ctx.lineTo(b, py);
      if (b - a > 4 * unit)
        for (const end of [a, b]) {
          ctx.moveTo(end, py - 4 * unit);
          ctx.lineTo(end, py + 4 * unit);
        }
      stroke(inks.ink, 1.4);
    },
    band(from, to, low, high) {
      const [a, b] = [X(from), X(to)];
      if (b <= a) return;
      ctx.fillStyle = inks.band;
      ctx.fillRect(a, Y(high), b - a, Y(low) - Y(high));
      for (const value of [low, high]) {
        ctx.beginPath();
        ctx.moveTo(a, Y(value));
        ctx.lineTo(b, Y(value));
        stroke(inks.mid, 0.8);
      }
    },
    path(points, ink, width = 1, dash = []) {
      ctx.beginPath();
      for (const [i, [x, y]] of points.entries()) {
        // Not clamped: a line runs out of the picture in its own direction.
        const [px, py] = [u.valToPos(x, 'x', true), Y(y)];
        if (i === 0) ctx.moveTo(px, py);
        else ctx.lineTo(px, py);
      }
      stroke(ink, width, dash);
    },
    words: (x, y, says, { align = 'left', dy = 0, ink = inks.mid } = {}) =>
      textAt(X(x), Y(y) + dy * unit, says, align, ink),
    notch(from, to, says) {
      const [a, b] = [X(from), X(to)];
      const middle = (a + b) / 2;
      ctx.beginPath();
      ctx.moveTo(a, foot);
      ctx.lineTo(b, foot);
      stroke(inks.warm, 3);
      ctx.beginPath();
      ctx.moveTo(middle - 5 * unit, foot);
      ctx.lineTo(middle + 5 * unit, foot);
      ctx.lineTo(middle, foot - 9 * unit);
      ctx.closePath();
      ctx.fillStyle = inks.warm;
      ctx.fill();
      textAt(middle, foot - 18 * unit, says, 'center', inks.ink);
    },
    footWords: (x, says, rise = 10) => textAt(X(x), foot - rise * unit, says, 'center', inks.mid),
    footStroke(x) {
      ctx.beginPath();
      ctx.moveTo(X(x), foot - 10 * unit);
      ctx.lineTo(X(x), foot);
      stroke(inks.ink, 2);
    },
  };
}

function clamp(x: number, scale: uPlot.Scale | undefined): number {
  const room = ((scale?.max ?? 0) - (scale?.min ?? 0)) * 2;
  return Math.min(Math.max(x, (scale?.min ?? x) - room), (scale?.max ?? x) + room);
}
