/** What the control rules say of control tests, and which control a test was. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ControlReading } from '../../../src/clinic/controls/control-reading.ts';
import { statedLimits } from '../../../src/clinic/controls/level.ts';
import { controlRuns } from '../../../src/clinic/controls/runs.ts';
import { MULTIRULE_THREE_LEVELS, MULTIRULE_THREE_LEVELS_LONG } from '../../../src/clinic/rules/multirule.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { CHIP, control, HIGH, judge, LOW, PRACTICE, rulesOf } from './made.ts';

/** Values of the low level, one a day. */
const daily = (...zs: number[]) => judge(zs.map((z, i) => control(`c${i}`, LOW, z, 24 * i)));

describe('the multirule', () => {
  it('lets a value on a limit pass: beyond is strict', () => {
    expect(rulesOf(daily(2, -2, 2, 1, 1, 1))).toEqual([[], [], [], [], [], []]);
    expect(rulesOf(daily(3))).toEqual([['1-2s']]);
  });

  it('warns at one beyond 2 s and rejects at one beyond 3 s', () => {
    const [warned, rejected] = daily(2.1, -3.1);
    expect([warned?.outcome, rejected?.outcome]).toEqual(['warn', 'reject']);
    expect(rejected?.fired.map((f) => [f.rule, f.error])).toEqual([
      ['1-2s', 'either'],
      ['1-3s', 'either'],
    ]);
  });

  it('rejects two in a row beyond the same 2 s, not beyond opposite ones', () => {
    expect(rulesOf(daily(2.1, 2.2))[1]).toEqual(['1-2s', '2-2s']);
    expect(rulesOf(daily(2.1, -2.2))[1]).toEqual(['1-2s']);
    expect(rulesOf(daily(2.1, 0, 2.2))[2]).toEqual(['1-2s']);
  });

  it('looks across levels: two levels of one run beyond the same 2 s', () => {
    const judged = judge([control('a', LOW, -2.1, 0), control('b', HIGH, -2.5, 0.1)]);
    expect(rulesOf(judged)).toEqual([['1-2s'], ['1-2s', '2-2s']]);
    expect(judged[1]?.fired[1]).toMatchObject({ error: 'systematic', values: [{ id: 'a' }, { id: 'b' }] });
    expect(judged[1]?.fired[1]?.sentence).toBe(
      '2 controls lie more than 2 s below the mean (level 1 at −2.10 s, level 2 at −2.50 s; rule 2-2s): this points to a systematic error: something has shifted, such as the strips, the control or the meter.',
    );
  });

  it('looks for R-4s within one run only, and needs one on each side', () => {
    expect(rulesOf(judge([control('a', LOW, 2.1, 0), control('b', HIGH, -2.1, 0.5)]))[1]).toEqual(['1-2s', 'R-4s']);
    expect(rulesOf(judge([control('a', LOW, 2.1, 0), control('b', HIGH, -2.1, 1.1)]))[1]).toEqual(['1-2s']);
    // A range over 4 s alone is not enough.
    expect(rulesOf(judge([control('a', LOW, 2.9, 0), control('b', HIGH, -1.9, 0.5)]))[1]).toEqual([]);
  });

  it('rejects four in a row beyond 1 s, within a level and across', () => {
    expect(rulesOf(daily(1.1, 1.2, 1.1, 1.3))).toEqual([[], [], [], ['4-1s']]);
    const across = [
      control('a', LOW, -1.1, 0),
      control('b', HIGH, -1.1, 0.1),
      control('c', LOW, -1.1, 24),
      control('d', HIGH, -1.1, 24.1),
    ];
    expect(rulesOf(judge(across))[3]).toEqual(['4-1s']);
    // Within a level although the other level was on the other side in between.
    const within = [0, 1, 2, 3].flatMap((d) => [
      control(`l${d}`, LOW, 1.5, 24 * d),
      control(`h${d}`, HIGH, -0.5, 24 * d + 0.1),
    ]);
    expect(rulesOf(judge(within)).flatMap((r, i) => r.map((name) => [i, name]))).toEqual([[6, '4-1s']]);
  });

  it('rejects ten in a row on one side of the mean; a value on the mean is on no side', () => {
    expect(rulesOf(daily(...Array<number>(10).fill(0.2)))[9]).toEqual(['10-x']);
    expect(rulesOf(daily(...Array<number>(9).fill(0.2), 0, 0.2))[10]).toEqual([]);
  });

  it('begins a new history with a new control lot, also across levels', () => {
    const next = { ...LOW, lot: 'K2' };
    const judged = judge(
      [control('a', HIGH, 2.5, 0), control('b', LOW, 2.5, 24), control('c', next, 2.5, 48)],
      [LOW, HIGH, next],
    );
    expect(rulesOf(judged)).toEqual([['1-2s'], ['1-2s', '2-2s'], ['1-2s']]);
  });

  it('keeps meters, and liquid and electronic controls, apart', () => {
    const judged = judge([
      control('a', LOW, 2.5, 0),
      control('b', LOW, 2.5, 1, { meter: 'M2' }),
      control('c', CHIP, 2.5, 2),
    ]);
    expect(rulesOf(judged)).toEqual([['1-2s'], ['1-2s'], ['1-2s']]);
  });

  it('takes a value off the measuring range for beyond every limit on that side', () => {
    const [judged] = judge([control('a', HIGH, 0.5, 0, { beyond: '>' })]);
    expect(judged?.outcome).toBe('reject');
    expect(judged?.z).toBeCloseTo(0.5);
    expect(judged?.fired[1]?.sentence).toContain('level 2 above the measuring range; rule 1-3s');
    expect(judged?.fired[1]?.sentence).toContain('more than 3 s above the mean');
  });

  it('counts it on its own side with the others, whatever the number', () => {
    const above = judge([control('a', LOW, 2.1, 0), control('b', HIGH, -0.5, 0.1, { beyond: '>' })]);
    expect(rulesOf(above)[1]).toEqual(['1-2s', '1-3s', '2-2s']);
    const below = judge([control('a', LOW, -2.1, 0), control('b', HIGH, 0.5, 0.1, { beyond: '<' })]);
    expect(rulesOf(below)[1]).toEqual(['1-2s', '1-3s', '2-2s']);
  });

  it('has rules for three levels as data', () => {
    const mid = { ...LOW, level: '3', limits: { mean: 200, sd: 10 } };
    const levels = [LOW, HIGH, mid];
    const run = [control('a', LOW, 2.1, 0), control('b', HIGH, 0, 0.1), control('c', mid, 2.1, 0.2)];
    expect(rulesOf(judge(run, levels, { ...PRACTICE, rules: MULTIRULE_THREE_LEVELS }))[2]).toEqual(['1-2s', '2of3-2s']);
    const shifted = [0, 1, 2].flatMap((d) => levels.map((l, i) => control(`${d}${i}`, l, 0.5, 24 * d + i / 10)));
    const short = rulesOf(judge(shifted, levels, { ...PRACTICE, rules: MULTIRULE_THREE_LEVELS }));
    expect(short.findIndex((r) => r.includes('6-x'))).toBe(5);
    const long = rulesOf(judge(shifted, levels, { ...PRACTICE, rules: MULTIRULE_THREE_LEVELS_LONG }));
    expect(long.findIndex((r) => r.includes('9-x'))).toBe(8);
    const slow = levels.map((l, i) => control(`s${i}`, l, -1.1, i / 10));
    expect(rulesOf(judge(slow, levels, { ...PRACTICE, rules: MULTIRULE_THREE_LEVELS }))[2]).toEqual(['3-1s']);
  });
});

describe('the sentence of a rule', () => {
  const said = (...readings: Parameters<typeof control>[]) =>
    judge(readings.map((one) => control(...one)))
      .at(-1)
      ?.fired.map((f) => f.sentence);

  it('says what lies where, and what it points to', () => {
    expect(said(['a', LOW, -2.5, 0])).toEqual([
      'A control lies more than 2 s below the mean (level 1 at −2.50 s; rule 1-2s): a warning: look at the other controls before results are released.',
    ]);
    expect(said(['a', LOW, 3.25, 0])?.[1]).toBe(
      'A control lies more than 3 s above the mean (level 1 at +3.25 s; rule 1-3s): a random error or a large shift.',
    );
    expect(said(['a', LOW, 2.5, 0], ['b', HIGH, -2.1, 0.5])?.[1]).toBe(
      'In one run one control lies more than 2 s above and another more than 2 s below (level 1 at +2.50 s, level 2 at −2.10 s; rule R-4s): this points to a random error: a single test that went wrong, such as a poor drop or a bubble.',
    );
    const ten = Array.from({ length: 10 }, (_, i) => control(`c${i}`, LOW, 0.5, 24 * i));
    expect(judge(ten)[9]?.fired[0]?.sentence).toMatch(/^10 controls lie above the mean, one after the other \(level 1/);
  });

  it('says of a value off the measuring range on which side it lies, whatever the number', () => {
    expect(said(['a', HIGH, 0.5, 0, { beyond: '<' }])?.[1]).toBe(
      'A control lies more than 3 s below the mean (level 2 below the measuring range; rule 1-3s): a random error or a large shift.',
    );
    expect(said(['a', HIGH, -0.5, 0, { beyond: '>' }])?.[1]).toMatch(/^A control lies more than 3 s above the mean/);
  });
});

describe('runs', () => {
  it('have the kind of their controls and all that the rules said', () => {
    const [run] = controlRuns(judge([control('a', LOW, 2.5, 0), control('b', HIGH, 2.5, 0.5)]));
    expect(run).toMatchObject({ kind: 'liquid', outcome: 'reject', meter: 'M1', analyte: 'INR' });
    expect(run?.fired.map((f) => f.rule)).toEqual(['1-2s', '1-2s', '2-2s']);
  });

  it('go by the times of the controls, not by the order in which they are given, and last their whole time', () => {
    const judged = judge([control('b', HIGH, 0, 1), control('a', LOW, 0, 0), control('c', CHIP, 0, 0.5)]);
    expect(judged.map((j) => [j.reading.id, j.run])).toEqual([
      ['a', 1],
      ['c', 1],
      ['b', 1],
    ]);
  });

  it('put levels measured together into one run, and start anew when a level is repeated', () => {
    const judged = judge([control('a', LOW, 3.2, 0), control('b', HIGH, 0, 0.1), control('c', LOW, 0.1, 0.2)]);
    expect(controlRuns(judged).map((r) => [r.run, r.outcome, r.controls.map((c) => c.reading.id)])).toEqual([
      [1, 'reject', ['a', 'b']],
      [2, 'accept', ['c']],
    ]);
  });

  it('start anew with another strip lot, and after the time of a run', () => {
    const judged = judge([
      control('a', LOW, 0, 0),
      control('b', HIGH, 0, 0.1, { stripLot: 'S2' }),
      control('c', LOW, 0, 1.2, { stripLot: 'S2' }),
    ]);
    expect(judged.map((j) => j.run)).toEqual([1, 2, 3]);
  });
});

describe('which control a test was', () => {
  const untold = (value: number, more: Partial<ControlReading> = {}, levels = [LOW, HIGH, CHIP]) => {
    const { controlLot: _, level: __, ...reading } = control('a', LOW, 0, 0, { value });
    return judge([{ ...reading, kind: 'liquid', ...more }], levels)[0];
  };

  it('is found by its value where it fits one level only', () => {
    expect(untold(120)).toMatchObject({ match: { kind: 'by-value', level: LOW }, outcome: 'accept', z: 2 });
    expect(untold(350)?.match).toMatchObject({ level: HIGH });
    // 3 s above 100 is still within its limits.
    expect(untold(130)?.match).toEqual({ kind: 'by-value', level: LOW });
  });

  it('is one of the same analyte only', () => {
    expect(untold(100, { analyte: 'PT' })?.match).toEqual({ kind: 'unassigned', why: 'no-level', candidates: [] });
  });

  it('is found by its value, too, where only one level is left that was not told, or the level of two lots was', () => {
    expect(untold(250, {}, [LOW])?.match).toEqual({ kind: 'unassigned', why: 'outside-all', candidates: [LOW] });
    const next = { ...LOW, lot: 'K2', limits: { mean: 200, sd: 10 } };
    expect(untold(200, { level: '1' }, [LOW, next])?.match).toEqual({ kind: 'by-value', level: next });
  });

  it('fails, whichever it was, where the value fits none', () => {
    expect(untold(250)).toMatchObject({ outcome: 'reject', match: { why: 'outside-all' } });
    expect(untold(250)?.fired[0]?.rule).toBe('outside-all');
    // Beyond the number shown it fits no level that the number would fit.
    expect(untold(100, { beyond: '<' })?.match).toEqual({
      kind: 'unassigned',
      why: 'outside-all',
      candidates: [LOW, HIGH],
    });
  });

  it('is left to a person where the value fits several levels, or none is defined', () => {
    const near = { ...HIGH, limits: { mean: 130, sd: 10 } };
    const { controlLot: _, level: __, ...reading } = control('a', LOW, 1, 0);
    expect(judge([reading], [LOW, near])[0]).toMatchObject({ outcome: 'unassigned', match: { why: 'ambiguous' } });
    expect(judge([reading], [])[0]).toMatchObject({ outcome: 'unassigned', match: { why: 'no-level' } });
    expect(judge([reading], [LOW, near])[0]).toMatchObject({ kind: 'liquid', isExpired: false, fired: [] });
    expect(judge([reading], [LOW, { ...near, kind: 'electronic' }])[0]).not.toHaveProperty('kind');
  });

  it('is as told, however far the value lies', () => {
    expect(judge([control('a', LOW, 30, 0)])[0]).toMatchObject({
      match: { kind: 'told', level: LOW },
      outcome: 'reject',
    });
  });

  it('does not count expired materials by value, and marks them where they were told', () => {
    const old = { ...LOW, lot: 'K0', expiry: '2026-02' };
    expect(untold(100)?.match).toMatchObject({ kind: 'by-value' });
    const { controlLot: _, level: __, ...reading } = control('a', LOW, 0, 0);
    expect(judge([reading], [old, LOW])[0]?.match).toMatchObject({ level: LOW });
    expect(judge([control('b', old, 0, 0)], [old, LOW])[0]).toMatchObject({ isExpired: true, outcome: 'accept' });
  });
});

it('takes a printed range for as many standard deviations as the insert says', () => {
  expect(statedLimits(CHIP)).toEqual({ mean: 100, sd: 5, basis: 'range' });
  expect(statedLimits({ ...CHIP, limits: { low: 85, high: 115, rangeSd: 3 } })).toEqual({
    mean: 100,
    sd: 5,
    basis: 'range',
  });
});

const SEED = seedOr(505);
describe(`whatever the controls (SEED=${SEED})`, () => {
  const step = fc.record({
    isLow: fc.boolean(),
    z: fc.integer({ min: -13, max: 13 }),
    hours: fc.integer({ min: 1, max: 30 }),
  });
  const made = (steps: readonly { isLow: boolean; z: number; hours: number }[]) => {
    let hour = 0;
    return steps.map(({ isLow, z, hours }, i) => {
      hour += hours / 10;
      // Quarters of a standard deviation are exact in doubles here.
      return control(`c${i}`, isLow ? LOW : HIGH, z / 4, hour);
    });
  };

  it('the verdicts do not depend on the order in which they are told, nor on the unit of the values', () => {
    fc.assert(
      fc.property(fc.array(step, { maxLength: 25 }), (steps) => {
        const readings = made(steps);
        const verdicts = rulesOf(judge(readings));
        expect(rulesOf(judge(readings.toReversed()))).toEqual(verdicts);
        const scale = (level: typeof LOW) => ({ ...level, limits: doubled(level) });
        const scaled = readings.map((r) => ({ ...r, value: 2 * r.value }));
        expect(rulesOf(judge(scaled, [scale(LOW), scale(HIGH)]))).toEqual(verdicts);
      }),
      { seed: SEED, numRuns: runsOr(200) },
    );
  });

  it('turning all values to the other side of their means turns no verdict', () => {
    fc.assert(
      fc.property(fc.array(step, { maxLength: 25 }), (steps) => {
        const turned = steps.map((one) => ({ ...one, z: -one.z }));
        expect(rulesOf(judge(made(turned)))).toEqual(rulesOf(judge(made(steps))));
      }),
      { seed: SEED, numRuns: runsOr(200) },
    );
  });
});

function doubled({ limits }: typeof LOW) {
  return 'mean' in limits ? { mean: 2 * limits.mean, sd: 2 * limits.sd } : limits;
}
