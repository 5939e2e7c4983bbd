/** The picture of a course: each reading on its whisker, the target in force as a band, gaps left open. */
import type { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import type { PersonPage } from '../../api/people.ts';
import { useHere } from '../here.ts';
import { Chart } from '../parts/chart/chart.tsx';
import type { Pen } from '../parts/chart/pen.ts';
import type { Span } from '../parts/chart/zoom.ts';
import { type CourseFacts, courseFacts, type DrawnPoint } from './course-facts.ts';

const MONTH_S = 30.44 * 86_400;
/** Labels of gaps and bands need so much of the picture's width. */
const ROOM = 0.12;
/** More values that wait or are critical than this are told by their shapes alone: their words would lie on each other. */
const CROWD = 10;

export function CourseChart({ page, height }: { readonly page: PersonPage; readonly height?: number }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const facts = useMemo(() => courseFacts(page), [page]);
  if (!facts) return <p>{w.nothingToDraw}</p>;
  const x = { min: facts.from / 1000, max: facts.to / 1000 };
  const spans = ([1, 3, 6, 12] as const)
    .map((months) => ({ says: format.count(months, w.months), length: months * MONTH_S }))
    .filter(({ length }) => length < x.max - x.min);
  return (
    <Chart
      says={w.chartSays(page.report.analyte, format.count(facts.points.length, words.terms.tests))}
      x={x}
      y={{ min: facts.low, max: facts.high }}
      isTime
      xTicks={(seconds) => format.shortDay(seconds * 1000)}
      least={7 * 86_400}
      spans={spans}
      {...(height === undefined ? {} : { height })}
      {...(x.max - x.min > 13 * MONTH_S ? { start: { min: x.max - 12 * MONTH_S, max: x.max } } : {})}
      draw={(pen, shown) => drawCourse(pen, shown, facts)}
    />
  );

  function drawCourse(pen: Pen, shown: Span, { bands, runs, gaps, points, incidents, lab }: CourseFacts): void {
    const s = (ms: number): number => ms / 1000;
    const isIn = (ms: number): boolean => s(ms) >= shown.min && s(ms) <= shown.max;
    const share = (from: number, to: number): number =>
      (Math.min(s(to), shown.max) - Math.max(s(from), shown.min)) / (shown.max - shown.min);
    for (const b of bands) pen.band(s(b.from), s(b.to), b.low, b.high);
    for (const run of runs)
      pen.path(
        run.map((p) => [s(p.at), p.value] as const),
        pen.inks.mid,
      );
    for (const gap of gaps) {
      if (share(gap.from, gap.to) <= 0) continue;
      const middle = (Math.max(s(gap.from), shown.min) + Math.min(s(gap.to), shown.max)) / 2;
      const days = format.count(gap.days, words.terms.days);
      pen.footWords(middle, share(gap.from, gap.to) > ROOM ? w.gap(days) : days, 12);
    }
    for (const [i, { earliest, latest }] of incidents.entries()) {
      const [from, to] = [earliest ?? latest, latest ?? earliest];
      if (from !== undefined && to !== undefined) pen.notch(s(from), s(to), String(i + 1));
    }
    for (const { at, value } of lab) pen.mark(s(at), value, 'square');
    // What the numbers of a band are stands on it, where there is room.
    for (const b of bands) {
      if (share(b.from, b.to) < ROOM / 2) continue;
      const range = w.rangeWords(format.number(b.low), format.number(b.high));
      const from = Math.max(s(b.from), shown.min);
      pen.words(from, b.high, share(b.from, b.to) > ROOM * 1.5 ? w.targetOn(range) : range, { dy: -9 });
    }
    const isCrowded = points.filter((p) => (p.isWaiting || p.isCritical) && isIn(p.at)).length > CROWD;
    for (const point of points) if (isIn(point.at) || isIn(point.latest ?? point.at)) drawPoint(pen, point, isCrowded);
  }

  function drawPoint(pen: Pen, p: DrawnPoint, isCrowded: boolean): void {
    const s = (ms: number | undefined, open: number): number => (ms === undefined ? open : ms / 1000);
    pen.whisker(s(p.earliest, x.min), s(p.latest, x.max), p.value);
    pen.mark(p.at / 1000, p.value, p.shape, { isDoubled: p.isCritical, isNew: p.isNew });
    if (p.isWaiting && !isCrowded)
      pen.words(p.at / 1000, p.value, '?', { align: 'center', dy: -14, ink: pen.inks.ink });
    if (p.isCritical && !isCrowded)
      pen.words(p.at / 1000, p.value, w.criticalLabel(format.value(p.value, p.beyond)), {
        align: 'right',
        dy: p.value > 4 ? 16 : -16,
        ink: pen.inks.ink,
      });
  }
}
