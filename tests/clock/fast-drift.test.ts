/** A clock that runs off faster than its kind should: at which rates, and beside which neighbours, it is told as such. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fastDrift, rateOf } from '../../src/clock/fast-drift.ts';
import type { Change, GapReport } from '../../src/clock/gap-times.ts';
import type { Incident } from '../../src/core/placement.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { anchorAt, reportOf, utc } from './hand-made.ts';

// 20 days by the clock: 1,728,000,000 ms, of which 100 ppm are 172.8 s.
const first = anchorAt('D1', '2026-03-02T10:00:00', '2026-03-02T10:00:00');
const last = anchorAt('D2', '2026-03-22T10:00:00', '2026-03-22T10:00:00');
const change: Change = { kind: 'set-right', when: { lo: 0, hi: 0 }, lossProven: false };
const span = (ms: number) => ({ lo: ms - 500, hi: ms + 500 });
const report = (gainedMs: number, changes: readonly Change[] = [change]): GapReport =>
  reportOf({ first, last }, { changes }, { first: span(7000), last: span(7000 + gainedMs), usualDrift: 0 });

describe('the rate of a gap in which one change might as well be a steady drift', () => {
  it('is beyond the limit of the kind, and up to twenty times that', () => {
    expect(rateOf(report(3 * 172_800), 100)).toBeCloseTo(300, 9);
    expect(rateOf(report(-3 * 172_800), 100)).toBeCloseTo(-300, 9);
    expect(rateOf(report(172_800), 100)).toBeUndefined();
    expect(rateOf(report(172_801), 100)).toBeDefined();
    expect(rateOf(report(-172_800), 100)).toBeUndefined();
    expect(rateOf(report(20 * 172_800), 100)).toBe(2000);
    expect(rateOf(report(20 * 172_800 + 1), 100)).toBeUndefined();
    expect(rateOf(report(-20 * 172_800 - 1), 100)).toBeUndefined();
  });

  it('is none where nothing or more was changed, or where an end of the gap is not known', () => {
    const r = report(3 * 172_800);
    expect(rateOf(report(3 * 172_800, []), 100)).toBeUndefined();
    expect(rateOf(report(3 * 172_800, [change, change]), 100)).toBeUndefined();
    const { first: _f, ...noFirst } = r.gap;
    const { last: _l, ...noLast } = r.gap;
    expect(rateOf({ ...r, gap: noFirst }, 100)).toBeUndefined();
    expect(rateOf({ ...r, gap: noLast }, 100)).toBeUndefined();
    expect(rateOf({ ...r, ends: { last: span(1), usualDrift: 0 } }, 100)).toBeUndefined();
    expect(rateOf({ ...r, ends: { first: span(1), usualDrift: 0 } }, 100)).toBeUndefined();
  });
});

describe('a change of the clock is told as fast drift', () => {
  const changed: Incident = { kind: 'clock-changed', likelyCause: 'set by hand', explanation: 'It was changed.' };
  const lost: Incident = { kind: 'power-loss', likelyCause: 'power lost', explanation: 'It was lost.' };
  const kinds = (here: number | undefined, before: number | undefined, after: number | undefined) =>
    fastDrift(report(0), [lost, changed], here, before, after, 100).map(({ kind }) => kind);
  const told = ['power-loss', 'fast-drift'];
  const not = ['power-loss', 'clock-changed'];

  it('where the gap before or after runs at nearly the same rate', () => {
    expect(kinds(300, 300, undefined)).toEqual(told);
    expect(kinds(300, undefined, 300)).toEqual(told);
    // A fifth more or less is nearly the same.
    expect([240, 360].map((rate) => kinds(300, rate, undefined))).toEqual([told, told]);
    expect([239, 361].map((rate) => kinds(300, rate, undefined))).toEqual([not, not]);
    expect([-360, -361, 300].map((rate) => kinds(-300, undefined, rate))).toEqual([told, not, not]);
  });

  it('and not where neither does, or it does not run off itself', () => {
    expect(kinds(300, undefined, undefined)).toEqual(not);
    expect(kinds(undefined, 300, 300)).toEqual(not);
    const r = report(0);
    const { first: _f, ...noFirst } = r.gap;
    const { last: _l, ...noLast } = r.gap;
    for (const gap of [noFirst, noLast])
      expect(fastDrift({ ...r, gap }, [changed], 300, 300, 300, 100)).toEqual([changed]);
  });

  const seed = seedOr(20260301);
  it(`and touches no other incident, at whatever rates (SEED=${seed})`, () => {
    const rate = fc.option(fc.double({ min: -3000, max: 3000, noNaN: true }), { nil: undefined });
    fc.assert(
      fc.property(rate, rate, rate, fc.array(fc.constantFrom(lost, changed)), (here, before, after, incidents) => {
        const all = fastDrift(report(0), incidents, here, before, after, 100);
        expect(all.map(({ kind }) => kind === 'power-loss')).toEqual(incidents.map((i) => i === lost));
        const kinds = new Set(all.filter((i) => i !== lost).map(({ kind }) => kind));
        expect(kinds.size).toBeLessThanOrEqual(1);
        // Never without a neighbour that goes the same way.
        const isAlike = [before, after].some((r) => Math.sign(r ?? 0) === Math.sign(here ?? Number.NaN));
        if (kinds.has('fast-drift')) expect(isAlike).toBe(true);
      }),
      { seed, numRuns: runsOr(100) },
    );
  });

  it('from one download to the other, with what the clock gained or lost', () => {
    const one = (here: number) => fastDrift(report(0), [changed], here, here, undefined, 50)[0];
    // 300 ppm of 20 days are 518.4 s; of 30 days 777.6 s.
    expect(one(300)).toEqual({
      kind: 'fast-drift',
      earliest: utc('2026-03-02T10:00:00'),
      latest: utc('2026-03-22T10:00:00') + 100,
      sizeS: 518,
      likelyCause: 'the clock runs off faster than its kind should',
      explanation:
        "Between 2026-03-02 10:00 and 2026-03-22 10:00 the meter's clock gained 778 seconds a month (300 ppm), more than the 50 ppm of its profile. Have the meter checked.",
    });
    expect(one(0)?.explanation).toContain('gained 0 seconds a month (0 ppm)');
    expect(one(-300.4)).toMatchObject({ sizeS: -519 });
    expect(one(-300.4)?.explanation).toContain('lost 779 seconds a month (-300 ppm)');
  });
});
