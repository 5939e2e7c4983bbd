/** Strip lots: expiry, INR against PT, shifts and error rates. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { resultsByLot } from '../../../src/clinic/lots/by-lot.ts';
import { errorRates, type TriedTest } from '../../../src/clinic/lots/error-rates.ts';
import { isExpired } from '../../../src/clinic/lots/expiry.ts';
import { inrFitsPt } from '../../../src/clinic/lots/inr-fit.ts';
import { shiftByControls } from '../../../src/clinic/lots/shift-by-controls.ts';
import { type LotResult, shiftByPeople } from '../../../src/clinic/lots/shift-by-people.ts';
import { lotState } from '../../../src/clinic/lots/strip-lot.ts';
import { LOT_HABITS } from '../../../src/clinic/rules/lot-habits.ts';
import { instant } from '../../../src/core/instant.ts';
import { numbersFrom } from '../../support/numbers.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { CHIP, control, HIGH, judge, LOW } from '../controls/made.ts';

const day = (n: number) => instant(Date.parse('2026-01-05T09:00:00Z') + n * 86_400_000);

describe('expiry', () => {
  it.each([
    ['2026-02', '2026-02-28', false],
    ['2026-02', '2026-03-01', true],
    ['2026-02-10', '2026-02-10', false],
    ['2026-02-10', '2026-02-11', true],
    ['2026-12', '2027-01-01', true],
    ['2027-01', '2026-12-31', false],
  ])('of %s on %s: %s', (expiry, on, expired) => {
    expect(isExpired(expiry, on)).toBe(expired);
  });

  it('of a lot comes from the register, else from the meter; a lot that is not registered is unknown', () => {
    expect(lotState({ lot: 'S1', expiry: '2026-05' }, '2026-06-01')).toBe('expired');
    expect(lotState({ lot: 'S1' }, '2026-06-01', '2026-05')).toBe('expired');
    expect(lotState({ lot: 'S1', expiry: '2026-07' }, '2026-06-01', '2026-05')).toBe('good');
    expect(lotState({ lot: 'S1' }, '2026-06-01')).toBe('good');
    expect(lotState(undefined, '2026-06-01')).toBe('unknown');
    expect(lotState(undefined, '2026-06-01', '2026-05')).toBe('expired');
  });
});

describe('INR and PT', () => {
  const seed = seedOr(514);
  it(`of one test are never called a misfit where rounding alone explains it (SEED=${seed})`, () => {
    const exact = fc.record({
      pt: fc.double({ min: 8, max: 120, noNaN: true }),
      mnpt: fc.double({ min: 10, max: 15, noNaN: true }),
      isi: fc.double({ min: 0.8, max: 2, noNaN: true }),
      digits: fc.tuple(fc.integer({ min: 0, max: 2 }), fc.integer({ min: 0, max: 2 })),
    });
    fc.assert(
      fc.property(exact, ({ pt, mnpt, isi, digits: [a, b] }) => {
        const inr = ((pt / mnpt) ** isi).toFixed(a);
        fc.pre(Number(inr) > 0);
        const shown = { inr, pt: pt.toFixed(b), isi: isi.toFixed(2), mnpt: mnpt.toFixed(1) };
        expect(inrFitsPt(shown).kind, JSON.stringify(shown)).toBe('fits');
      }),
      { seed, numRuns: runsOr(3000) },
    );
  });

  it('are called a misfit where digits were exchanged', () => {
    const fit = inrFitsPt({ inr: '3.2', pt: '27.6', isi: '1.0', mnpt: '12.0' });
    expect(fit).toMatchObject({ kind: 'does-not-fit' });
    expect(fit.kind === 'does-not-fit' && fit.sentence).toBe(
      'INR 3.2 and PT 27.6 s do not fit each other: with ISI 1.0 and a normal PT of 12.0 s the INR would be 2.19 to 2.41.',
    );
    expect(inrFitsPt({ inr: '2.3', pt: '27.6', isi: '1.0', mnpt: '12.0' }).kind).toBe('fits');
  });

  it('fit where the limits of both just meet', () => {
    // At most (25.875 / 11.5) ^ 1.5 = 2.25 ^ 1.5 = 3.375 = 3.38 − 0.005.
    expect(inrFitsPt({ inr: '3.38', pt: '25.87', isi: '1', mnpt: '12' }).kind).toBe('fits');
    expect(inrFitsPt({ inr: '3.39', pt: '25.87', isi: '1', mnpt: '12' }).kind).toBe('does-not-fit');
    // At least (28.125 / 12.5) ^ 1.5 = 3.375 = 3.37 + 0.005.
    expect(inrFitsPt({ inr: '3.37', pt: '28.13', isi: '2', mnpt: '12' }).kind).toBe('fits');
    expect(inrFitsPt({ inr: '3.36', pt: '28.13', isi: '2', mnpt: '12' }).kind).toBe('does-not-fit');
  });

  it.each(['<0.8', '>8.0', '', '0', '1e3', '-2', '2,3'])('are not compared where the INR is "%s"', (inr) => {
    expect(inrFitsPt({ inr, pt: '27.6', isi: '1.0', mnpt: '12.0' }).kind).toBe('not-checkable');
  });
});

/** A weekly course that goes from lot A to lot B after three tests. */
const course = (person: string, values: readonly number[], from = 'A', to = 'B'): LotResult[] =>
  values.map((value, i) => ({ person, lot: i < 3 ? from : to, value, at: day(7 * i) }));

/** So many people who change from lot A to lot B, each of whom reads so much higher from then on, and a little more. */
const people = (n: number, shift: number, step = 1 / 50) =>
  Array.from({ length: n }, (_, i) => course(`p${i}`, [2.5, 2.5, 2.5, 2.5 + shift + i * step])).flat();

describe('the shift from lot to lot by people', () => {
  it('compares the median of the nearest three before with that of the nearest three after', () => {
    const { people } = shiftByPeople(course('p1', [2, 9, 2.5, 3, 3.5, 1, 7]), 'A', 'B', LOT_HABITS);
    expect(people).toEqual([{ person: 'p1', before: 2.5, after: 3, difference: 0.5, values: { before: 3, after: 3 } }]);
  });

  it('takes each person once, at the first change straight from one lot to the other', () => {
    const back: LotResult[] = ['A', 'B', 'A', 'B', 'C', 'B'].map((lot, i) => ({
      person: 'p1',
      lot,
      value: i,
      at: day(i),
    }));
    expect(shiftByPeople(back, 'A', 'B', LOT_HABITS).people).toMatchObject([
      { before: 0, after: 1, values: { before: 1, after: 1 } },
    ]);
    expect(shiftByPeople(course('p', [1, 1, 1, 2], 'A', 'C'), 'A', 'B', LOT_HABITS).people).toEqual([]);
  });

  it('takes a course that begins with the later lot, in whatever order it is told', () => {
    const told = ['B', 'A', 'B', 'B'].map((lot, i) => ({ person: 'p1', lot, value: i + i ** 2, at: day(i) }));
    const expected = [{ person: 'p1', before: 2, after: 9, difference: 7, values: { before: 1, after: 2 } }];
    expect(shiftByPeople(told, 'A', 'B', LOT_HABITS).people).toEqual(expected);
    expect(shiftByPeople(told.toReversed(), 'A', 'B', LOT_HABITS).people).toEqual(expected);
  });

  it('has the mean beside it, from two people on', () => {
    const both = [...course('p1', [2, 2, 2, 2]), ...course('p2', [2, 2, 2, 3])];
    const { mean } = shiftByPeople(both, 'A', 'B', LOT_HABITS);
    // The standard error is √½ / √2, a half; Student's t of one degree of freedom is tan 0.475 π = 12.7062.
    expect(mean?.estimate).toBeCloseTo(0.5, 12);
    expect(mean?.low).toBeCloseTo(0.5 - 12.7062 / 2, 4);
    expect(mean?.high).toBeCloseTo(0.5 + 12.7062 / 2, 4);
    expect(shiftByPeople(course('p1', [2, 2, 2, 2]), 'A', 'B', LOT_HABITS)).not.toHaveProperty('mean');
  });

  it('takes values up to the last day of the window', () => {
    const apart = (days: number) => [
      { person: 'p1', lot: 'A', value: 1, at: day(0) },
      { person: 'p1', lot: 'B', value: 3, at: day(days) },
    ];
    expect(shiftByPeople(apart(56), 'A', 'B', LOT_HABITS).people).toMatchObject([{ before: 1, after: 3 }]);
    expect(shiftByPeople(apart(56.001), 'A', 'B', LOT_HABITS).people).toEqual([]);
  });

  it('says that a lot reads lower, and names no shift where there is none', () => {
    const lower = shiftByPeople(people(6, -0.5), 'A', 'B', LOT_HABITS);
    expect(lower.isShift).toBe(true);
    expect(lower.sentence).toBe(
      'Lot B reads lower than lot A by 0.45 (96.9 % interval −0.50 to −0.40, from 6 people). These are few: more would make the interval narrower.',
    );
    const none = shiftByPeople(people(6, 0, 0), 'A', 'B', LOT_HABITS);
    expect(none.isShift).toBe(false);
    expect(none.sentence).toBe(
      'No shift is shown from lot A to lot B: +0.00 (96.9 % interval +0.00 to +0.00, from 6 people). These are few: more would make the interval narrower.',
    );
  });

  it('leaves out values too far from the change, and people who have none near enough', () => {
    const far = [
      { person: 'p1', lot: 'A', value: 1, at: day(0) },
      { person: 'p1', lot: 'A', value: 2, at: day(50) },
      { person: 'p1', lot: 'B', value: 3, at: day(100) },
      { person: 'p2', lot: 'A', value: 1, at: day(0) },
      { person: 'p2', lot: 'B', value: 3, at: day(57) },
    ];
    expect(shiftByPeople(far, 'A', 'B', LOT_HABITS).people).toMatchObject([{ person: 'p1', before: 2, after: 3 }]);
  });

  it('says nothing of a shift from five people, and cautions below twenty', () => {
    const five = shiftByPeople(people(5, 0.4), 'A', 'B', LOT_HABITS);
    expect(five.middle).toBeUndefined();
    expect([five.isShift, five.sentence]).toEqual([
      false,
      'Lot B against lot A: 5 people are too few to say anything of a shift.',
    ]);
    const six = shiftByPeople(people(6, 0.4), 'A', 'B', LOT_HABITS);
    expect(six.isShift).toBe(true);
    expect(six.sentence).toBe(
      'Lot B reads higher than lot A by 0.45 (96.9 % interval +0.40 to +0.50, from 6 people). These are few: more would make the interval narrower.',
    );
    expect(shiftByPeople(people(20, 0.4), 'A', 'B', LOT_HABITS).sentence).not.toContain('few');
    expect(shiftByPeople([], 'A', 'B', LOT_HABITS)).toMatchObject({ people: [], isShift: false });
  });

  const seed = seedOr(515);
  it(`covers a true shift about as often as it says (SEED=${seed})`, () => {
    const next = numbersFrom(seed);
    const noise = (): number => (next() + next() + next() + next() - 2) * 0.6;
    let covered = 0;
    const rounds = 300;
    for (let round = 0; round < rounds; round++) {
      const all = Array.from({ length: 15 }, (_, i) => {
        const usual = 2 + next();
        return course(
          `p${i}`,
          [0, 0, 0, 0.2, 0.2, 0.2].map((shift) => usual + shift + noise()),
        );
      }).flat();
      const { middle } = shiftByPeople(all, 'A', 'B', LOT_HABITS);
      if (middle && middle.low <= 0.2 && 0.2 <= middle.high) covered += 1;
    }
    // At least 95 % is promised; four standard errors below that would be no chance.
    expect(covered / rounds).toBeGreaterThan(0.95 - 4 * Math.sqrt((0.95 * 0.05) / rounds));
    expect(covered).toBeLessThan(rounds);
  });
});

describe('the shift from lot to lot by controls', () => {
  const made = (lot: string, zs: readonly number[], meter = 'M1') =>
    zs.map((z, i) =>
      control(`${meter}${lot}${i}`, LOW, z, 24 * i + (lot === 'A' ? 0 : 1000), { stripLot: lot, meter }),
    );

  it('is the difference of the means with the interval of Welch, for each control material', () => {
    const [shift, ...others] = shiftByControls(
      judge([...made('A', [0, 0.1, -0.1, 0]), ...made('B', [1, 1.1, 0.9, 1])]),
      'A',
      'B',
      LOT_HABITS,
    );
    expect(others).toEqual([]);
    expect(shift).toMatchObject({ controlLot: 'K1', level: '1', values: { before: 4, after: 4 }, isShift: true });
    expect(shift?.shift?.estimate).toBeCloseTo(10, 12);
    expect(shift?.sentence).toContain('few');
  });

  it('leaves out meters that used one of the lots only', () => {
    const controls = judge([...made('A', [0, 0, 0]), ...made('B', [0, 0, 0]), ...made('A', [5, 5], 'M2')]);
    expect(shiftByControls(controls, 'A', 'B', LOT_HABITS)[0]).toMatchObject({
      values: { before: 3, after: 3 },
      isShift: false,
    });
    expect(shiftByControls(judge([...made('A', [0, 1]), ...made('B', [0, 1], 'M2')]), 'A', 'B', LOT_HABITS)).toEqual(
      [],
    );
  });

  it('has one for each material, and leaves out chips, values off the range and those of no level', () => {
    const both = (id: string, level: typeof LOW, more = {}) =>
      ['A', 'B'].flatMap((lot) =>
        [0, 1].map((i) => control(`${id}${lot}${i}`, level, i, 24 * i, { stripLot: lot, ...more })),
      );
    const { level: _, controlLot: __, ...vague } = control('v', LOW, 0, 1, { stripLot: 'A' });
    const other = { ...LOW, lot: 'K9' };
    const found = shiftByControls(
      judge(
        [...both('a', LOW), ...both('b', HIGH), ...both('c', CHIP), ...both('d', HIGH, { beyond: '>' }), vague],
        [LOW, HIGH, CHIP, other],
      ),
      'A',
      'B',
      LOT_HABITS,
    );
    expect(found.map((s) => [s.controlLot, s.level, s.values])).toEqual([
      ['K1', '1', { before: 2, after: 2 }],
      ['K1', '2', { before: 2, after: 2 }],
    ]);
  });

  it('says that values are few below twenty on either side', () => {
    const said = (before: number, after: number) =>
      shiftByControls(
        judge([...made('A', Array<number>(before).fill(0)), ...made('B', Array<number>(after).fill(1))]),
        'A',
        'B',
        LOT_HABITS,
      )[0]?.sentence;
    expect(said(20, 20)).not.toContain('few');
    expect(said(19, 20)).toContain('few');
    expect(said(20, 19)).toContain('few');
  });

  it('has no interval where a lot has a single value', () => {
    const [one] = shiftByControls(judge([...made('A', [0]), ...made('B', [0, 1])]), 'A', 'B', LOT_HABITS);
    expect(one?.shift).toBeUndefined();
    expect(one?.sentence).toContain('too few');
  });
});

it('sums up results by lot with their spread, whatever order they come in', () => {
  const results = [...course('p2', [3, 3, 3, 4]), ...course('p1', [1, 2, 3])];
  // Squares about 2.5: 2.25 + 5 · 0.25, over 5.
  expect(resultsByLot(results)[0]?.sd).toBeCloseTo(Math.sqrt(0.7), 12);
  expect(resultsByLot(results.toReversed()).map(({ lot, first, last }) => [lot, first, last])).toEqual([
    ['A', day(0), day(14)],
    ['B', day(21), day(21)],
  ]);
});

it('sums up results by lot in the order of their first use', () => {
  expect(resultsByLot([...course('p2', [3, 3, 3, 4]), ...course('p1', [1, 2, 3])])).toMatchObject([
    { lot: 'A', tests: 6, people: 2, mean: 2.5, median: 3, first: day(0), last: day(14) },
    { lot: 'B', tests: 1, people: 1, mean: 4, first: day(21) },
  ]);
  expect(resultsByLot(course('p', [1]))[0]).not.toHaveProperty('sd');
});

describe('error rates', () => {
  const tests = (meter: string, errors: number, all: number): TriedTest[] =>
    Array.from({ length: all }, (_, i) => ({ meter, isError: i < errors, ...(i % 2 === 0 && { operator: 'ida' }) }));

  it('tell which meter fails more often than the clinic beyond chance', () => {
    const { clinic, rates, unknown } = errorRates(
      [...tests('M1', 2, 100), ...tests('M2', 20, 60), ...tests('M3', 2, 4), ...tests('M4', 0, 0)],
      'meter',
    );
    expect(clinic?.estimate).toBeCloseTo(24 / 164);
    expect(rates.map((r) => [r.of, r.errors, r.tests, r.isAboveClinic])).toEqual([
      ['M2', 20, 60, true],
      ['M3', 2, 4, false],
      ['M1', 2, 100, false],
    ]);
    expect(unknown).toBe(0);
  });

  it('count what belongs to no known group apart', () => {
    expect(errorRates(tests('M1', 1, 5), 'operator')).toMatchObject({ unknown: 2, rates: [{ of: 'ida', tests: 3 }] });
    expect(errorRates([], 'lot')).toEqual({ by: 'lot', rates: [], unknown: 0 });
  });

  it('hold a meter the more strictly, the more meters are known', () => {
    // At a rate of one half six of six have a chance of 1/64: less than 2.5 %, more than half of that.
    const two = errorRates([...tests('M1', 6, 6), ...tests('M2', 0, 6)], 'meter').rates;
    expect(two.map((r) => [r.of, r.isAboveClinic])).toEqual([
      ['M1', false],
      ['M2', false],
    ]);
  });

  it('do not count those of no known group as one more', () => {
    // At a rate of one half seven of seven have a chance of 1/128: less than a third of 2.5 %, more than a quarter.
    const by = (lot: string | undefined, errors: number, all: number): TriedTest[] =>
      Array.from({ length: all }, (_, i) => ({ meter: 'M1', isError: i < errors, ...(lot && { lot }) }));
    const { clinic, rates } = errorRates(
      [...by('S1', 7, 7), ...by('S2', 0, 3), ...by('S3', 0, 4), ...by(undefined, 1, 2)],
      'lot',
    );
    expect(clinic?.estimate).toBe(0.5);
    expect(rates.map((r) => [r.of, r.isAboveClinic])).toEqual([
      ['S1', true],
      ['S2', false],
      ['S3', false],
    ]);
  });

  const seed = seedOr(516);
  it(`call out one of forty equal meters seldom (SEED=${seed})`, () => {
    const next = numbersFrom(seed);
    let mistaken = 0;
    for (let round = 0; round < 100; round++) {
      const all = Array.from({ length: 40 * 50 }, (_, i) => ({ meter: `M${i % 40}`, isError: next() < 0.06 }));
      if (errorRates(all, 'meter').rates.some((r) => r.isAboveClinic)) mistaken += 1;
    }
    expect(mistaken).toBeLessThanOrEqual(5);
  });
});
