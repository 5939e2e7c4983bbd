/** Which range is in force when, and how a line lies against it. */
import { describe, expect, it } from 'vitest';
import { rangesOf, sharesOf } from '../../../src/clinic/course/ranges-in-force.ts';
import { target } from './make-course.ts';

describe('the ranges of targets', () => {
  it('leave out a target that was never in force, and one that repeats the limits before it', () => {
    const [first, other, again] = [target(0, 2, 3), target(5, 4, 5), target(5, 2, 3)];
    expect(rangesOf([first, other, again])).toEqual([first]);
    expect(rangesOf([first, other])).toEqual([first, other]);
  });

  it('begin anew where either limit changes', () => {
    const targets = [target(0, 2, 3.5), target(5, 2.5, 3.5), target(9, 2.5, 3)];
    expect(rangesOf(targets)).toEqual(targets);
  });
});

describe('a line against ranges', () => {
  const ranges = [
    { from: 0, low: 2, high: 3 },
    { from: 100, low: 1, high: 2 },
  ];
  const line = (at: number, from: number, to: number, length = 0) =>
    sharesOf({ at, value: from }, { at: at + length, value: to }, ranges);

  it('without length lies in the range then in force: from its first moment, up to the first of the next', () => {
    expect(line(50, 1.5, 2.5)).toEqual({ below: 0.5, in: 0.5, above: 0, none: 0 });
    expect(line(0, 1.5, 2.5)).toEqual({ below: 0.5, in: 0.5, above: 0, none: 0 });
    expect(line(100, 1.5, 2.5)).toEqual({ below: 0, in: 0.5, above: 0.5, none: 0 });
    expect(line(-1, 1.5, 2.5)).toEqual({ below: 0, in: 0, above: 0, none: 1 });
  });

  it('that only touches a limit lies out of range', () => {
    expect(line(10, 1, 2, 50)).toEqual({ below: 1, in: 0, above: 0, none: 0 });
    expect(line(10, 3, 4, 50)).toEqual({ below: 0, in: 0, above: 1, none: 0 });
  });

  it('is split where the range changes, and where the first begins', () => {
    // From 1 to 3: below 2 until 100, above 2 from then on.
    expect(line(50, 1, 3, 100)).toEqual({ below: 0.5, in: 0, above: 0.5, none: 0 });
    expect(line(-50, 2.5, 2.5, 100)).toEqual({ below: 0, in: 0.5, above: 0, none: 0.5 });
  });
});
