/** Differences over means (Bland and Altman), with bias and limits of agreement, each between its confidence limits. */
import type { JSX } from 'preact';
import type { DifferencePicture } from '../../../clinic/comparison/pictures.ts';
import { useHere } from '../here.ts';
import { Chart } from '../parts/chart/chart.tsx';
import { reach } from './reach.ts';

export function DifferenceChart({ picture: { points, lines } }: { readonly picture: DifferencePicture }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const x = reach(points.map((p) => p.mean));
  const y = reach([
    0,
    ...points.map((p) => p.difference),
    ...lines.flatMap(({ at }) => [at.value, at.low ?? at.value, at.high ?? at.value]),
  ]);
  return (
    <Chart
      says={`${w.differences}. ${w.differencesAbout}`}
      x={x}
      y={y}
      xLabel={w.meanOfBoth}
      yLabel={w.meterLess}
      xTicks={(value) => format.number(value)}
      draw={({ path, mark, words: write, inks }, shown) => {
        path([[x.min, 0] as const, [x.max, 0] as const], inks.line);
        for (const { name, at } of lines) {
          path([[x.min, at.value] as const, [x.max, at.value] as const], inks.ink, 1.4, name === 'bias' ? [] : [6, 4]);
          for (const limit of [at.low, at.high])
            if (limit !== undefined) path([[x.min, limit] as const, [x.max, limit] as const], inks.mid, 1, [1, 4]);
        }
        for (const p of points) mark(p.mean, p.difference, p.isJudged ? 'round' : 'ring');
        for (const { name, at } of lines)
          write(shown.max, at.value, `${w.lines[name]} ${format.number(at.value, 2)}`, {
            align: 'right',
            dy: -9,
            ink: inks.ink,
          });
      }}
    />
  );
}
