/** The pictures of a comparison with the laboratory. Pure. */
import type { DifferencePicture, RegressionPicture } from '../clinic/comparison/pictures.ts';
import type { Html } from './page.ts';
import { INK, line, mark, type Pen, picture, roundTicks, type Scale, scale, valueAxis, words } from './svg.ts';

const WIDTH = 740;
const HEIGHT = 360;
const LEFT = 56;
const RIGHT = 580;
const TOP = 30;
const BOTTOM = 310;

/** From the least to the greatest, with a little room on either side; of a single number a little around it. */
function reach(values: readonly number[]): readonly [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = (high - low || Math.abs(high) || 1) * 0.08;
  return [low - room, high + room];
}

/** The axis of values at the foot, with its name. */
const footAxis = (x: Scale, ticks: readonly number[], name: string): string =>
  line(LEFT, BOTTOM, RIGHT, BOTTOM) +
  ticks
    .map(
      (v) =>
        line(x(v), BOTTOM, x(v), BOTTOM + 5) + words(x(v), BOTTOM + 19, String(v), { anchor: 'middle', ink: INK.mid }),
    )
    .join('') +
  words((LEFT + RIGHT) / 2, BOTTOM + 40, name, { anchor: 'middle', ink: INK.mid });

const point = (x: number, y: number, isJudged: boolean): string => mark(isJudged ? 'in' : 'none', x, y);

/** Differences over means, with bias and limits of agreement, each between its confidence limits. */
export function differenceChart({ kind, points, lines }: DifferencePicture): Html {
  const unit = kind === 'percent' ? ' %' : '';
  const ends = lines.flatMap(({ at }) => [at.value, at.low ?? at.value, at.high ?? at.value]);
  const [fromX, toX] = reach(points.map((p) => p.mean));
  const [fromY, toY] = reach([0, ...points.map((p) => p.difference), ...ends]);
  const x = scale(fromX, toX, LEFT, RIGHT);
  const y = scale(fromY, toY, BOTTOM, TOP);
  const drawn = lines.map(({ name, at }) => {
    const pen: Pen = name === 'bias' ? { width: 1.6 } : { dash: '6 4', width: 1.4 };
    const limits = [at.low, at.high].flatMap((v) =>
      v === undefined ? [] : [line(LEFT, y(v), RIGHT, y(v), { ink: INK.mid, dash: '1 4' })],
    );
    return (
      limits.join('') +
      line(LEFT, y(at.value), RIGHT, y(at.value), pen) +
      words(RIGHT + 8, y(at.value) + 4, `${name} ${signed(at.value, kind === 'percent' ? 1 : 2)}${unit}`)
    );
  });
  const says = lines.map(({ name, at }) => `${name} ${signed(at.value, 2)}${unit}`).join('; ');
  return picture(WIDTH, HEIGHT, 'Differences over means', says === '' ? `${points.length} pairs` : says, [
    valueAxis(y, LEFT, RIGHT, roundTicks(fromY, toY)),
    footAxis(x, roundTicks(fromX, toX, 8), 'mean of meter and laboratory'),
    words(LEFT - 44, 16, `meter less laboratory${unit === '' ? '' : ', % of their mean'}`, { ink: INK.mid }),
    line(LEFT, y(0), RIGHT, y(0), { ink: INK.mid }),
    ...drawn,
    ...points.map((p) => point(x(p.mean), y(p.difference), p.isJudged)),
  ]);
}

const signed = (value: number, decimals: number): string =>
  `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(decimals)}`;

const PENS: Readonly<Record<string, Pen>> = {
  equal: { ink: INK.mid, dash: '2 4' },
  Deming: { dash: '8 4', width: 1.4 },
};

/** The meter's values over the laboratory's with the lines laid through them. */
export function regressionChart({ points, lines }: RegressionPicture): Html {
  const [low, high] = reach(points.flatMap((p) => [p.x, p.y]));
  const x = scale(low, high, LEFT, RIGHT);
  const y = scale(low, high, BOTTOM, TOP);
  const ticks = roundTicks(low, high);
  // Names would lie on each other where the lines do: each has its own row.
  const names = lines
    .toSorted((a, b) => b.to.y - a.to.y)
    .map(({ name, to }, i, all) => ({ name, to, row: Math.max(TOP, y(all[0]?.to.y ?? 0)) + i * 18 }));
  return picture(WIDTH, HEIGHT, 'Meter over laboratory', `${points.length} pairs`, [
    valueAxis(y, LEFT, RIGHT, ticks),
    footAxis(x, ticks, 'laboratory'),
    words(LEFT - 44, 16, 'meter', { ink: INK.mid }),
    ...lines.map(({ name, from, to }) => line(x(from.x), y(from.y), x(to.x), y(to.y), PENS[name] ?? { width: 1.6 })),
    ...points.map((p) => point(x(p.x), y(p.y), p.isJudged)),
    ...names.map(
      ({ name, to, row }) =>
        line(x(to.x), y(to.y), RIGHT + 6, row - 4, { ink: INK.faint }) + words(RIGHT + 8, row, name),
    ),
  ]);
}
