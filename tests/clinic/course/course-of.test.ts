/** The whole course of a person, as reports, the desk and outlets get it. */
import { describe, expect, it } from 'vitest';
import { type CourseInput, courseOf, INR_COURSE_RULES } from '../../../src/clinic/course/course-of.ts';
import { between, day, localDate, target, test, USUAL } from './make-course.ts';

const input: CourseInput = {
  points: [
    test(42, '5.4', 'high'),
    test(0, '2.5'),
    between(6.9, 7, 7.2, '1.8'),
    test(14, '2.6'),
    test(21, '<0.8', 'low'),
    test(28, '2.2'),
    test(35, '3.1'),
  ],
  errors: [{ id: 'e', time: { at: day(13.9) }, code: 'E3' }],
  targets: [target(30, 2.5, 3.5), target(-1, 2, 3)],
  now: day(50),
  localDate,
  planDays: 7,
};
const course = courseOf(input);

describe('a course', () => {
  it('has its tests in order of time, each with its standing, whatever order they came in', () => {
    expect(course.tests.map(({ test: { date }, judgement }) => [date, judgement.standing])).toEqual([
      ['2025-01-01', 'in'],
      ['2025-01-08', 'below'],
      ['2025-01-15', 'in'],
      ['2025-01-22', 'critical-low'],
      ['2025-01-29', 'in'],
      ['2025-02-05', 'in'],
      ['2025-02-12', 'critical-high'],
    ]);
    expect(courseOf({ ...input, points: input.points.toReversed() })).toEqual(course);
  });

  it('has critical tests first: newest first', () => {
    expect(course.critical.map(({ test: { id } }) => id)).toEqual(['high', 'low']);
  });

  it('has a time in range for every rule set, in their order, each named', () => {
    expect(course.timeInRange.map(({ rules: { source }, kind }) => [source.name, kind])).toEqual([
      ['Rosendaal 1993', 'known'],
      ['CMS179', 'known'],
      ['NICE NG196', 'not-calculable'],
    ]);
  });

  it('has the target in force now, the plan, the errors', () => {
    expect(course.target).toMatchObject({ low: 2.5, high: 3.5 });
    expect(course.plan).toMatchObject({ nextDate: '2025-02-19', overdueDays: 1 });
    expect(course.errors).toMatchObject({ errors: 1, tests: 8 });
  });

  it('is plain data: it survives being written as JSON', () => {
    expect(JSON.parse(JSON.stringify(course))).toEqual(course);
  });

  it('keeps its figures to a period, and its tests, plan and trend whole', () => {
    const part = courseOf({ ...input, period: { from: '2025-01-08', until: '2025-01-29' } });
    expect(part.tests).toHaveLength(7);
    expect(part.critical.map(({ test: { id } }) => id)).toEqual(['low']);
    expect(part.testsInRange.judged).toBe(4);
    expect(part.variability.tests).toBe(4);
    expect(part.errors).toMatchObject({ errors: 1, tests: 5 });
    expect(part.timeInRange[0]).toMatchObject({ tests: 4 });
    expect(part.plan).toEqual(course.plan);
    expect(part.trend).toEqual(course.trend);
    expect(courseOf({ ...input, period: { from: '2025-01-16', until: '2025-01-29' } }).errors.errors).toBe(0);
  });

  it('takes the limits that it is given', () => {
    const strict = courseOf(input, { ...INR_COURSE_RULES, limits: { critical: { low: 1, high: 3 } } });
    expect(strict.critical.map(({ test: { id } }) => id)).toEqual(['high', 't35', 'low']);
    expect(courseOf(input, { ...INR_COURSE_RULES, limits: {} }).critical).toEqual([]);
  });

  it('hands on what it is told of treatment, plan, codes and the clinic', () => {
    expect(course).not.toHaveProperty('period');
    const period = { from: '2025-01-08', until: '2025-01-29' };
    expect(courseOf({ ...input, period }).period).toEqual(period);
    expect(courseOf({ ...input, points: [], planSince: day(48) }).plan).toMatchObject({
      everyDays: 7,
      nextDate: '2025-02-18',
      overdueDays: 2,
    });
    expect(courseOf({ ...input, errorMeanings: { E3: 'not enough blood' } }).errors.codes).toEqual([
      { code: 'E3', count: 1, last: day(13.9), meaning: 'not enough blood' },
    ]);
    expect(course.errors).not.toHaveProperty('againstClinic');
    // One of eight tests: one less the chance of eight good ones.
    const { againstClinic } = courseOf({ ...input, clinicErrorRate: 0.5 }).errors;
    expect(againstClinic).toEqual({ rate: 0.5, chance: 1 - 0.5 ** 8, isUnusual: false });
    const weekly = Array.from({ length: 40 }, (_, i) => test(7 * i, '2.5'));
    const since = (at?: number) =>
      courseOf({ ...input, points: weekly, now: day(280), ...(at !== undefined && { treatmentSince: day(at) }) });
    expect(since().timeInRange[2]).toMatchObject({ leftOut: { firstDays: 6 } });
    expect(since(-42).timeInRange[2]).toMatchObject({ leftOut: { firstDays: 0 } });
    // The half year begins on day 97; treatment from day 70 on leaves out what lies before day 112.
    expect(since().reassessment.timeInRange.figure).toMatchObject({ leftOut: { firstDays: 0 } });
    expect(since(70).reassessment.timeInRange.figure).toMatchObject({ reason: 'too-short' });
  });

  it('of nobody is a course without figures, each with its reason', () => {
    const none = courseOf({ points: [], targets: [], now: day(0), localDate });
    expect(none.tests).toEqual([]);
    expect(none.timeInRange.map(({ kind }) => kind)).toEqual(Array(3).fill('not-calculable'));
    expect(none.trend.kind).toBe('not-calculable');
    expect(none).not.toHaveProperty('target');
    expect(none.plan).toEqual({
      overdueDays: 0,
      isTooLong: false,
      longestDays: 84,
      kept: { planned: 0, done: 0, fraction: expect.objectContaining({ reason: 'nothing-planned' }) },
    });
  });

  it('reckons the reassessment over the last half year by the rules of NICE', () => {
    const weekly = Array.from({ length: 60 }, (_, i) => test(7 * i, i < 40 ? '2.5' : '3.5'));
    const long = courseOf({ ...input, points: weekly, targets: USUAL, now: day(7 * 59 + 1) });
    const { figure, isMet } = long.reassessment.timeInRange;
    if (figure.kind !== 'known') throw new Error(figure.sentence);
    // Tests number 33 to 59; the half week in which the line crosses 3.0 belongs to time in range.
    expect(figure.tests).toBe(27);
    expect(figure.fraction).toBeCloseTo(6.5 / 26, 12);
    expect(isMet).toBe(true);
    expect(long.timeInRange[0]).toMatchObject({ fraction: 39.5 / 59 });
  });
});
