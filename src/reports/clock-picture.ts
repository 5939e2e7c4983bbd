/**
 * The picture of a meter's clock as SVG: a time line with the stretches of undisturbed clock, the downloads that saw
 * it, power losses and other changes, and below it each reading as a dot on a horizontal whisker from its earliest to
 * its latest moment. Ink on paper; meaning by shape and word, never by colour alone.
 */
import { middle } from '../clock/anchors.ts';
import type { PlaceResult } from '../clock/place.ts';
import { type Instant, instant } from '../core/instant.ts';
import { formatWall, wall } from '../core/meter-time.ts';
import type { Incident } from '../core/placement.ts';
import type { Zone } from '../core/zone.ts';
import { escapeText } from './page.ts';

export interface PictureOptions {
  readonly title: string;
  readonly zone: Zone;
  /** Only this stretch; default: everything. */
  readonly from?: Instant;
  readonly to?: Instant;
  /** A reading to point out. */
  readonly pointOut?: string;
}

const WIDTH = 1180;
const LEFT = 24;
const RIGHT = 24;
const AXIS_Y = 66;
const BAND_Y = 92;
const FIRST_LANE_Y = 150;
/** Distance of two whiskers: as wide as there is room for, within these. */
const LANES_HEIGHT = 540;
const WIDEST_LANE = 9;
const NARROWEST_LANE = 3;
const INK = '#1b1b1f';
const GREY = '#8a8a92';
const PALE = '#e4e2dc';
const ACCENT = '#b4541a';
const DAY = 86_400_000;

/** The picture; undefined where no test and no look at the clock has a time. Everything that people wrote is escaped. */
export function clockPicture(placed: PlaceResult, options: PictureOptions): string | undefined {
  const { zone } = options;
  const inside = (at: number | undefined): boolean =>
    at !== undefined && at >= (options.from ?? -Infinity) && at <= (options.to ?? Infinity);
  const tests = placed.tests.filter((t) => inside(t.placement.takenAt));
  const anchors = placed.gaps
    .flatMap(({ gap }) => [gap.first, gap.last])
    .filter((a, i, all) => a !== undefined && all.indexOf(a) === i && inside(middle(a.at)))
    .flatMap((a) => (a ? [a] : []));
  const moments = [...tests.map((t) => t.placement.takenAt ?? 0), ...anchors.map((a) => middle(a.at))];
  if (moments.length === 0 && options.from === undefined) return undefined;
  const from = options.from ?? Math.min(...moments);
  const to = Math.max(options.to ?? Math.max(...moments), from + DAY);
  const x = (at: number): number =>
    Math.round((LEFT + ((Math.min(Math.max(at, from), to) - from) / (to - from)) * (WIDTH - LEFT - RIGHT)) * 10) / 10;
  const lane = Math.max(NARROWEST_LANE, Math.min(WIDEST_LANE, LANES_HEIGHT / Math.max(1, tests.length)));
  const lanes = Math.max(1, Math.min(tests.length, Math.floor(LANES_HEIGHT / lane)));
  const height = Math.round(FIRST_LANE_Y + lanes * lane + 62);
  const out: string[] = [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${height}" width="${WIDTH}" height="${height}" font-family="system-ui, sans-serif" font-size="12" role="img" aria-label="${escapeText(options.title)}">`,
    `<rect width="${WIDTH}" height="${height}" fill="#fff"/>`,
    `<text x="${LEFT}" y="26" font-size="16" fill="${INK}">${escapeText(options.title)}</text>`,
    ...axis(from, to, x, zone, height),
    ...stretches(placed, from, to, x),
    ...anchors.map((a) => download(x(middle(a.at)), a.readout)),
    ...placed.incidents.filter((i) => (i.latest ?? to) >= from && (i.earliest ?? from) <= to).map((i) => change(i, x)),
    ...tests.map((t, i) => reading(t, FIRST_LANE_Y + (i % lanes) * lane, x, t.id === options.pointOut)),
    ...legend(height - 28),
    '</svg>',
  ];
  return `${out.join('\n')}\n`;
}

/** Ticks at the first of each month, or each day in a short picture, in local time. */
function axis(from: number, to: number, x: (at: number) => number, zone: Zone, height: number): string[] {
  const out: string[] = [];
  const isShort = to - from < 45 * DAY;
  const first = new Date(zone.wallAt(instant(from)));
  let [year, month, day] = [first.getUTCFullYear(), first.getUTCMonth(), isShort ? first.getUTCDate() : 1];
  const everyMonths = to - from > 1200 * DAY ? 3 : 1;
  for (let n = 0; n < 400; n++) {
    const local = Date.UTC(year, month, day);
    const moment = zone.momentOf(wall(local));
    const at = moment.kind === 'unique' ? moment.at : moment.earlier;
    if (at > to) break;
    if (at >= from) {
      const label = formatWall(wall(local), DAY).slice(isShort ? 5 : 0, isShort ? 10 : 7);
      out.push(
        `<line x1="${x(at)}" y1="${AXIS_Y}" x2="${x(at)}" y2="${height - 50}" stroke="${PALE}"/>`,
        `<text x="${x(at) + 3}" y="${AXIS_Y - 4}" fill="${GREY}">${label}</text>`,
      );
    }
    if (isShort) day += to - from > 12 * DAY ? 3 : 1;
    else month += everyMonths;
    if (month > 11) {
      year++;
      month -= 12;
    }
  }
  return out;
}

/** Gaps without a change as one bar; a gap with a change is hatched: somewhere in it the clock jumped. */
function stretches(placed: PlaceResult, from: number, to: number, x: (at: number) => number): string[] {
  return placed.gaps.flatMap(({ gap, times }) => {
    const begin = gap.first ? middle(gap.first.at) : from;
    const end = gap.last ? middle(gap.last.at) : to;
    if (end < from || begin > to) return [];
    const changed = times.changes.length > 0;
    const fill = changed ? '#fff' : PALE;
    const dash = changed ? ' stroke-dasharray="4 3"' : '';
    return [
      `<rect x="${x(begin)}" y="${BAND_Y}" width="${Math.max(1, x(end) - x(begin))}" height="16" fill="${fill}" stroke="${GREY}"${dash}/>`,
    ];
  });
}

const download = (at: number, id: string): string =>
  `<path d="M${at} ${BAND_Y - 2} l-5 -9 h10 z" fill="${INK}"><title>${escapeText(id)}: the clock was seen</title></path>`;

/** A power loss is a cross, any other change a notch; the line below spans the moments that are possible. */
function change(incident: Incident, x: (at: number) => number): string {
  const lo = x(incident.earliest ?? incident.latest ?? 0);
  const hi = x(incident.latest ?? incident.earliest ?? 0);
  const mid = (lo + hi) / 2;
  const y = BAND_Y + 8;
  const shape =
    incident.kind === 'power-loss'
      ? `M${mid - 5} ${y - 5} l10 10 M${mid - 5} ${y + 5} l10 -10`
      : `M${mid} ${y - 10} v20 M${mid - 4} ${y - 10} h8`;
  return `<g stroke="${ACCENT}" stroke-width="2" fill="none"><title>${escapeText(incident.explanation)}</title><path d="${shape}"/><path d="M${lo} ${BAND_Y + 24} H${hi}" stroke-width="1.5"/></g>`;
}

function reading(t: PlaceResult['tests'][number], y: number, x: (at: number) => number, isPointedOut: boolean): string {
  const { takenAt, earliest, latest, reason } = t.placement;
  const at = x(takenAt ?? 0);
  const ink = isPointedOut ? ACCENT : INK;
  const ring = isPointedOut ? `<circle cx="${at}" cy="${y}" r="6" fill="none" stroke="${ACCENT}"/>` : '';
  return `<g><title>${escapeText(`${t.id}: ${reason}`)}</title><path d="M${x(earliest ?? takenAt ?? 0)} ${y} H${x(latest ?? takenAt ?? 0)}" stroke="${GREY}" stroke-width="1.5"/><circle cx="${at}" cy="${y}" r="2.6" fill="${ink}"/>${ring}</g>`;
}

const LEGEND = [
  'triangle: a download saw the clock \u00b7 solid bar: clock undisturbed \u00b7 dashed bar: changed somewhere in it \u00b7 cross: power lost \u00b7 notch: clock changed',
  'dot on whisker: a test between its earliest and its latest moment; a short whisker is a sure time',
];

const legend = (y: number): string[] =>
  LEGEND.map((line, i) => `<text x="${LEFT}" y="${y + 16 * i}" fill="${GREY}">${line}</text>`);
