/** Where the strokes of a tally stand: bundled in fives as people count on paper, the fifth across the four. Pure. */
import type { TallyPlace } from '../../api/live.ts';

/** What is drawn. */
export interface TallyFacts {
  /** In the order of the memory, oldest first. */
  readonly places: readonly TallyPlace[];
  /** Places that were read and of which it is not known yet whether they are new. */
  readonly read: number;
  /** Places still to come. */
  readonly open: number;
  /** The memory is full. */
  readonly isTorn: boolean;
}

export type StrokeLook = 'new' | 'known' | 'read' | 'open';

/** One stroke, in units of the picture. */
export interface Stroke {
  readonly x1: number;
  readonly y1: number;
  readonly x2: number;
  readonly y2: number;
  readonly look: StrokeLook;
  readonly isBroken: boolean;
  /** The foot of a control test; absent for others. */
  readonly foot?: { readonly x: number; readonly y: number };
}

export interface TallyDrawing {
  readonly strokes: readonly Stroke[];
  readonly width: number;
  readonly height: number;
}

const STEP = 5;
const BUNDLE = 29;
const ROW = 27;
const TALL = 17;
const LEFT = 14;

/** The strokes of a row that is broken after so many bundles. */
export function tallyStrokes({ places, read, open }: TallyFacts, bundles: number): TallyDrawing {
  const count = places.length + read + open;
  const strokes = Array.from({ length: count }, (_, i): Stroke => {
    const bundle = Math.floor(i / 5);
    const nth = i % 5;
    const left = LEFT + (bundle % bundles) * BUNDLE;
    const top = 4 + Math.floor(bundle / bundles) * ROW;
    const place = places[i];
    const look = place ? (place.isNew ? 'new' : 'known') : i < places.length + read ? 'read' : 'open';
    const isBroken = place?.kind === 'error';
    const isControl = place?.kind === 'control';
    if (nth < 4) {
      const x = left + nth * STEP;
      const foot = { x, y: top + TALL };
      return { x1: x, y1: top, x2: x, y2: top + TALL, look, isBroken, ...(isControl ? { foot } : {}) };
    }
    const foot = { x: left - 3, y: top + 13 };
    return {
      x1: left - 3,
      y1: top + 13,
      x2: left + 3 * STEP + 3,
      y2: top + 4,
      look,
      isBroken,
      ...(isControl ? { foot } : {}),
    };
  });
  const rows = Math.max(1, Math.ceil(count / (bundles * 5)));
  const across = Math.min(bundles, Math.max(1, Math.ceil(count / 5)));
  return { strokes, width: LEFT + across * BUNDLE, height: rows * ROW };
}

/** Which kinds of strokes a row uses, for its legend. */
export function tallyUses({ places, read, open, isTorn }: TallyFacts) {
  return {
    isNew: places.some((p) => p.isNew),
    isKnown: places.some((p) => !p.isNew),
    isControl: places.some((p) => p.kind === 'control'),
    isError: places.some((p) => p.kind === 'error'),
    isRead: read > 0,
    isOpen: open > 0,
    isTorn,
  };
}
