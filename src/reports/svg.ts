/**
 * The few strokes that all pictures are drawn with. Meaning rests on shape and words, never on colour: a value in the
 * band is round, above it a triangle that points up, below it one that points down, a critical one is doubled; a
 * whisker reaches from the earliest to the latest moment. Sizes are in the picture's own units. Pure.
 */
import type { Instant } from '../core/instant.ts';
import { wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import { escapeText, type Html } from './page.ts';

/** Maps a value to a place in the picture. */
export type Scale = (value: number) => number;

/** A straight scale. Where both ends of the values are one, everything stands in the middle. */
export function scale(from: number, to: number, start: number, end: number): Scale {
  const span = to - from;
  return (value) => (span === 0 ? (start + end) / 2 : start + ((value - from) / span) * (end - start));
}

/** The inks of a picture: one dark, two greys, and the tint of a band. All differ in print without colour. */
export const INK = { dark: '#111', mid: '#555', faint: '#bbb', band: '#eee' } as const;

/** A number for an attribute: two decimals, no exponent. */
const n = (value: number): string => String(Math.round(value * 100) / 100);

/** How a stroke is drawn. */
export interface Pen {
  readonly ink?: string;
  readonly width?: number;
  /** Lengths of stroke and gap, such as `4 3`. */
  readonly dash?: string;
}

const penOf = ({ ink = INK.dark, width = 1, dash }: Pen): string =>
  `stroke="${ink}" stroke-width="${n(width)}"${dash === undefined ? '' : ` stroke-dasharray="${dash}"`}`;

/** A straight stroke. */
export const line = (x1: number, y1: number, x2: number, y2: number, pen: Pen = {}): string =>
  `<line x1="${n(x1)}" y1="${n(y1)}" x2="${n(x2)}" y2="${n(y2)}" ${penOf(pen)}/>`;

/** A stroke through points. */
export const strokeThrough = (points: readonly (readonly [number, number])[], pen: Pen = {}): string =>
  `<polyline points="${points.map(([x, y]) => `${n(x)},${n(y)}`).join(' ')}" fill="none" ${penOf(pen)}/>`;

/** A filled box. */
export const box = (x: number, y: number, width: number, height: number, fill: string = INK.band): string =>
  `<rect x="${n(x)}" y="${n(y)}" width="${n(Math.max(0, width))}" height="${n(Math.max(0, height))}" fill="${fill}"/>`;

/** How words are set. */
export interface Setting {
  readonly anchor?: 'start' | 'middle' | 'end';
  readonly ink?: string;
  readonly isStrong?: boolean;
}

/** Words, escaped. They lie on a rim of paper so that strokes below them do not make them hard to read. */
export const words = (
  x: number,
  y: number,
  text: string,
  { anchor = 'start', ink = INK.dark, isStrong = false }: Setting = {},
): string =>
  `<text x="${n(x)}" y="${n(y)}" text-anchor="${anchor}" fill="${ink}" stroke="#fff" stroke-width="3" paint-order="stroke"${isStrong ? ' font-weight="600"' : ''}>${escapeText(text)}</text>`;

/** Where a value stands against its band. */
export type Shape = 'in' | 'above' | 'below' | 'none';

/** The mark of a value: round in the band, a triangle up above it, down below it, a ring where there is no band. */
export function mark(shape: Shape, x: number, y: number, { isCritical = false, isHollow = false } = {}): string {
  const ink = isHollow ? `fill="#fff" stroke="${INK.dark}" stroke-width="1.2"` : `fill="${INK.dark}"`;
  if (shape === 'none')
    return `<circle cx="${n(x)}" cy="${n(y)}" r="4" fill="#fff" stroke="${INK.dark}" stroke-width="1.5"/>`;
  if (shape === 'in') return `<circle cx="${n(x)}" cy="${n(y)}" r="4" ${ink}/>`;
  const s = shape === 'above' ? 1 : -1;
  const triangle = `<path d="M${n(x)} ${n(y - 6 * s)}l5.5 ${n(10 * s)}h-11z" ${ink}/>`;
  if (!isCritical) return triangle;
  return `${triangle}<path d="M${n(x)} ${n(y - 12 * s)}m-5.5 ${n(4 * s)}l5.5 ${n(-9 * s)}l5.5 ${n(9 * s)}" fill="none" stroke="${INK.dark}" stroke-width="1.4"/>`;
}

/** A whisker from the earliest to the latest moment, with feet where it is long enough to be seen beside its mark. */
export function whisker(x1: number, x2: number, y: number): string {
  const stroke = line(x1, y, x2, y, { width: 1.4 });
  if (x2 - x1 < 12) return stroke;
  return stroke + line(x1, y - 4, x1, y + 4, { width: 1.2 }) + line(x2, y - 4, x2, y + 4, { width: 1.2 });
}

/** Round numbers from low to high for an axis of values, at most about `count` of them. */
export function roundTicks(low: number, high: number, count = 6): number[] {
  const rough = (high - low) / Math.max(1, count);
  if (!(rough > 0)) return [low];
  const ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * ten).find((s) => s >= rough * 0.999) ?? rough;
  const ticks: number[] = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++)
    ticks.push(Number((i * step).toPrecision(12)));
  return ticks;
}

/** A moment of an axis of time, with what is written below it. */
export interface DateTick {
  readonly at: Instant;
  readonly says: string;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const DAY_MS = 86_400_000;

/** The first moment of a local day. `month` counts from 0 and may run over. */
function dayStart(zone: Zone, year: number, month: number, day: number): Instant {
  const found = zone.momentOf(wall(Date.UTC(year, month, day)));
  if (found.kind === 'unique') return found.at;
  return found.kind === 'repeated' ? found.earlier : found.later;
}

/** Local days, months or years for an axis of time, at most about `count` of them; a year is written where it begins. */
export function dateTicks(from: Instant, to: Instant, zone: Zone, count = 8): DateTick[] {
  const start = new Date(zone.wallAt(from));
  const [year, month, day] = [start.getUTCFullYear(), start.getUTCMonth(), start.getUTCDate()];
  const days = (to - from) / DAY_MS;
  const everyDays = [1, 2, 7, 14].find((step) => days / step <= count);
  const everyMonths = [1, 2, 3, 6, 12, 24, 60].find((step) => days / 30.4 / step <= count) ?? 120;
  const ticks: DateTick[] = [];
  for (let i = 0; ; i++) {
    const at = everyDays
      ? dayStart(zone, year, month, day + i * everyDays)
      : dayStart(zone, year, Math.ceil(month / everyMonths) * everyMonths + i * everyMonths, 1);
    if (at > to) return ticks;
    if (at < from) continue;
    const date = new Date(zone.wallAt(at));
    const name = MONTHS[date.getUTCMonth()] ?? '';
    const says = everyDays ? `${date.getUTCDate()} ${name}` : name;
    const isNewYear = ticks.length === 0 || (!everyDays && date.getUTCMonth() === 0);
    ticks.push({ at, says: isNewYear ? `${says} ${date.getUTCFullYear()}` : says });
  }
}

/** The axis of time at the foot of a picture. */
export const timeAxis = (x: Scale, y: number, from: Instant, to: Instant, zone: Zone): string =>
  line(x(from), y, x(to), y) +
  dateTicks(from, to, zone)
    .map(
      ({ at, says }) => line(x(at), y, x(at), y + 5) + words(x(at), y + 19, says, { anchor: 'middle', ink: INK.mid }),
    )
    .join('');

/** The axis of values at the left, with a faint line for each number. */
export const valueAxis = (y: Scale, left: number, right: number, ticks: readonly number[]): string =>
  ticks
    .map(
      (v) =>
        line(left, y(v), right, y(v), { ink: INK.faint, width: 0.6 }) +
        words(left - 8, y(v) + 4, String(v), { anchor: 'end', ink: INK.mid }),
    )
    .join('');

/** The whole picture; `title` and `says` are for those who cannot see it. Ids are not used, so many fit in one page. */
export const picture = (
  width: number,
  height: number,
  title: string,
  says: string,
  parts: readonly string[],
): Html => ({
  html: `<svg viewBox="0 0 ${n(width)} ${n(height)}" role="img" aria-label="${escapeText(`${title}. ${says}`)}">${parts.join('')}</svg>`,
});
