/**
 * The tally as a picture: a row of strokes, one a test, bundled in fives. A faint stroke is known, a full one new, one
 * with a foot a control test, a broken one an error test, an open place one still to come; a torn edge at the beginning
 * where the memory is full. Pure.
 */
import type { ReadingKind } from '../core/reading.ts';
import type { Html } from './page.ts';
import { INK, line, type Pen, picture, strokeThrough } from './svg.ts';

/** One place in the row. */
export interface TallyStroke {
  readonly kind: ReadingKind;
  readonly isNew: boolean;
}

/** What is said of it. */
export interface TallyWords {
  readonly title: string;
  readonly says: (fresh: number, known: number, open: number) => string;
  readonly isNew: string;
  readonly control: string;
  readonly error: string;
  readonly open: string;
  readonly torn: string;
}

/** What is drawn. */
export interface TallyFacts {
  /** In the order of the tests, oldest first. */
  readonly strokes: readonly TallyStroke[];
  /** Tests that the meter holds and that were not read. */
  readonly open: number;
  /** True where the memory is full. */
  readonly isTorn: boolean;
}

const WIDTH = 860;
const STEP = 6;
const BUNDLE = 36;
const ROW = 30;
const TALL = 18;
const PER_ROW = Math.floor((WIDTH - 16) / BUNDLE) * 5;

/** Draws it. */
export function tallyPicture({ strokes, open, isTorn }: TallyFacts, words: TallyWords): Html {
  const count = strokes.length + open;
  const rows = Math.max(1, Math.ceil(count / PER_ROW));
  const parts: string[] = [];
  if (isTorn)
    parts.push(
      strokeThrough(
        [
          [7, 3],
          [3, 7],
          [7, 11],
          [3, 15],
          [7, 19],
          [3, 23],
        ],
        { width: 1.3 },
      ),
    );
  for (let i = 0; i < count; i++) {
    const at = i % PER_ROW;
    const place = at % 5;
    const x = 16 + Math.floor(at / 5) * BUNDLE + place * STEP;
    const y = 4 + Math.floor(i / PER_ROW) * ROW;
    const stroke = strokes[i];
    const pen = penOf(stroke);
    // The fifth lies across the four before it, as people count on paper.
    if (place === 4) parts.push(line(x - 4.6 * STEP, y + 13, x - 0.4 * STEP, y + 4, pen));
    else parts.push(line(x, y, x, y + TALL, pen));
    const foot = place === 4 ? x - 4.6 * STEP : x;
    const floor = place === 4 ? y + 13 : y + TALL;
    if (stroke?.kind === 'control') parts.push(line(foot - 2.5, floor, foot + 2.5, floor, pen));
  }
  const fresh = strokes.filter(({ isNew }) => isNew).length;
  return picture(WIDTH, rows * ROW, words.title, words.says(fresh, strokes.length - fresh, open), parts);
}

function penOf(stroke: TallyStroke | undefined): Pen {
  if (!stroke) return { ink: INK.mid, width: 1, dash: '1 4' };
  const dash = stroke.kind === 'error' ? { dash: '6 4' } : {};
  return stroke.isNew ? { width: 2.4, ...dash } : { ink: INK.mid, width: 0.8, ...dash };
}

/** What the strokes mean; only those that the row uses. */
export function tallyWords({ strokes, open, isTorn }: TallyFacts, words: TallyWords): string {
  const has = (kind: ReadingKind): boolean => strokes.some((s) => s.kind === kind);
  return [
    words.isNew,
    has('control') ? words.control : '',
    has('error') ? words.error : '',
    open > 0 ? words.open : '',
    isTorn ? words.torn : '',
  ]
    .filter(Boolean)
    .join(' ');
}
