/** The meter's values over the laboratory's, with the lines laid through them. */
import type { JSX } from 'preact';
import type { RegressionPicture } from '../../../clinic/comparison/pictures.ts';
import { useHere } from '../here.ts';
import { Chart } from '../parts/chart/chart.tsx';
import { reach } from './reach.ts';

const DASHES: Readonly<Record<string, readonly number[]>> = { equal: [2, 4], Deming: [8, 4] };

export function RegressionChart({ picture: { points, lines } }: { readonly picture: RegressionPicture }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const both = reach(points.flatMap((p) => [p.x, p.y]));
  return (
    <Chart
      says={`${w.regression}. ${w.regressionAbout}`}
      x={both}
      y={both}
      xLabel={w.laboratory}
      yLabel={w.meter}
      xTicks={(value) => format.number(value)}
      draw={({ path, mark, words: write, inks }) => {
        for (const { name, from, to } of lines)
          path(
            [[from.x, from.y] as const, [to.x, to.y] as const],
            name === 'equal' ? inks.mid : inks.ink,
            1.4,
            DASHES[name],
          );
        for (const p of points) mark(p.x, p.y, p.isJudged ? 'round' : 'ring');
        // Names would lie on each other where the lines do: each has a row of its own.
        for (const [i, { name }] of lines.entries())
          write(both.min, both.max, `${lineSample(name)} ${name === 'equal' ? w.equal : name}`, {
            dy: 14 + i * 18,
            ink: inks.ink,
          });
      }}
    />
  );
}

/** How a line is drawn, as characters beside its name. */
const lineSample = (name: string): string => (name === 'equal' ? '····' : name === 'Deming' ? '– –' : '—');
