/** The Levey-Jennings picture: control values side by side in their order, against mean and standard deviations. */
import type { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import type { ControlChart as Facts } from '../../../clinic/controls/levey-jennings.ts';
import { useHere } from '../here.ts';
import { Chart } from '../parts/chart/chart.tsx';
import type { Pen } from '../parts/chart/pen.ts';
import { Table } from '../parts/table.tsx';
import { controlPoints, type LotStretch, RIM_SD } from './control-points.ts';

export function ControlChart({ chart }: { readonly chart: Facts }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const { stretches, all, shown } = useMemo(() => controlPoints(chart), [chart]);
  const title = w.chart(w.kind[chart.kind], chart.analyte, chart.level);
  const { pointColumns: columns } = w;
  const points = stretches.flatMap(({ points: own }) => own);
  return (
    <>
      <h3>{title}</h3>
      <Chart
        says={`${title}. ${w.chartAbout}`}
        x={{ min: -0.7, max: Math.max(shown, 8) - 0.3 }}
        y={{ min: -RIM_SD, max: RIM_SD }}
        xTicks={() => ''}
        yTicks={(sd) => (sd === 0 ? w.mean : `${sd > 0 ? '+' : '−'}${Math.abs(sd)} s`)}
        least={4}
        height={260}
        draw={(pen) => {
          for (const stretch of stretches) drawStretch(pen, stretch);
        }}
      />
      <p class="mid">
        {w.chartAbout} {shown < all ? w.newest(String(shown), String(all)) : ''}
      </p>
      <details>
        <summary>{w.everyPoint}</summary>
        <Table
          name={title}
          heads={[
            { says: columns.time },
            { says: columns.value, isNumber: true },
            { says: columns.sd, isNumber: true },
            { says: columns.verdict },
            { says: columns.rules },
          ]}
          rows={points.toReversed().map(({ point: p }) => ({
            key: p.id,
            cells: [
              format.moment(p.time.at),
              format.value(p.value, p.beyond),
              `${p.z < 0 ? '−' : '+'}${format.number(Math.abs(p.z), 2)}`,
              w.outcome[p.outcome],
              p.rules.join(' '),
            ],
          }))}
        />
      </details>
    </>
  );

  function drawStretch(pen: Pen, { lot, from, to, points: own }: LotStretch): void {
    const { inks } = pen;
    pen.band(from, to, -2, 2);
    for (const sd of [-3, 0, 3])
      pen.path([[from, sd] as const, [to, sd] as const], inks.mid, 1, sd === 0 ? [] : [6, 3]);
    pen.path(
      own.map(({ x, y }) => [x, y] as const),
      inks.faint,
    );
    for (const { x, y, shape, point } of own) {
      if (point.isNewStripLot) pen.footStroke(x - 0.5);
      pen.mark(x, y, shape);
      const name = point.rules.join(' ');
      if (name !== '') pen.words(x, y, name, { align: 'center', dy: y > 0 ? -14 : 16, ink: inks.ink });
    }
    const { mean, sd } = lot.limits;
    pen.words(from + 0.1, RIM_SD, w.lotLine(lot.controlLot, format.number(mean, 2), format.number(sd, 2)), { dy: 12 });
    const [first, last] = [own[0], own.at(-1)];
    if (first) pen.footWords(first.x + 0.6, format.shortDay(first.point.time.at));
    if (last && own.length > 6) pen.footWords(last.x - 0.6, format.shortDay(last.point.time.at));
  }
}
