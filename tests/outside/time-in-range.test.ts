/**
 * Time in range against exact fractions. No published worked example with its figures was at hand, so the second way is
 * rational arithmetic on the definition of the method (Rosendaal et al., Thromb Haemost 1993;69:236-239, from memory;
 * gap and fraction as in the definition of LOINC 72281-9): for every pair the moments at which the line crosses a limit
 * or a target changes are put in order, and each stretch between two of them is judged by its middle. It shares no
 * formula with the program.
 *
 * The paper counts whole days. The last tests show how its count, a value for each day, comes to the same.
 */
import { describe, expect, it } from 'vitest';
import { timeInRange } from '../../src/clinic/course/time-in-range.ts';
import { ROSENDAAL_1993 } from '../../src/clinic/rules/time-in-range-rules.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { dated, day, localDate, START, test } from '../clinic/course/make-course.ts';
import { asNumber, compared, minus, over, plus, type Rational, rational, times } from '../support/rational.ts';
import { runsOr, seedOr } from '../support/seed.ts';

const seed = seedOr(20260301);
const COURSES = runsOr(300);
const ZERO = rational(0);
const HALF: Rational = { top: 1n, bottom: 2n };

interface Written {
  readonly at: number;
  readonly shown: string;
}
interface Range {
  readonly from: number;
  readonly low: string;
  readonly high: string;
}

/** Milliseconds below, in and above, exactly. */
function exactly(
  tests: readonly Written[],
  ranges: readonly Range[],
): { below: Rational; in: Rational; above: Rational } {
  const sums = { below: ZERO, in: ZERO, above: ZERO };
  tests.forEach((b, i) => {
    const a = tests[i - 1];
    if (!a) return;
    const [from, to] = [rational(a.at), rational(b.at)];
    const datesApart = Math.floor(b.at / 86_400_000) - Math.floor(a.at / 86_400_000);
    if (datesApart > 56 || a.at === b.at) return;
    const slope = over(minus(rational(b.shown), rational(a.shown)), minus(to, from));
    const crossings =
      slope.top === 0n
        ? []
        : ranges.flatMap(({ low, high }) =>
            [low, high].map((limit) => plus(from, over(minus(rational(limit), rational(a.shown)), slope))),
          );
    const cuts = [from, to, ...crossings, ...ranges.map((range) => rational(range.from))]
      .filter((cut) => compared(cut, from) >= 0 && compared(cut, to) <= 0)
      .sort(compared);
    cuts.forEach((cut, k) => {
      const before = cuts[k - 1];
      if (!before || compared(before, cut) === 0) return;
      const middle = times(plus(before, cut), HALF);
      const range = ranges.findLast((r) => compared(rational(r.from), middle) <= 0);
      if (!range) return;
      const value = plus(rational(a.shown), times(slope, minus(middle, from)));
      const place =
        compared(value, rational(range.low)) < 0 ? 'below' : compared(value, rational(range.high)) > 0 ? 'above' : 'in';
      sums[place] = plus(sums[place], minus(cut, before));
    });
  });
  return sums;
}

describe('time in range', () => {
  it(`is that of exact fractions, for ${COURSES} courses with changing targets and gaps (seed ${seed})`, () => {
    let reckoned = 0;
    for (let i = 0; i < COURSES; i++) {
      const chance = chanceFrom(seed + i);
      let at = 0;
      const written = Array.from({ length: 12 }, (): Written => {
        at += chance.whole(1, 35 * 86_400_000);
        return { at: START + at, shown: (chance.whole(8, 60) / 10).toFixed(1) };
      });
      const ranges = Array.from({ length: 4 }, (_, k): Range => {
        const low = chance.whole(15, 30);
        return {
          from: START + k * 60 * 86_400_000 + chance.whole(-40, 40) * 3_600_000,
          low: (low / 10).toFixed(1),
          high: ((low + chance.whole(5, 15)) / 10).toFixed(1),
        };
      });
      const tests = written.map(({ at: ms, shown }, k) => test((ms - START) / 86_400_000, shown, `t${k}`));
      const targets = ranges.map(({ from, low, high }) => ({
        from: day((from - START) / 86_400_000),
        low: Number(low),
        high: Number(high),
      }));
      const found = timeInRange(dated(...tests), targets, ROSENDAAL_1993, { localDate });
      const exact = exactly(written, ranges);
      const judged = plus(plus(exact.below, exact.in), exact.above);
      if (judged.top === 0n) {
        expect(found.kind).toBe('not-calculable');
        continue;
      }
      if (found.kind !== 'known') throw new Error(found.sentence);
      reckoned++;
      const days = (ms: Rational): number => asNumber(over(ms, rational(86_400_000)));
      expect(found.fraction, `seed ${seed + i}`).toBeCloseTo(asNumber(over(exact.in, judged)), 12);
      expect(found.days.below).toBeCloseTo(days(exact.below), 9);
      expect(found.days.in).toBeCloseTo(days(exact.in), 9);
      expect(found.days.above).toBeCloseTo(days(exact.above), 9);
    }
    expect(reckoned).toBeGreaterThan(COURSES * 0.8);
  });
});

describe("the paper's own count, a value for each day", () => {
  /** Share of the whole days after the first test, up to the last, whose value on the line is in range. */
  const byDays = (from: number, to: number, days: number): number =>
    Array.from({ length: days }, (_, d) => from + ((to - from) * (d + 1)) / days).filter(
      (value) => value >= 2 - 1e-9 && value <= 3 + 1e-9,
    ).length / days;
  const continuous = (from: string, to: string, days: number): number => {
    const found = timeInRange(
      dated(test(0, from), test(days, to)),
      [{ from: day(-1), low: 2, high: 3 }],
      ROSENDAAL_1993,
      {
        localDate,
      },
    );
    return found.kind === 'known' ? found.fraction : Number.NaN;
  };

  it.each([
    ['1.5', '3.5', 20],
    ['2.4', '3.4', 28],
    ['3.6', '1.2', 56],
    ['2.2', '2.9', 14],
  ] as const)(
    'differs from the continuous fraction by no more than two days of them: %s to %s in %d days',
    (from, to, days) => {
      expect(Math.abs(byDays(Number(from), Number(to), days) - continuous(from, to, days))).toBeLessThan(2 / days);
    },
  );

  it('comes to it as days become short: 2.4 to 3.4 is in range for three fifths', () => {
    expect(continuous('2.4', '3.4', 28)).toBeCloseTo(0.6, 12);
    expect(byDays(2.4, 3.4, 10_000)).toBeCloseTo(0.6, 3);
  });
});
