/** Where a value stands. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../../src/clinic/course/standing.ts';
import { targetAt, targetsInOrder } from '../../../src/clinic/course/target-at.ts';
import { INR_CONFIRM, INR_CRITICAL } from '../../../src/clinic/rules/inr-limits.ts';
import { between, day, target, test, USUAL } from './make-course.ts';

const limits = { critical: INR_CRITICAL, confirmFrom: INR_CONFIRM.from };
const standingOf = (shown: string, targets = USUAL) => judge(test(10, shown), targets, limits);

describe('the standing of a value against 2.0 to 3.0, critical under 1.5 and from 5.0', () => {
  it.each([
    ['1.4', 'critical-low'],
    ['1.5', 'below'],
    ['1.9', 'below'],
    ['2.0', 'in'],
    ['3.0', 'in'],
    ['3.1', 'above'],
    ['4.9', 'above'],
    ['5.0', 'critical-high'],
    ['<0.8', 'critical-low'],
    ['>8.0', 'critical-high'],
  ])('of %s is %s, and certain', (shown, standing) => {
    expect(standingOf(shown)).toMatchObject({ standing, isCertain: true });
  });

  it('is no-target where no target is in force yet, but critical values are critical all the same', () => {
    const later = [target(11, 2, 3)];
    expect(standingOf('2.4', later)).toMatchObject({ standing: 'no-target', position: 'no-target' });
    expect(standingOf('2.4', later)).not.toHaveProperty('target');
    expect(standingOf('6.1', later)).toMatchObject({ standing: 'critical-high', position: 'no-target' });
  });

  it('has the target that it was held against', () => {
    expect(standingOf('2.4').target).toEqual(USUAL[0]);
  });

  it('keeps its place against the target beside being critical', () => {
    expect(standingOf('5.2', [target(0, 4.5, 5.5)])).toMatchObject({ standing: 'critical-high', position: 'in' });
  });
});

describe('a value beyond what the meter can show', () => {
  it('counts as the most critical that it may be, and says that this is not certain', () => {
    expect(standingOf('<2.5')).toMatchObject({ standing: 'critical-low', position: 'below', isCertain: false });
    expect(standingOf('>4.0')).toMatchObject({ standing: 'critical-high', position: 'above', isCertain: false });
  });

  it('is strictly beyond the number: under 2.0 is not 2.0', () => {
    expect(judge(test(10, '<2.0'), USUAL, {})).toMatchObject({ standing: 'below', isCertain: true });
    expect(judge(test(10, '>3.0'), USUAL, {})).toMatchObject({ standing: 'above', isCertain: true });
    expect(standingOf('<1.5')).toMatchObject({ standing: 'critical-low', isCertain: true });
    expect(standingOf('>5.0')).toMatchObject({ standing: 'critical-high', isCertain: true });
    expect(judge(test(10, '<2.1'), USUAL, {})).toMatchObject({ standing: 'below', isCertain: false });
  });

  it('is to be confirmed, as is a value from 4.5 on', () => {
    expect(['<0.8', '4.4', '4.5', '>8.0'].map((shown) => standingOf(shown).toConfirm)).toEqual([
      true,
      false,
      true,
      true,
    ]);
  });
});

describe('the target in force', () => {
  const targets = targetsInOrder([target(20, 2.5, 3.5), target(0, 2, 3), target(20, 3, 4)]);

  it('is the last one that began, from the very moment of its beginning', () => {
    expect(targetAt(targets, day(-1))).toBeUndefined();
    expect(targetAt(targets, day(0))).toMatchObject({ low: 2 });
    expect(targetAt(targets, day(19.999))).toMatchObject({ low: 2 });
    expect(targetAt(targets, day(20))).toMatchObject({ low: 3 });
  });

  it('leaves a standing uncertain where the bounds of the time reach across a change that matters', () => {
    const wide = (value: string) => judge(between(18, 19, 21, value), targets, limits);
    expect(wide('2.4')).toMatchObject({ standing: 'in', isCertain: false });
    expect(wide('3.0')).toMatchObject({ standing: 'in', isCertain: true });
    expect(wide('1.8')).toMatchObject({ standing: 'below', isCertain: true });
    expect(wide('6.0')).toMatchObject({ standing: 'critical-high', isCertain: true });
    expect(judge(between(18, 19, 19.9, '2.4'), targets, limits)).toMatchObject({ isCertain: true });
    expect(judge(between(18, 19, null, '2.4'), targets, limits)).toMatchObject({ isCertain: false });
    expect(judge(between(null, 1, 2, '2.4'), targets, limits)).toMatchObject({ isCertain: false });
  });
  it('is the old one no more from the moment of the change, and may be the new one up to it', () => {
    const at = (earliest: number, latest: number, value: string) =>
      judge(between(earliest, (earliest + latest) / 2, latest, value), targets, limits);
    expect(at(20, 21, '2.4')).toMatchObject({ standing: 'below', isCertain: true });
    expect(at(25, 27, '2.4')).toMatchObject({ standing: 'below', isCertain: true });
    expect(at(18, 20, '2.4')).toMatchObject({ standing: 'in', isCertain: false });
  });

  it('is never one that another took the place of at the same moment', () => {
    expect(judge(between(20, 20.5, 21, '2.6'), targets, limits)).toMatchObject({ standing: 'below', isCertain: true });
    const undone = [target(0, 2, 3), target(20, 4, 5), target(20, 2, 3)];
    expect(judge(between(18, 19, 21, '2.4'), undone, limits)).toMatchObject({ standing: 'in', isCertain: true });
  });
});
