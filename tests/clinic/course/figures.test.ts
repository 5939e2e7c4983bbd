/** The other figures of a course: counts, reassessment, variability, trend, plan, errors. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { DatedPoint } from '../../../src/clinic/course/dated-point.ts';
import { type ErrorTest, errorSummary } from '../../../src/clinic/course/error-tests.ts';
import { planOf } from '../../../src/clinic/course/plan.ts';
import { reassess } from '../../../src/clinic/course/reassessment.ts';
import { judge } from '../../../src/clinic/course/standing.ts';
import { testsInRange } from '../../../src/clinic/course/tests-in-range.ts';
import { theilSen } from '../../../src/clinic/course/theil-sen.ts';
import { timeInRange } from '../../../src/clinic/course/time-in-range.ts';
import { trendOf } from '../../../src/clinic/course/trend.ts';
import { variability } from '../../../src/clinic/course/variability.ts';
import { INR_CRITICAL } from '../../../src/clinic/rules/inr-limits.ts';
import { NICE_REASSESSMENT } from '../../../src/clinic/rules/reassessment-rules.ts';
import { ERROR_HABITS, TECHNIQUE } from '../../../src/clinic/rules/technique.ts';
import { ROSENDAAL_1993 } from '../../../src/clinic/rules/time-in-range-rules.ts';
import { TREND_HABITS } from '../../../src/clinic/rules/trend-habits.ts';
import { chanceOfAtLeast } from '../../../src/clinic/statistics/proportion.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { dated, day, localDate, target, test, USUAL } from './make-course.ts';

const seed = seedOr(20260301);

describe('tests in range', () => {
  const count = (tests: readonly DatedPoint[], targets = USUAL) =>
    testsInRange(tests.map((t) => judge(t, targets, { critical: INR_CRITICAL })));

  it('are a fraction of the tests made while a target was in force', () => {
    const tests = dated(
      test(0, '2.5'),
      test(7, '1.8'),
      test(14, '2.5'),
      test(21, '3.2'),
      test(28, '5.6'),
      test(35, '<0.8'),
    );
    expect(count(tests, [target(5, 2, 3)])).toEqual({
      judged: 5,
      below: 2,
      in: 1,
      above: 2,
      noTarget: 1,
      criticalLow: 1,
      criticalHigh: 1,
      uncertain: 0,
      fraction: { kind: 'known', value: 1 / 5 },
    });
  });

  it('count apart those whose standing is not certain', () => {
    expect(count(dated(test(0, '<2.5'), test(7, '2.5')))).toMatchObject({ uncertain: 1, below: 1, in: 1 });
  });

  it('say why there is no fraction', () => {
    expect(count([]).fraction).toMatchObject({ kind: 'not-calculable', reason: 'too-few-tests' });
    expect(count(dated(test(0, '2.5')), []).fraction).toMatchObject({ kind: 'not-calculable', reason: 'no-target' });
  });
});

describe('the criteria for a reassessment', () => {
  const now = day(400);
  const at = (...tests: DatedPoint[]) => {
    const figure = timeInRange(tests, USUAL, ROSENDAAL_1993, { localDate });
    return reassess(tests, figure, NICE_REASSESSMENT, now, localDate);
  };
  const met = (...shown: string[]) =>
    at(...dated(...shown.map((value, i) => test(300 + 7 * i, value)))).criteria.map(({ isMet }) => isMet);

  it.each([
    ['5.1 and 5.2', ['5.1', '5.2'], [true, false, false]],
    ['5.0 and 5.2: 5.0 is not above 5', ['5.0', '5.2'], [false, false, false]],
    ['8.1 once', ['2.5', '8.1'], [false, true, false]],
    ['8.0 once', ['2.5', '8.0'], [false, false, false]],
    ['>8.0 once', ['2.5', '>8.0'], [false, true, false]],
    ['1.4 and <0.8', ['1.4', '<0.8'], [false, false, true]],
    ['1.5 and 1.4: 1.5 is not below 1.5', ['1.5', '1.4'], [false, false, false]],
    ['>4.5 twice, which need not be above 5', ['>4.5', '>4.5'], [false, false, false]],
    ['<1.5 twice', ['<1.5', '<1.5'], [false, false, true]],
    ['<1.6 twice, which need not be below 1.5', ['<1.6', '<1.6'], [false, false, false]],
    ['<9.0 once, which need not be above 8', ['2.5', '<9.0'], [false, false, false]],
    ['>1.0 twice, which need not be below 1.5', ['>1.0', '>1.0'], [false, false, false]],
  ])('are met by %s as the rule says', (_, shown, expected) => {
    expect(met(...shown)).toEqual(expected);
  });

  it('look at the last half year, and name the tests that were counted', () => {
    const early = at(...dated(test(216, '6.0', 'old'), test(217, '5.5', 'first'), test(399, '5.1', 'last')));
    expect(early.criteria[0]).toMatchObject({ isMet: true });
    expect(early.criteria[0]?.counted.map(({ id }) => id)).toEqual(['first', 'last']);
    expect(early.tests).toBe(2);
  });

  it('ask for a look where one of them is met, and show what was counted as it was shown', () => {
    const once = at(...dated(test(300, '2.5'), test(307, '2.5'), test(314, '>8.0', 'high')));
    expect(once.criteria[1]?.counted).toEqual([{ id: 'high', date: '2025-11-11', value: 8, beyond: '>' }]);
    const level = at(
      ...dated(...Array.from({ length: 13 }, (_, i) => test(300 + 7 * i, '2.5')), test(391, '8.1', 'high')),
    );
    expect(level.criteria.map(({ isMet }) => isMet)).toEqual([false, true, false]);
    expect(level).toMatchObject({ timeInRange: { isMet: false }, isDue: true });
  });

  it('ask for a look where time in range is under 65 %, not at 65 %', () => {
    // Level in range for so many days, then level above.
    const low = at(...dated(test(300, '2.5'), test(332, '2.5'), test(332, '3.5', 'up'), test(364, '3.5')));
    expect(low.timeInRange).toMatchObject({ isMet: true, figure: { fraction: 0.5 } });
    const good = at(...dated(test(300, '2.5'), test(352, '2.5'), test(352, '3.5', 'up'), test(380, '3.5')));
    expect(good.timeInRange).toMatchObject({ isMet: false, figure: { fraction: 0.65 } });
    expect([low.isDue, good.isDue]).toEqual([true, false]);
  });

  it('do not take a missing figure for a bad one', () => {
    expect(at(...dated(test(399, '2.5')))).toMatchObject({ timeInRange: { isMet: false }, isDue: false });
  });
});

describe('variability', () => {
  it('is that of a small course reckoned by hand', () => {
    // Values 2, 3, 2.5 a week and two weeks apart; middle of the target 2.5.
    const found = variability(dated(test(0, '2.0'), test(7, '3.0'), test(21, '2.5')), USUAL);
    expect(found).toMatchObject({ tests: 3, beyond: 0, mean: { value: 2.5 }, sd: { value: 0.5 }, cv: { value: 0.2 } });
    expect(found.growthA).toEqual({ kind: 'known', value: (0.25 / 1 + 0) / 2 });
    expect(found.growthB1).toEqual({ kind: 'known', value: (1 / 1 + 0.25 / 2) / 2 });
    expect(found.largestChange).toEqual({ kind: 'known', perWeek: 1, change: 1, days: 7, from: 't0', to: 't7' });
  });

  it('is that of a longer course, with the latest of equally steep changes', () => {
    const found = variability(
      dated(test(0, '2.0'), test(14, '2.5'), test(21, '1.5'), test(35, '3.5'), test(42, '>3.0')),
      USUAL,
    );
    // Distances from 2.5 squared, by weeks: 0 / 2, 1 / 1, 1 / 2, 0.25 / 1.
    expect(found.growthA).toEqual({ kind: 'known', value: 1.75 / 4 });
    // Changes squared, by weeks: 0.25 / 2, 1 / 1, 4 / 2, 0.25 / 1.
    expect(found.growthB1).toEqual({ kind: 'known', value: 3.375 / 4 });
    expect(found.largestChange).toEqual({ kind: 'known', perWeek: 1, change: 2, days: 14, from: 't21', to: 't35' });
    expect(found.beyond).toBe(1);
  });

  it('takes the last test of a date where it counts by the week', () => {
    const found = variability(dated(test(0.4, '9.0'), test(0.5, '2.0'), test(7, '3.0')), USUAL);
    expect(found.growthB1).toEqual({ kind: 'known', value: 1 });
    expect(found.tests).toBe(3);
  });

  it('says why there is no figure', () => {
    const one = variability(dated(test(0, '2.5'), test(0.1, '2.6')), []);
    expect(one.sd.kind).toBe('known');
    expect(one.cv.kind).toBe('known');
    expect(one.growthA).toMatchObject({ reason: 'too-few-tests' });
    expect(one.growthB1).toMatchObject({ reason: 'too-few-tests' });
    expect(variability(dated(test(0, '2.5')), USUAL)).toMatchObject({
      mean: { value: 2.5 },
      sd: { reason: 'too-few-tests' },
      cv: { reason: 'too-few-tests' },
    });
    expect(variability(dated(test(0, '-1'), test(7, '1')), USUAL).cv).toMatchObject({ reason: 'zero-mean' });
    expect(one.largestChange).toMatchObject({ reason: 'too-few-tests' });
    expect(variability(dated(test(0, '2.5'), test(7, '2.6')), []).growthA).toMatchObject({ reason: 'no-target' });
    expect(variability([], USUAL)).toMatchObject({
      mean: { reason: 'too-few-tests' },
      sd: { reason: 'too-few-tests' },
    });
  });
});

describe('the recent trend', () => {
  const now = day(91);
  const trend = (tests: readonly DatedPoint[]) => trendOf(tests, TREND_HABITS, now, localDate);
  const line = (perWeek: number, wobble = 0) =>
    dated(...Array.from({ length: 14 }, (_, i) => test(7 * i, 2 + perWeek * i + (i % 2) * wobble)));

  it('has a sentence where its limits exclude zero', () => {
    expect(trend(line(0.125))).toMatchObject({
      direction: 'rising',
      perWeek: 0.125,
      low: 0.125,
      high: 0.125,
      tests: 14,
    });
    const falling = trend(line(-0.05, 0.01));
    if (falling.kind !== 'known') throw new Error('no trend');
    expect(falling.direction).toBe('falling');
    expect(falling.sentence).toMatch(
      /^The value has been falling by about 0\.05 a week over 14 tests of the last 91 days/,
    );
  });

  it('says from when until when, and with which limits', () => {
    expect(trend(line(0.125))).toMatchObject({
      from: day(0),
      until: day(91),
      sentence:
        'The value has been rising by about 0.13 a week over 14 tests of the last 91 days (95 % limits 0.13 to 0.13).',
    });
  });

  it('shows nothing where the values are level, and none of tests at one moment', () => {
    expect(trend(line(0))).toMatchObject({ direction: 'none-shown', low: 0, high: 0 });
    expect(trend(dated(test(80, '2.0'), test(80, '3.0', 'again')))).toMatchObject({ reason: 'too-few-tests' });
  });

  it('has none where they do not', () => {
    const steady = [24, 26, 23, 27, 25, 24, 26, 25, 23, 26, 24, 25, 27, 24];
    const found = trend(dated(...steady.map((tenths, i) => test(7 * i, tenths / 10))));
    expect(found).toMatchObject({ kind: 'known', direction: 'none-shown' });
    expect(found).not.toHaveProperty('sentence');
  });

  it('looks at its window only', () => {
    const found = trend(dated(test(-30, '9.0'), ...line(0.125)));
    expect(found).toMatchObject({ perWeek: 0.125, tests: 14 });
  });

  it('says that five tests are too few for limits of 95 %, and six are enough', () => {
    expect(trend(line(0.1).slice(0, 5))).toMatchObject({ kind: 'not-calculable', reason: 'too-few-tests' });
    expect(trend(line(0.1).slice(0, 6))).toMatchObject({ kind: 'known' });
    expect(trend([])).toMatchObject({ reason: 'too-few-tests' });
  });

  it('rests on the middle of all slopes, and on limits by their ranks, as reckoned by hand', () => {
    const line = (ys: readonly number[]) => ys.map((y, x) => ({ x, y }));
    // Slopes 1, 2, 3; three are too few for limits.
    expect(theilSen(line([0, 1, 4]), 0.95)).toEqual({ slope: 2, intercept: 0 });
    // Ten slopes from 1 to 4, the middle ones 2.5; spread 1.645 · sqrt(50/3) = 6.7, so the limits are the outermost.
    expect(theilSen(line([0, 1, 3, 6, 10]), 0.9)).toEqual({ slope: 2.5, intercept: -1.5, limits: { low: 1, high: 4 } });
    // Points at one moment make no slope: 1 and -4 remain.
    const tied = (...points: [number, number][]) => points.map(([x, y]) => ({ x, y }));
    expect(theilSen(tied([0, 0], [0, 5], [1, 1]), 0.95)).toMatchObject({ slope: -1.5 });
    expect(theilSen(tied([1, 1], [1, 2]), 0.95)).toBeUndefined();
    // Variance 85/3 less 2 · 11/3 for the two moments of three; spread 1.036 · sqrt(21) = 4.75, so rank 2 of 9.
    const threes = tied([0, 0], [0, 1], [0, 2], [1, 10], [1, 20], [1, 40]);
    expect(theilSen(threes, 0.7)?.limits).toEqual({ low: 9, high: 39 });
  });

  it(`is not moved by turning, stretching or shifting it all (seed ${seed})`, () => {
    const points = fc.array(fc.record({ x: fc.integer({ min: 0, max: 60 }), y: fc.integer({ min: -40, max: 40 }) }), {
      minLength: 5,
      maxLength: 20,
    });
    fc.assert(
      fc.property(points, fc.integer({ min: -5, max: 5 }), (given, tilt) => {
        const before = theilSen(given, 0.95);
        const after = theilSen(
          given.map(({ x, y }) => ({ x: 4 * x + 8, y: 4 * (y + tilt * x) })),
          0.95,
        );
        fc.pre(before !== undefined && after !== undefined);
        if (!before || !after) return;
        expect(after.slope).toBeCloseTo(before.slope + tilt, 9);
        expect(after.limits === undefined).toBe(before.limits === undefined);
        if (before.limits && after.limits) {
          expect(after.limits.low).toBeCloseTo(before.limits.low + tilt, 9);
          expect(after.limits.high).toBeCloseTo(before.limits.high + tilt, 9);
          expect(before.limits.low).toBeLessThanOrEqual(before.slope);
          expect(before.limits.high).toBeGreaterThanOrEqual(before.slope);
        }
      }),
      { seed, numRuns: runsOr(300) },
    );
  });
});

describe('the plan', () => {
  const plan = (now: number, tests: readonly DatedPoint[], everyDays?: number, since?: number) =>
    planOf(tests, {
      now: day(now),
      localDate,
      longestDays: 84,
      ...(everyDays !== undefined && { everyDays }),
      ...(since !== undefined && { since: day(since) }),
    });

  it('has the next test so many dates after the last one, and is overdue from the day after', () => {
    const tests = dated(test(0.8, '2.5'), test(7.2, '2.5'));
    expect(plan(14.9, tests, 7)).toMatchObject({
      nextDate: '2025-01-15',
      overdueDays: 0,
      last: { id: 't7.2', daysSince: 7 },
    });
    expect(plan(15.1, tests, 7)).toMatchObject({ overdueDays: 1, isTooLong: false });
  });

  it('has a hard mark after 84 days, with or without a plan', () => {
    const tests = dated(test(0, '2.5'));
    expect(plan(84, tests)).toMatchObject({ isTooLong: false, overdueDays: 0 });
    expect(plan(85, tests)).toMatchObject({ isTooLong: true, overdueDays: 0 });
    expect(plan(85, tests)).not.toHaveProperty('nextDate');
  });

  it('begins with the day on which it was agreed, where no test was made yet', () => {
    expect(plan(3, [], 7, 1)).toMatchObject({ nextDate: '2025-01-02', overdueDays: 2 });
    expect(plan(3, [], 7, 1)).not.toHaveProperty('last');
    expect(plan(3, [], 7)).not.toHaveProperty('nextDate');
  });

  it('is kept where a test was made within three days of each weekly date', () => {
    const tests = dated(test(0, '2.5'), test(6, '2.5'), test(15, '2.5'), test(21, '2.5'), test(35, '2.5'));
    expect(plan(39, tests, 7).kept).toEqual({ planned: 6, done: 5, fraction: { kind: 'known', value: 5 / 6 } });
    // The date of day 35 owns days 32 to 38 and is not over on day 38.
    expect(plan(38, tests, 7).kept).toMatchObject({ planned: 5, done: 4 });
  });

  it('looks at no test of the future, and at none before planned testing began', () => {
    const tests = dated(test(0, '2.5'), test(7, '2.5'), test(14, '2.5'));
    expect(plan(7, tests, 7)).toMatchObject({ everyDays: 7, last: { id: 't7' }, nextDate: '2025-01-15' });
    expect(plan(7, tests)).not.toHaveProperty('everyDays');
    // From day 8 on: day 8 itself (days 5 to 11) and day 15 (days 12 to 18) are over; day 0 belongs to none.
    expect(plan(20, tests, 7, 8).kept).toMatchObject({ planned: 2, done: 2 });
  });

  it('says that nothing was planned yet', () => {
    expect(plan(3, [], 7).kept).toMatchObject({ planned: 0, fraction: { reason: 'nothing-planned' } });
    expect(plan(2, dated(test(0, '2.5')), 7).kept.fraction).toMatchObject({ reason: 'nothing-planned' });
    expect(plan(200, dated(test(0, '2.5'))).kept.fraction).toMatchObject({ reason: 'nothing-planned' });
  });
});

describe('tests that ended in an error', () => {
  const failed = (at: number, code?: string): ErrorTest => ({
    id: `e${at}`,
    time: { at: day(at) },
    ...(code !== undefined && { code }),
  });
  const sum = (errors: ErrorTest[], tests: DatedPoint[], clinicRate?: number) =>
    errorSummary(errors, tests, {
      habits: ERROR_HABITS,
      advice: TECHNIQUE.causes,
      meanings: { E3: 'not enough blood' },
      ...(clinicRate !== undefined && { clinicRate }),
    });
  const good = (...days: number[]) => dated(...days.map((d) => test(d, '2.5')));

  it('are counted by code, with the maker\u2019s words where they are known', () => {
    expect(sum([failed(9, 'E3'), failed(2, 'E3'), failed(3), failed(4, 'toString')], good(10)).codes).toEqual([
      { code: 'E3', count: 2, last: day(9), meaning: 'not enough blood' },
      { code: '', count: 1, last: day(3) },
      { code: 'toString', count: 1, last: day(4) },
    ]);
  });

  it('have the most frequent code first, then by code, each with its last time', () => {
    const codes = sum([failed(1, 'E9'), failed(2, 'E1'), failed(3, 'E5'), failed(9, 'E5'), failed(4, 'E7')], []).codes;
    expect(codes.map(({ code, count, last }) => [code, count, last])).toEqual([
      ['E5', 2, day(9)],
      ['E1', 1, day(2)],
      ['E7', 1, day(4)],
      ['E9', 1, day(1)],
    ]);
  });

  it('bring advice on technique only where there are any', () => {
    expect(sum([failed(1)], good(2)).advice).toBe(TECHNIQUE.causes);
    expect(sum([], good(2)).advice).toEqual([]);
  });

  it('are a cluster where three come within ten tests', () => {
    // First to third error: tests number 1 and 10, then 1 and 11.
    const near = sum([failed(1), failed(2), failed(10)], good(3, 4, 5, 6, 7, 8, 9));
    expect(near.clusters).toEqual([{ from: day(1), until: day(10), errors: 3, tests: 10 }]);
    const far = sum([failed(1), failed(2), failed(11)], good(3, 4, 5, 6, 7, 8, 9, 10));
    expect(far.clusters).toEqual([]);
  });

  it('make one cluster where runs share an error, else two', () => {
    const many = [1, 2, 3, 4, 30, 31, 32].map((d) => failed(d));
    const between = Array.from({ length: 20 }, (_, i) => 5 + i);
    expect(sum(many, good(...between)).clusters).toEqual([
      { from: day(1), until: day(4), errors: 4, tests: 4 },
      { from: day(30), until: day(32), errors: 3, tests: 3 },
    ]);
    // Errors are the tests number 0, 1, 9, 11 and 18: only 0 to 9 and 9 to 18 are runs, which share number 9.
    const shared = sum(
      [0, 1, 9, 11, 18].map((d) => failed(d)),
      good(2, 3, 4, 5, 6, 7, 8, 10, 12, 13, 14, 15, 16, 17),
    );
    expect(shared.clusters).toEqual([{ from: day(0), until: day(18), errors: 5, tests: 19 }]);
  });

  it('are held against the clinic where its rate is known', () => {
    const errors = [1, 21, 41, 61].map((d) => failed(d));
    const tests = good(...Array.from({ length: 36 }, (_, i) => i * 2 + 0.5));
    expect(sum(errors, tests)).not.toHaveProperty('againstClinic');
    expect(sum(errors, tests, 0.02).againstClinic).toMatchObject({ rate: 0.02, isUnusual: true });
    expect(sum(errors, tests, 0.1).againstClinic).toMatchObject({ isUnusual: false });
    expect(sum([], [], 0.1)).not.toHaveProperty('againstClinic');
    // No error or more is certain: as likely as the habit says is not yet unusual.
    const sure = { habits: { ...ERROR_HABITS, unusualChance: 1 }, advice: [], clinicRate: 0.5 };
    expect(errorSummary([], good(1), sure).againstClinic).toEqual({ rate: 0.5, chance: 1, isUnusual: false });
  });

  it('are certain to be none or more, and never more than all tests', () => {
    expect(chanceOfAtLeast(0, 10, 0.1)).toBe(1);
    expect(chanceOfAtLeast(11, 10, 0.1)).toBe(0);
    expect(chanceOfAtLeast(10, 10, 0.5)).toBeCloseTo(1 / 1024, 15);
  });
});
