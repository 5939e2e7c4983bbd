/**
 * The picture of a course: each reading on its whisker, the target in force as a band with its numbers, the line left
 * open where no test was made for longer than planned, a notch where a clock was changed. Pure.
 */
import type { Course, CourseTest } from '../clinic/course/course-of.ts';
import type { Target, TimeSpan } from '../clinic/facts.ts';
import { instant } from '../core/instant.ts';
import type { Incident } from '../core/placement.ts';
import type { Zone } from '../core/zone.ts';
import type { Html } from './page.ts';
import { countWords } from './plain-words.ts';
import {
  box,
  INK,
  line,
  mark,
  picture,
  roundTicks,
  type Scale,
  type Shape,
  scale,
  strokeThrough,
  timeAxis,
  valueAxis,
  whisker,
  words,
} from './svg.ts';

/** A value that waits: drawn, but no part of the course. */
export interface WaitingPoint {
  readonly time: TimeSpan;
  readonly value: number;
  /** It would be critical. */
  readonly isCritical: boolean;
}

/** What is drawn. */
export interface ChartFacts {
  readonly course: Course;
  readonly targets: readonly Target[];
  readonly waiting: readonly WaitingPoint[];
  /** In the order of their numbers below the picture. */
  readonly incidents: readonly Incident[];
  readonly zone: Zone;
  readonly analyte: string;
}

const WIDTH = 860;
const HEIGHT = 340;
const LEFT = 36;
const RIGHT = 846;
const TOP = 24;
const BOTTOM = 304;
const DAY_MS = 86_400_000;

/** The tests of the period. */
export const shownTests = ({ tests, period }: Course): readonly CourseTest[] =>
  period ? tests.filter(({ test: { date } }) => date >= period.from && date <= period.until) : tests;

/** Longer than so many days between two tests is longer than planned: half an interval late still counts as kept. */
export function openAfterDays({ plan, timeInRange }: Course): number {
  if (plan.everyDays !== undefined) return plan.everyDays + Math.floor(plan.everyDays / 2);
  return timeInRange[0]?.rules.gapDays ?? plan.longestDays;
}

/** Draws it; undefined where there is nothing to draw. */
export function courseChart(facts: ChartFacts): Html | undefined {
  const { course, targets, waiting, incidents, zone, analyte } = facts;
  const tests = shownTests(course);
  const times = [...tests.map(({ test }) => test.time.at), ...waiting.map(({ time }) => time.at)];
  if (times.length === 0) return undefined;
  const from = Math.min(...times) - 2 * DAY_MS;
  const to = Math.max(...times, course.period ? 0 : course.now) + 2 * DAY_MS;
  const x = scale(from, to, LEFT, RIGHT);
  const inside = (at: number): number => x(Math.min(Math.max(at, from), to));
  const bands = bandsOf(targets, from, to);
  const all = [
    ...tests.map(({ test }) => test.value),
    ...waiting.map(({ value }) => value),
    ...bands.flatMap(({ low, high }) => [low, high]),
  ];
  const [low, high] = [Math.floor(Math.min(...all) - 0.5), Math.ceil(Math.max(...all) + 0.5)];
  const y = scale(low, high, BOTTOM, TOP);
  const isOpen = openAfterDays(course);
  const says = `${countWords(tests.length, 'test')}; the numbers stand in the table of values.`;
  return picture(WIDTH, HEIGHT, `Course of ${analyte}`, says, [
    ...bands.map((b) => box(inside(b.from), y(b.high), inside(b.to) - inside(b.from), y(b.low) - y(b.high))),
    valueAxis(y, LEFT, RIGHT, roundTicks(low, high)),
    ...bands.map((b) => bandEdges(b, inside, y)),
    ...lineParts(tests, isOpen).map((part) =>
      strokeThrough(
        part.map(({ test }) => [inside(test.time.at), y(test.value)] as const),
        { ink: INK.mid },
      ),
    ),
    ...gapLabels(tests, isOpen, x),
    timeAxis(x, BOTTOM, instant(from), instant(to), zone),
    ...incidents.map((incident, i) => notch(incident, i + 1, inside)),
    ...waiting.map((point) => waitingMark(point, inside, y)),
    ...tests.map((test) => testMark(test, inside, y)),
    ...bands.map((b) => bandWords(b, inside, y)),
  ]);
}

type Band = { readonly from: number; readonly to: number; readonly low: number; readonly high: number };

function bandsOf(targets: readonly Target[], from: number, to: number): Band[] {
  return targets
    .map(({ from: start, low, high }, i) => ({
      from: Math.max(start, from),
      to: Math.min(targets[i + 1]?.from ?? to, to),
      low,
      high,
    }))
    .filter((band) => band.to > band.from);
}

const bandEdges = (b: Band, x: Scale, y: Scale): string =>
  [b.low, b.high].map((v) => line(x(b.from), y(v), x(b.to), y(v), { ink: INK.mid, width: 0.8 })).join('');

/** The two numbers of a band, and the word where there is room for it. */
function bandWords(b: Band, x: Scale, y: Scale): string {
  const range = `${b.low.toFixed(1)} to ${b.high.toFixed(1)}`;
  const says = x(b.to) - x(b.from) >= 150 ? `target ${range}` : range;
  return words(x(b.from) + 4, y(b.high) - 5, says, { ink: INK.mid });
}

/** Runs of tests that are joined by a line. */
function lineParts(tests: readonly CourseTest[], isOpen: number): CourseTest[][] {
  const parts: CourseTest[][] = [];
  tests.forEach((test, i) => {
    const before = tests[i - 1];
    if (before && test.test.day - before.test.day <= isOpen) parts.at(-1)?.push(test);
    else parts.push([test]);
  });
  return parts.filter((part) => part.length > 1);
}

/** The days of each gap, on the ground of the picture where no value stands. */
function gapLabels(tests: readonly CourseTest[], isOpen: number, x: Scale): string[] {
  return tests.flatMap((test, i) => {
    const before = tests[i - 1];
    if (!before || test.test.day - before.test.day <= isOpen) return [];
    const [a, b] = [x(before.test.time.at), x(test.test.time.at)];
    const days = test.test.day - before.test.day;
    const says = b - a >= 110 ? `${days} days, no test` : `${days} d`;
    const ground = BOTTOM - 8;
    return [
      line(a + 2, ground, b - 2, ground, { ink: INK.mid, dash: '2 3' }) +
        words((a + b) / 2, ground - 6, says, { anchor: 'middle', ink: INK.mid }),
    ];
  });
}

/** A small triangle on the axis with the number of its sentence. */
function notch({ earliest, latest }: Incident, number: number, x: Scale): string {
  const at = ((earliest ?? latest ?? 0) + (latest ?? earliest ?? 0)) / 2;
  const place = x(at);
  return (
    line(x(earliest ?? at), BOTTOM, x(latest ?? at), BOTTOM, { width: 3 }) +
    `<path d="M${(place - 5).toFixed(1)} ${BOTTOM}h10l-5 -9z" fill="${INK.dark}"/>` +
    words(place, BOTTOM - 12, String(number), { anchor: 'middle', isStrong: true })
  );
}

/** Both ends of a whisker; an open bound reaches the edge of the picture. */
const bounds = ({ earliest, latest }: TimeSpan, x: Scale): readonly [number, number] => [
  x(earliest ?? Number.NEGATIVE_INFINITY),
  x(latest ?? Number.POSITIVE_INFINITY),
];

function testMark({ test, judgement }: CourseTest, x: Scale, y: Scale): string {
  const [place, height] = [x(test.time.at), y(test.value)];
  const isCritical = judgement.standing.startsWith('critical');
  const shape: Shape =
    judgement.standing === 'critical-high'
      ? 'above'
      : judgement.standing === 'critical-low'
        ? 'below'
        : judgement.position === 'no-target'
          ? 'none'
          : judgement.position;
  const [a, b] = bounds(test.time, x);
  const isRight = place < RIGHT - 110;
  const label = isCritical
    ? words(place + (isRight ? 10 : -10), height + 4, `${test.beyond ?? ''}${test.value.toFixed(1)} critical`, {
        anchor: isRight ? 'start' : 'end',
        isStrong: true,
      })
    : '';
  return whisker(a, b, height) + mark(shape, place, height, { isCritical }) + label;
}

function waitingMark({ time, value, isCritical }: WaitingPoint, x: Scale, y: Scale): string {
  const [a, b] = bounds(time, x);
  return (
    whisker(a, b, y(value)) +
    mark('none', x(time.at), y(value)) +
    words(x(time.at), y(value) - 8, isCritical ? `? ${value.toFixed(1)} critical` : '?', { anchor: 'middle' })
  );
}
