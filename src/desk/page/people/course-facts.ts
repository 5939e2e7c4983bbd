/** What the picture of a course shows, as plain data: made once of a person's page, drawn by course-chart.tsx. Pure. */
import type { CourseTest } from '../../../clinic/course/course-of.ts';
import type { Incident } from '../../../core/placement.ts';
import type { PersonPage } from '../../api/people.ts';
import type { Shape } from '../parts/chart/pen.ts';

/** One value on its whisker. Times are milliseconds. */
export interface DrawnPoint {
  readonly id: string;
  readonly at: number;
  /** Ends of the whisker; absent where a bound is open. */
  readonly earliest?: number;
  readonly latest?: number;
  readonly value: number;
  readonly beyond?: '<' | '>';
  readonly shape: Shape;
  readonly isCritical: boolean;
  readonly isNew: boolean;
  readonly isWaiting: boolean;
}

/** A target while it was in force. */
export interface DrawnBand {
  readonly from: number;
  readonly to: number;
  readonly low: number;
  readonly high: number;
}

/** A stretch without a test, longer than planned. */
export interface DrawnGap {
  readonly from: number;
  readonly to: number;
  readonly days: number;
}

export interface CourseFacts {
  readonly points: readonly DrawnPoint[];
  /** Runs of points that a line joins. */
  readonly runs: readonly (readonly DrawnPoint[])[];
  readonly gaps: readonly DrawnGap[];
  readonly bands: readonly DrawnBand[];
  readonly lab: readonly { readonly at: number; readonly value: number }[];
  /** In the order of their numbers. */
  readonly incidents: readonly Incident[];
  readonly from: number;
  readonly to: number;
  readonly low: number;
  readonly high: number;
}

const DAY_MS = 86_400_000;

/** The facts; undefined where there is nothing to draw. */
export function courseFacts({ report, newReadings, lab, openAfterDays }: PersonPage): CourseFacts | undefined {
  const { course, targets, values, incidents, analyte } = report;
  const fresh = new Set(newReadings);
  const clear = course.tests.map((test) => clearPoint(test, fresh));
  const waiting = values.flatMap((row): DrawnPoint[] => {
    const value = Number(row.values.find((v) => v.analyte === analyte)?.value.replace(/^[<>]\s*/, ''));
    if (row.status !== 'held' || !row.time || !Number.isFinite(value)) return [];
    const isCritical = row.standing?.startsWith('critical') === true;
    return [{ id: row.id, ...row.time, value, shape: 'ring', isCritical, isNew: fresh.has(row.id), isWaiting: true }];
  });
  const points = [...clear, ...waiting];
  if (points.length === 0) return undefined;
  const from = Math.min(...points.map((p) => p.at)) - 3 * DAY_MS;
  const to = Math.max(...points.map((p) => p.at), course.now) + 3 * DAY_MS;
  const bands = targets
    .map(({ from: start, low, high }, i) => ({
      from: Math.max(start, from),
      to: Math.min(targets[i + 1]?.from ?? to, to),
      low: Number(low),
      high: Number(high),
    }))
    .filter((band) => band.to > band.from);
  const all = [...points.map((p) => p.value), ...bands.flatMap((b) => [b.low, b.high])];
  return {
    points,
    ...joined(course.tests, clear, openAfterDays),
    bands,
    lab: lab.flatMap(({ at, analyte: of, value }) => {
      const number = Number(value.replace(/^[<>]\s*/, ''));
      return of === analyte && Number.isFinite(number) && at >= from ? [{ at, value: number }] : [];
    }),
    incidents,
    from,
    to,
    low: Math.max(0, Math.floor(Math.min(...all) - 0.5)),
    high: Math.ceil(Math.max(...all) + 0.4),
  };
}

function clearPoint({ test, judgement }: CourseTest, fresh: ReadonlySet<string>): DrawnPoint {
  const { standing, position } = judgement;
  return {
    id: test.id,
    ...test.time,
    value: test.value,
    ...(test.beyond ? { beyond: test.beyond } : {}),
    shape: shapeOf(standing, position),
    isCritical: standing.startsWith('critical'),
    isNew: fresh.has(test.id),
    isWaiting: false,
  };
}

/** A critical value points to its side, whatever the target says. */
export function shapeOf(standing: string, position: CourseTest['judgement']['position'] = 'no-target'): Shape {
  if (standing === 'critical-high' || standing === 'above') return 'up';
  if (standing === 'critical-low' || standing === 'below') return 'down';
  if (standing === 'in') return 'round';
  return position === 'in' ? 'round' : 'ring';
}

function joined(
  tests: readonly CourseTest[],
  points: readonly DrawnPoint[],
  longest: number,
): Pick<CourseFacts, 'runs' | 'gaps'> {
  const runs: DrawnPoint[][] = [];
  const gaps: DrawnGap[] = [];
  for (const [i, point] of points.entries()) {
    const [before, day] = [tests[i - 1]?.test.day, tests[i]?.test.day];
    const days = before === undefined || day === undefined ? undefined : day - before;
    if (days === undefined || days > longest) {
      const last = points[i - 1];
      if (days !== undefined && last) gaps.push({ from: last.at, to: point.at, days });
      runs.push([point]);
    } else runs.at(-1)?.push(point);
  }
  return { runs: runs.filter((run) => run.length > 1), gaps };
}
