/** The Levey-Jennings picture: control values side by side in their order, against mean and standard deviations. Pure. */
import type { ChartLot, ControlChart } from '../clinic/controls/levey-jennings.ts';
import { localDay } from '../core/local-words.ts';
import type { Zone } from '../core/zone.ts';
import type { Html } from './page.ts';
import { box, INK, line, mark, picture, scale, strokeThrough, words } from './svg.ts';

const WIDTH = 740;
const HEIGHT = 300;
const LEFT = 66;
const RIGHT = 690;
const TOP = 34;
const BOTTOM = 240;
/** Farther out a value stands at the rim, with its value written. */
const RIM_SD = 4;
/** So many of the newest points are drawn. */
export const DRAWN_POINTS = 60;

/** The newest points of a chart, each with its lot; the older ones are only counted. */
function newest({ lots }: ControlChart): readonly ChartLot[] {
  const all = lots.reduce((sum, lot) => sum + lot.points.length, 0);
  let leave = Math.max(0, all - DRAWN_POINTS);
  return lots.flatMap((lot) => {
    const left = Math.min(leave, lot.points.length);
    leave -= left;
    const points = lot.points.slice(left);
    return points.length === 0 ? [] : [{ ...lot, points }];
  });
}

/**
 * The picture. A value in control is a round point; one that a rule rejects is a triangle that points away from the mean
 * with the rule's name; a warning is an open ring with its name. Each control lot has its own lines, for its own mean.
 */
export function controlChart(chart: ControlChart, zone: Zone): Html {
  const lots = newest(chart);
  const count = lots.reduce((sum, lot) => sum + lot.points.length, 0);
  const x = scale(-0.7, Math.max(count, 8) - 0.3, LEFT, RIGHT);
  const y = scale(-RIM_SD, RIM_SD, BOTTOM, TOP);
  let first = 0;
  const parts = lots.map((lot) => {
    const drawn = lotParts(lot, first, x, y, zone);
    first += lot.points.length;
    return drawn;
  });
  const grid = [-3, -2, 0, 2, 3].map((sd) =>
    words(LEFT - 8, y(sd) + 4, sd === 0 ? 'mean' : `${sd < 0 ? '−' : '+'}${Math.abs(sd)} s`, {
      anchor: 'end',
      ink: INK.mid,
    }),
  );
  const says = lots
    .map((lot) => `control lot ${lot.controlLot}: ${lot.points.length} values, mean ${lot.limits.mean.toFixed(2)}`)
    .join('; ');
  return picture(WIDTH, HEIGHT, `Control level ${chart.level} on meter ${chart.meter}`, says, [
    ...grid,
    ...parts.flat(),
  ]);
}

function lotParts(
  lot: ChartLot,
  first: number,
  x: (v: number) => number,
  y: (v: number) => number,
  zone: Zone,
): readonly string[] {
  const last = first + lot.points.length - 1;
  const [from, to] = [x(first - 0.5), x(last + 0.5)];
  const places = lot.points.map((p, i) => {
    const z = p.beyond === '>' ? RIM_SD : p.beyond === '<' ? -RIM_SD : p.z;
    return { p, at: x(first + i), height: y(Math.max(-RIM_SD + 0.2, Math.min(RIM_SD - 0.2, z))), isHigh: z > 0 };
  });
  const lines = ([-3, -2, 0, 2, 3] as const).map((sd) =>
    line(from, y(sd), to, y(sd), sd === 0 ? {} : { ink: INK.mid, dash: Math.abs(sd) === 3 ? '6 3' : '2 3' }),
  );
  const labels = [
    words(
      from,
      TOP - 16,
      `control lot ${lot.controlLot}: mean ${lot.limits.mean.toFixed(2)}, s ${lot.limits.sd.toFixed(2)}`,
    ),
    ...(first > 0 ? [line(from, TOP - 12, from, BOTTOM, { dash: '1 3' })] : []),
    ...[places[0], places.length > 6 ? places.at(-1) : undefined].flatMap((place, i) =>
      place
        ? [
            words(place.at, BOTTOM + 34, localDay(place.p.time.at, zone), {
              anchor: i === 0 ? 'start' : 'end',
              ink: INK.mid,
            }),
          ]
        : [],
    ),
  ];
  const points = places.map(({ p, at, height, isHigh }) => {
    const isBad = p.outcome === 'reject';
    const name = p.rules.join(' ');
    const label = name === '' ? '' : words(at, isHigh ? height - 12 : height + 22, name, { anchor: 'middle' });
    const strip = p.isNewStripLot ? line(at - 5, BOTTOM - 8, at - 5, BOTTOM + 4, { width: 2 }) : '';
    const shape = isBad ? (isHigh ? 'above' : 'below') : p.outcome === 'warn' ? 'none' : 'in';
    return strip + mark(shape, at, height) + label;
  });
  return [
    box(from, y(2), to - from, y(-2) - y(2)),
    ...lines,
    strokeThrough(
      places.map(({ at, height }) => [at, height]),
      { ink: INK.faint },
    ),
    ...points,
    ...labels,
  ];
}
