/**
 * How far time in range can go within the bounds of the times, against ways that share nothing with it: a linear
 * programme after Charnes and Cooper (Naval Research Logistics Quarterly 1962;9:181, from memory) solved by yalps, all
 * corners of small courses, and random times for what is only promised to be contained.
 */

import { describe, expect, it } from 'vitest';
import { solve } from 'yalps';
import { inOrder } from '../../../src/clinic/course/dated-point.ts';
import { type TimeInRange, timeInRange } from '../../../src/clinic/course/time-in-range.ts';
import type { TimeInRangeBounds } from '../../../src/clinic/course/time-in-range-bounds.ts';
import type { CoursePoint, Target } from '../../../src/clinic/facts.ts';
import { CMS179, ROSENDAAL_1993 } from '../../../src/clinic/rules/time-in-range-rules.ts';
import { instant } from '../../../src/core/instant.ts';
import { chanceFrom } from '../../../src/virtual/chance.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { between, dated, day, localDate, START, target, test, USUAL } from './make-course.ts';

const seed = seedOr(20260301);
const DAY = 86_400_000;

const outcome = (points: readonly CoursePoint[], targets: readonly Target[], rules = ROSENDAAL_1993) =>
  timeInRange(inOrder(points, localDate), targets, rules, { localDate });

function known(
  points: readonly CoursePoint[],
  targets: readonly Target[] = USUAL,
): TimeInRange & { bounds: TimeInRangeBounds } {
  const found = outcome(points, targets);
  if (found.kind !== 'known' || found.bounds.kind !== 'known') throw new Error('no figure');
  return { ...found, bounds: found.bounds };
}

interface Habits {
  readonly tests: number;
  /** Mean days between tests. */
  readonly every: number;
  /** Bounds reach up to so many days either way. */
  readonly either: number;
}

/** A course with bounds, best estimates in order. */
function courseFrom(courseSeed: number, { tests, every, either }: Habits): CoursePoint[] {
  const chance = chanceFrom(courseSeed);
  let at = 100;
  return Array.from({ length: tests }, (_, i) => {
    at += chance.between(0, 2 * every);
    const exact = chance.happens(0.2);
    const [down, up] = exact ? [0, 0] : [chance.between(0, either), chance.between(0, either)];
    return between(at - down, at, at + up, (chance.whole(15, 35) / 10).toFixed(1), `t${i}`);
  });
}

const bound = (side: 'earliest' | 'latest', at: number | undefined): object =>
  at === undefined ? {} : { [side]: instant(at) };

/** Random times within the bounds and in order: drawn one after the other from what the others leave. */
function timesWithin(points: readonly CoursePoint[], timesSeed: number): CoursePoint[] {
  const chance = chanceFrom(timesSeed);
  const low = points.map(({ time }) => time.earliest ?? time.at);
  const high = points.map(({ time }) => time.latest ?? time.at);
  for (let i = 1; i < low.length; i++) low[i] = instant(Math.max(low[i] ?? 0, low[i - 1] ?? 0));
  for (let i = high.length - 2; i >= 0; i--) high[i] = instant(Math.min(high[i] ?? 0, high[i + 1] ?? 0));
  let before = Number.NEGATIVE_INFINITY;
  return points.map((point, i) => {
    const [from, to] = [Math.max(before, low[i] ?? 0), high[i] ?? 0];
    const kind = chance.whole(0, 3);
    const at = instant(kind === 0 ? from : kind === 1 ? to : Math.round(from + chance.next() * (to - from)));
    before = at;
    return { ...point, time: { at, earliest: at, latest: at } };
  });
}

/** The greatest fraction by a linear programme in t · s and s, where s is one over the time judged. */
function byProgramme(points: readonly CoursePoint[], sign: 1 | -1): number {
  const days = (ms: number): number => (ms - START) / DAY;
  const constraints = new Map<string, { min?: number; max?: number; equal?: number }>([['judged', { equal: 1 }]]);
  const variables = new Map<string, Map<string, number>>([['s', new Map()]]);
  const add = (variable: string, row: string, by: number): void => {
    const column = variables.get(variable) ?? new Map<string, number>();
    column.set(row, (column.get(row) ?? 0) + by);
    variables.set(variable, column);
  };
  points.forEach(({ value, time }, i) => {
    constraints.set(`low${i}`, { min: 0 }).set(`high${i}`, { max: 0 });
    add(`y${i}`, `low${i}`, 1);
    add('s', `low${i}`, -days(time.earliest ?? time.at));
    add(`y${i}`, `high${i}`, 1);
    add('s', `high${i}`, -days(time.latest ?? time.at));
    const before = points[i - 1];
    if (!before) return;
    const [bottom, top] = [Math.min(value, before.value), Math.max(value, before.value)];
    const inside =
      top === bottom
        ? Number(top >= 2 && top <= 3)
        : Math.max(0, Math.min(top, 3) - Math.max(bottom, 2)) / (top - bottom);
    constraints.set(`order${i}`, { min: 0 });
    for (const [row, by] of [
      [`order${i}`, 1],
      ['judged', 1],
      ['inside', inside],
    ] as const) {
      add(`y${i}`, row, by);
      add(`y${i - 1}`, row, -by);
    }
  });
  const solved = solve({ direction: sign > 0 ? 'maximize' : 'minimize', objective: 'inside', constraints, variables });
  if (solved.status !== 'optimal') throw new Error(`programme: ${solved.status}`);
  return solved.result;
}

describe('the range of time in range', () => {
  it('is the figure itself where all times are known', () => {
    const { fraction, bounds } = known([test(0, '1.5'), test(10, '2.5'), test(20, '4.0')]);
    expect(bounds).toEqual({ kind: 'known', low: fraction, high: fraction, isExact: true });
  });

  it('is reached at the ends of the bounds: below range until a test of day 8 to 12, then in range until day 20', () => {
    const { bounds } = known([test(0, '1.5'), between(8, 10, 12, '2.0'), test(20, '3.0')]);
    expect(bounds.low).toBeCloseTo(8 / 20, 12);
    expect(bounds.high).toBeCloseTo(12 / 20, 12);
    expect(bounds.isExact).toBe(true);
  });

  it('keeps the order of tests whose bounds overlap', () => {
    // Both middle tests may lie from day 5 to 15: the time from the first to the second of them alone is in range.
    const { bounds } = known([
      test(0, '1.0'),
      between(5, 9, 15, '2.0', 'a'),
      between(5, 11, 15, '3.0', 'b'),
      test(20, '9.0'),
    ]);
    expect(bounds.low).toBeCloseTo(0, 12);
    expect(bounds.high).toBeCloseTo(10 / 20, 12);
  });

  it.each([
    ['weekly tests, minutes of doubt', { tests: 20, every: 7, either: 0.05 }],
    ['weekly tests, neighbours overlap', { tests: 20, every: 7, either: 9 }],
    ['tests a day apart, weeks of doubt', { tests: 15, every: 1, either: 14 }],
  ])(`equals that of a linear programme: %s (seed ${seed})`, (_, habits) => {
    for (let i = 0; i < runsOr(60); i++) {
      const points = courseFrom(seed + i, habits);
      const { bounds } = known(points);
      expect(bounds.isExact).toBe(true);
      expect(bounds.high, `seed ${seed + i}`).toBeCloseTo(byProgramme(points, 1), 7);
      expect(bounds.low, `seed ${seed + i}`).toBeCloseTo(byProgramme(points, -1), 7);
    }
  });

  it(`equals the best of all corners of small courses, first and last test uncertain too (seed ${seed})`, () => {
    for (let i = 0; i < runsOr(60); i++) {
      const points = courseFrom(seed + i, { tests: 4, every: 6, either: 10 });
      const corners = points.flatMap(({ time }) => [time.earliest ?? time.at, time.latest ?? time.at]);
      const all: number[] = [];
      const extend = (times: readonly number[]): void => {
        const k = times.length;
        const point = points[k];
        if (!point) {
          const moved = points.map((p, n) => ({ ...p, time: { at: instant(times[n] ?? 0) } }));
          const found = outcome(moved, USUAL);
          if (found.kind === 'known') all.push(found.fraction);
          return;
        }
        const { at, earliest = at, latest = at } = point.time;
        for (const c of new Set(corners))
          if (c >= earliest && c <= latest && c >= (times.at(-1) ?? c)) extend([...times, c]);
      };
      extend([]);
      const { bounds } = known(points);
      expect(bounds.high, `seed ${seed + i}`).toBeCloseTo(Math.max(...all), 9);
      expect(bounds.low, `seed ${seed + i}`).toBeCloseTo(Math.min(...all), 9);
    }
  });
});

describe('where it is only promised to contain the truth', () => {
  const RUNS = runsOr(150);
  const TARGETS = [target(0, 2, 3), target(150, 2.5, 3.5), target(190, 1.8, 2.6)];

  it.each([
    ['gaps that may or may not count', { tests: 6, every: 45, either: 8 }, USUAL],
    ['targets that change somewhere between uncertain tests', { tests: 12, every: 10, either: 8 }, TARGETS],
    ['both', { tests: 8, every: 45, either: 20 }, TARGETS],
    ['a first target that begins in the midst', { tests: 8, every: 12, either: 10 }, [target(140, 2, 3)]],
  ])(`it does: %s (seed ${seed})`, (_, habits, targets) => {
    let inexact = 0;
    for (let i = 0; i < RUNS; i++) {
      const points = courseFrom(seed + i, habits);
      const found = outcome(points, targets);
      if (found.kind !== 'known' || found.bounds.kind !== 'known') continue;
      const { low, high, isExact } = found.bounds;
      if (!isExact) inexact++;
      expect(low).toBeLessThanOrEqual(found.fraction);
      expect(high).toBeGreaterThanOrEqual(found.fraction);
      for (let k = 0; k < 40; k++) {
        const truth = outcome(timesWithin(points, 1000 * i + k), targets);
        if (truth.kind !== 'known') continue;
        expect(truth.fraction, `seed ${seed + i}, times ${1000 * i + k}`).toBeLessThanOrEqual(high + 1e-9);
        expect(truth.fraction, `seed ${seed + i}, times ${1000 * i + k}`).toBeGreaterThanOrEqual(low - 1e-9);
      }
    }
    expect(inexact).toBeGreaterThan(RUNS / 8);
  });

  it('a change of target between tests that are minutes in doubt widens it by minutes', () => {
    const minute = 1 / 1440;
    const around = (at: number, value: string) => between(at - 5 * minute, at, at + 5 * minute, value);
    const points = [around(0, '2.2'), around(7, '3.2'), around(14, '2.8')];
    const { bounds } = known(points, [target(-1, 2, 3), target(4, 2.5, 3.5)]);
    expect(bounds.isExact).toBe(false);
    expect(bounds.high - bounds.low).toBeLessThan((40 * minute) / 14);
    expect(bounds.high - bounds.low).toBeGreaterThan(0);
  });

  it('sees a change of target that no best estimate reaches, but a bound does', () => {
    const [low, high] = [target(-10, 2, 3), target(-10, 4, 5)];
    const late = [test(0, '2.2'), between(5, 6, 9, '2.8')];
    // The last two days of nine are under another target where the second test was made on day 9.
    expect(known(late, [low, target(7, 4, 5)]).bounds.low).toBeLessThanOrEqual(7 / 9);
    expect(known(late, [high, target(7, 2, 3)]).bounds.high).toBeGreaterThanOrEqual(2 / 9);
    const early = [between(0, 3, 4, '2.2'), test(9, '2.8')];
    expect(known(early, [high, target(2, 2, 3)]).bounds.low).toBeLessThanOrEqual(7 / 9);
    expect(known(early, [low, target(2, 4, 5)]).bounds.high).toBeGreaterThanOrEqual(2 / 9);
  });

  it('a repeated target is no change', () => {
    const points = [between(0, 1, 2, '2.2'), between(6, 7, 8, '3.2'), between(12, 14, 15, '2.8')];
    expect(known(points, [target(-1, 2, 3), target(4, 2, 3)]).bounds).toEqual(known(points).bounds);
  });

  it('a gap of 56 dates at the best estimate that may be 57 counts as it suits each end', () => {
    const points = [test(0.5, '5.0'), test(10.5, '5.0'), between(66.4, 66.6, 67.2, '2.5'), test(80.5, '2.5')];
    const { bounds, pairs } = known(points);
    expect(pairs).toBe(3);
    expect(bounds.isExact).toBe(false);
    // Without the long pair: 10 days above, and 13.3 to 14.1 in range.
    expect(bounds.high).toBeGreaterThanOrEqual(13.3 / 23.3);
    // With it: its part in range is a fifth.
    expect(bounds.low).toBeLessThanOrEqual((56.1 * 0.2 + 13.9) / 80);
  });
});

describe('a time without a bound', () => {
  it('may lie so far away that its pair does not count, or anywhere before', () => {
    // The first test: either 0 to 56 dates before the second, above range, or too far away to count.
    const { bounds } = known([between(null, 5, 8, '5.0'), test(10, '5.0'), test(20, '2.0'), test(30, '2.5')]);
    const after = { inside: 10 / 3 + 10, all: 20 };
    expect(bounds.high).toBeGreaterThanOrEqual(after.inside / after.all - 1e-12);
    expect(bounds.high).toBeLessThan(after.inside / after.all + 0.001);
    expect(bounds.low).toBeLessThanOrEqual(after.inside / (after.all + 56));
    expect(bounds.low).toBeGreaterThan(after.inside / (after.all + 59));
  });

  it('may lie under a target of long ago', () => {
    const points = [between(null, 1, 50, '2.5', 'a'), between(null, 2, 50, '2.5', 'b'), test(50, '2.5')];
    // Ten days apart a thousand days ago, they alone count, and under the target of then they are below.
    const { fraction, bounds } = known(points, [target(-2000, 4, 5), target(-20, 2, 3)]);
    expect(fraction).toBe(1);
    expect(bounds.low).toBe(0);
    const other = known(points, [target(-2000, 2, 3), target(-20, 4, 5)]);
    expect(other.fraction).toBe(0);
    expect(other.bounds.high).toBe(1);
  });

  it.each([
    ['one target', USUAL],
    ['targets that change', [target(0, 2, 3), target(150, 2.5, 3.5)]],
  ])(`is as one with a bound of long ago or far ahead: %s (seed ${seed})`, (_, targets) => {
    for (let i = 0; i < runsOr(60); i++) {
      const points = courseFrom(seed + i, { tests: 7, every: 20, either: 8 });
      const reaching = (earliest: number | undefined, latest: number | undefined): CoursePoint[] =>
        points.map(({ time, ...rest }, n) => ({
          ...rest,
          time: {
            at: time.at,
            ...bound('earliest', n < i % 4 ? earliest : time.earliest),
            ...bound('latest', n > 6 - (i % 3) ? latest : time.latest),
          },
        }));
      const open = known(reaching(undefined, undefined), targets);
      const far = known(reaching(day(-4000), day(4000)), targets);
      expect(open.bounds.low, `seed ${seed + i}`).toBeCloseTo(far.bounds.low, 9);
      expect(open.bounds.high, `seed ${seed + i}`).toBeCloseTo(far.bounds.high, 9);
      expect(open.bounds.isExact).toBe(far.bounds.isExact);
    }
  });

  it('is safe at either end and in chains', () => {
    const chain = (move: number, k = 1) => [
      between(null, 60 - 30 * move, 90, '2.5', 'a'),
      between(null, 80 - 10 * move, 95, '4.0', 'b'),
      test(100, '2.5'),
      test(110, '3.5'),
      between(108, 112 + 20 * move * k, null, '2.2', 'c'),
      between(112, 120 + 60 * move, null, '2.4', 'd'),
    ];
    const targets = [target(85, 2, 3), target(125, 2.5, 3.5)];
    const { bounds } = known(chain(0), targets);
    for (const [move, k] of [
      [0.2, 1],
      [0.9, 1],
      [0.5, 2],
      [1, 0.5],
      [-0.1, 0.5],
    ] as const) {
      const exact = chain(move, k).map((p) => ({
        ...p,
        time: { at: p.time.at, earliest: p.time.at, latest: p.time.at },
      }));
      const truth = known(exact, targets).fraction;
      expect(truth).toBeLessThanOrEqual(bounds.high + 1e-12);
      expect(truth).toBeGreaterThanOrEqual(bounds.low - 1e-12);
    }
  });
});

/** As `known` under one range that was always in force. */
function knownAlways(points: readonly CoursePoint[]): TimeInRangeBounds {
  const found = outcome(points, [], { ...ROSENDAAL_1993, range: { low: 2, high: 3 } });
  if (found.kind !== 'known' || found.bounds.kind !== 'known') throw new Error('no figure');
  return found.bounds;
}

describe('a range worked out by hand: targets that change', () => {
  it('not at all by a change at the earliest time of the first test or at the latest of the second', () => {
    const points = [between(10, 12, 14, '2.0'), between(18, 20, 22, '4.0')];
    const { bounds } = known(points, [target(-1000, 1, 2), target(10, 2, 3), target(22, 1, 2)]);
    expect(bounds).toEqual({ kind: 'known', low: 0.5, high: 0.5, isExact: true });
  });

  // No value is ever in range. The place of the change on the line may move by so many days: they are granted as time in
  // range, of as little time judged as there can be.
  const after = test(40, '9.0', 'c');
  const before = test(-30, '9.0', 'c');
  it.each([
    [
      'by the later ends: a quarter along, 6 days behind the first and 6 behind the second',
      [between(0, 4, 10, '9.0', 'a'), between(6, 8, 14, '9.0', 'b'), after],
      5,
      6 / 30,
    ],
    [
      'by the earlier ends: a quarter along, 4 days before the first and 2 before the second',
      [between(0, 4, 5, '9.0', 'a'), between(6, 8, 9, '9.0', 'b'), after],
      5,
      3.5 / 35,
    ],
    [
      'before two tests at one time: as the first of them moves',
      [between(0, 5, 10, '9.0', 'a'), between(5, 5, 14, '9.0', 'b'), after],
      3,
      5 / 30,
    ],
    [
      'at the time of two tests at once: as the first of them moves',
      [between(0, 5, 10, '9.0', 'a'), between(5, 5, 14, '9.0', 'b'), after],
      5,
      5 / 30,
    ],
    [
      'after two tests at one time: as the second of them moves',
      [before, between(0, 5, 7, '9.0', 'a'), between(2, 5, 14, '9.0', 'b')],
      7,
      9 / 32,
    ],
  ])('%s', (_, points, changeDay, high) => {
    const { fraction, bounds } = known(points, [target(-1000, 2, 3), target(changeDay, 2, 4)]);
    expect(fraction).toBe(0);
    expect(bounds.high).toBeCloseTo(high, 12);
    expect(bounds.isExact).toBe(false);
  });

  it('by no more than the whole pair, where they change too often in it', () => {
    const points = [between(0, 0, 10, '9.0', 'a'), between(6, 10, 10, '9.0', 'b'), test(20, '9.0', 'c')];
    const targets = [target(-1000, 2, 3), target(4, 8, 10), target(5, 7, 11), target(6, 2, 3)];
    const { fraction, bounds } = known(points, targets);
    expect(fraction).toBeCloseTo(2 / 20, 12);
    expect(bounds.high).toBeCloseTo(10 / 20, 12);
    expect(bounds.low).toBe(0);
  });

  it('by no more than the longest pair that counts, where the place may move by just that', () => {
    const points = [
      ...[-180, -130, -90, -60].map((at) => test(at, '9.0')),
      between(10, 20, null, '9.0', 'a'),
      between(10, 30, null, '9.0', 'b'),
    ];
    const { fraction, bounds } = known(points, [target(-1000, 2, 3), target(20, 2, 4)]);
    expect(fraction).toBe(0);
    // 56 days and the two dates that they may reach into, beside 120 days out of range.
    expect(bounds.high).toBeCloseTo(58 / 178, 12);
  });

  it('from none to all, where no test has a latest time', () => {
    // Best taken to be after the change; from day 0 to day 5 they would all be in range.
    const points = [between(0, 8, null, '2.5', 'a'), between(0, 10, null, '2.5', 'b')];
    const { fraction, bounds } = known(points, [target(-1000, 2, 3), target(5, 3.5, 4)]);
    expect(fraction).toBe(0);
    expect(bounds).toEqual({ kind: 'known', low: 0, high: 1, isExact: false });
  });
});

describe('a range worked out by hand: pairs that may or may not count', () => {
  // The second test of 50 to 57 days after the first lies 55 days after it at the best estimate.
  const late = (shown: string): CoursePoint => between(50, 55, 57, shown, 'b');

  it('is the figure where the only pair is always half in range', () => {
    const { bounds } = known([test(0, '2.5'), late('3.5')]);
    expect(bounds).toEqual({ kind: 'known', low: 0.5, high: 0.5, isExact: false });
  });

  it('takes such a pair at its longest where that is best', () => {
    // In range until the second test, then half; from day 60 out of range.
    const { bounds } = known([test(0, '2.5'), late('2.5'), ...[60, 110, 160].map((at) => test(at, '3.5'))]);
    expect(bounds.high).toBeCloseTo((57 + 3 / 2) / 160, 12);
  });

  it('takes such a pair at its shortest where that is best', () => {
    // Half in range until the second test, then in range until day 60, half until day 70, then out of it.
    const rest = [test(60, '2.5'), ...[70, 120, 170].map((at) => test(at, '3.5'))];
    const { bounds } = known([test(0, '3.5'), late('2.5'), ...rest]);
    expect(bounds.high).toBeCloseTo((50 / 2 + 10 + 5) / 170, 12);
  });

  it('does not ask how long such a pair is where it had better not count', () => {
    // Out of range until the second test; then half in range until day 60, the shorter the better, then in range.
    const { bounds } = known([test(0, '3.5'), late('3.5'), test(60, '2.5'), test(70, '2.5')]);
    expect(bounds.high).toBeCloseTo((3 / 2 + 10) / 13, 12);
  });

  it('reckons with two first tests without an earliest time under a range that was always in force', () => {
    const points = [between(null, 0, 5, '2.5', 'a'), between(null, 10, 12, '2.5', 'b'), test(20, '4.0')];
    const bounds = knownAlways(points);
    expect(bounds.high).toBe(1);
    expect(bounds.low).toBeCloseTo(1 / 3, 12);
  });

  it.each([
    [
      'the first two, long before 1970',
      [
        between(null, -30_010, -30_005, '9.0', 'a'),
        between(null, -30_000, -29_995, '9.0', 'b'),
        test(0, '2.5'),
        test(10, '2.5'),
      ],
    ],
    [
      'the last two, long after the others',
      [test(-10, '2.5'), test(0, '2.5'), between(1000, 1010, null, '9.0', 'a'), between(1000, 1020, null, '9.0', 'b')],
    ],
  ])('lets two tests that are open on a side count or not: %s', (_, points) => {
    // Ten days in range, beside none or up to 58 days out of it.
    const bounds = knownAlways(points);
    expect(bounds.isExact).toBe(false);
    expect(bounds.high).toBe(1);
    expect(bounds.low).toBeCloseTo(10 / 68, 12);
  });
});

describe('what the figure is made of', () => {
  it('does not change it: a day of 25 hours in Lisbon belongs to the pair as 25 hours', () => {
    expect(known(dated(test(0, '2.5'), test(25 / 24, '2.5'))).days.judged).toBeCloseTo(25 / 24, 12);
  });

  it('has a range under every rule set that keeps the same tests whatever their times', () => {
    const points = [between(0.4, 0.5, 0.6, '2.0'), between(7.4, 7.5, 7.6, '3.4'), between(14.4, 14.5, 14.6, '2.5')];
    const found = outcome(points, [], CMS179);
    if (found.kind !== 'known' || found.bounds.kind !== 'known') throw new Error('no figure');
    expect(found.bounds.low).toBeLessThan(found.fraction);
    expect(found.bounds.high).toBeGreaterThan(found.fraction);
    expect(day(0)).toBe(START);
  });
});
