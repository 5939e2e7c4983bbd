/**
 * What neighbouring downloads leave of each other's offsets. An answer that took 30 s leaves the offset open by 31 s; a
 * sharp one by 1.1 s. From 10:00 to 11:00 a clock can drift by 100 ppm of what it showed and of its last second.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { gapsOf } from '../../src/clock/anchors.ts';
import { type TightEnds, tighten } from '../../src/clock/tighten.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, historyOf, setting, showing, stamped } from './hand-made.ts';

/** 100 parts per million of a length in seconds of wall time, ms. */
const drifted = (seconds: number): number => (seconds * 1000 * 1e-4) / (1 - 1e-4);
const at = (hour: number, seconds = '00') => `2026-03-02T${hour}:00:${seconds}`;
/** Known from 15 s behind to 16 s ahead. */
const dull = (id: string, hour: number) => download(id, [showing(at(hour), at(hour, '15'), 30_000)]);
/** Known from 0.1 s behind to 1 s ahead. */
const sharp = (id: string, hour: number) => download(id, [showing(at(hour), at(hour))]);
const DULL = { lo: -15_000, hi: 16_000 };
const SHARP = { lo: -100, hi: 1000 };

type Items = Parameters<typeof historyOf>[0];
const ends = (items: Items, start?: { lo: number; hi: number }, driftPpm = 100): TightEnds[] => {
  const history = historyOf(items, { habits: { driftPpm, resets: 'new-year' } });
  return tighten(gapsOf(history), history.habits, start);
};
const near = (span: { lo: number; hi: number } | undefined, lo: number, hi: number): void => {
  expect(span?.lo).toBeCloseTo(lo, 3);
  expect(span?.hi).toBeCloseTo(hi, 3);
};

describe('the offsets at the downloads of an undisturbed clock', () => {
  it('are tightened by what came before, and by what came after', () => {
    const [one, two, ...others] = ends([dull('D1', 10), sharp('D2', 11), dull('D3', 12)]);
    expect(others).toEqual([]);
    expect([one?.keeps, two?.keeps]).toEqual([true, true]);
    // From 10:00:15 to 11:00:00 and its second; from 11:00:00 to 12:00:15 and its second.
    const [first, second] = [drifted(3586), drifted(3616)];
    near(one?.first, -100 - first, 1000 + first);
    expect(one?.last).toEqual(SHARP);
    expect(two?.first).toEqual(SHARP);
    near(two?.last, -100 - second, 1000 + second);
  });

  it('come with what the downloads up to the first of them leave', () => {
    const [one, two, three] = ends([dull('D1', 10), dull('D2', 11), sharp('D3', 12), dull('D4', 13)]);
    expect([one?.reach, two?.reach, three?.reach]).toEqual([DULL, DULL, SHARP]);
    near(one?.last, -100 - drifted(3586), 1000 + drifted(3586));
    expect(two?.first).toEqual(one?.last);
    near(one?.first, -100 - drifted(3586) - drifted(3601), 1000 + drifted(3586) + drifted(3601));
  });

  it('begin with what an earlier part of the history left', () => {
    const [one] = ends([dull('D1', 10), dull('D2', 11)], { lo: 3000, hi: 4000 });
    expect(one?.first).toEqual({ lo: 3000, hi: 4000 });
    near(one?.last, 3000 - drifted(3601), 4000 + drifted(3601));
  });

  it('may drift for the whole minute that a clock without seconds shows', () => {
    // It showed 10:00:30 at one dock and 10:00 at another, 10 s later: no more than a minute of drift.
    const [one] = ends([
      download('D1', [showing(at(10, '30'), at(10, '30'), 0)]),
      download('D2', [showing(at(10, '40'), '2026-03-02T10:00', 0)]),
    ]);
    expect(one?.keeps).toBe(true);
    near(one?.last, -drifted(60), 1000 + drifted(60));
  });
});

describe('offsets are left as their own download says', () => {
  it('where both cannot be those of one undisturbed clock', () => {
    const later = download('D2', [showing(at(11), at(11, '50'))]);
    const [one] = ends([dull('D1', 10), later]);
    expect(one).toEqual({
      first: DULL,
      last: { lo: 49_900, hi: 51_000 },
      reach: DULL,
      keeps: false,
    });
  });

  it('and are of one where they can just be', () => {
    // A clock that does not drift at all is at most as far ahead at the second download as it was at the first.
    const just = (hi: number) => ends([dull('D1', 10), sharp('D2', 11)], { lo: hi - 1, hi }, 0)[0]?.keeps;
    expect([just(-100), just(-101)]).toEqual([true, false]);
  });

  it('where the stamps prove a change', () => {
    const [one] = ends([dull('D1', 10), stamped('t', at(14)), stamped('u', at(13)), sharp('D2', 11)]);
    expect(one).toEqual({ first: DULL, last: SHARP, reach: DULL, keeps: false });
  });

  it('where the gateway may have set the clock in the first of them', () => {
    const maybe = download('D1', [
      showing(at(10), at(10, '15'), 30_000),
      setting(at(10, '40'), at(10, '40'), 'unknown'),
    ]);
    const [one] = ends([maybe, sharp('D2', 11)]);
    expect(one).toEqual({ first: DULL, last: SHARP, reach: DULL, keeps: false });
  });

  it('on either side of a setting by the gateway, which nothing but order links', () => {
    const set = download('D2', [showing(at(11), at(11, '15'), 30_000), setting(at(11, '40'), at(11, '40'))]);
    const [one, two, ...others] = ends([sharp('D1', 10), set, dull('D3', 12)]);
    expect(others).toEqual([]);
    near(one?.last, -100 - drifted(3616), 1000 + drifted(3616));
    expect(two?.first).toEqual({ lo: -100, hi: 1000 });
    const twice = ends([set, sharp('D3', 12)]);
    expect(twice.map(({ first }) => first)).toEqual([{ lo: -100, hi: 1000 }]);
  });

  it('where there is no download at one end', () => {
    const test = stamped('t', at(10));
    expect(ends([test, sharp('D1', 11), test])).toEqual([
      { last: SHARP, keeps: false },
      { first: SHARP, reach: SHARP, keeps: false },
    ]);
    expect(ends([test])).toEqual([{ keeps: false }]);
    expect(ends([])).toEqual([]);
  });
});

const seed = seedOr(20260301);
it(`never cuts off the true offset of a clock that nobody changed (SEED=${seed})`, () => {
  const visit = fc.record({
    after: fc.integer({ min: 1, max: 40_000_000 }),
    took: fc.nat(30_000),
    share: fc.double({ min: 0, max: 1, noNaN: true }),
    ppm: fc.integer({ min: -100, max: 100 }),
  });
  fc.assert(
    fc.property(
      fc.integer({ min: -60_000, max: 60_000 }),
      fc.array(visit, { minLength: 2, maxLength: 8 }),
      (begun, visits) => {
        let [now, off] = [Date.UTC(2026, 2, 2), begun];
        const truth: number[] = [];
        const readouts = visits.map(({ after, took, share, ppm }, i) => {
          const moment = now + after + share * took;
          off += (moment - now) * ppm * 1e-6;
          truth.push(off);
          const from = now + after;
          now = from + took;
          const clock = new Date(Math.floor((moment + off) / 1000) * 1000).toISOString().slice(0, 19);
          const e = showing('2026-03-02T00:00:00', clock);
          return download(`D${i}`, [{ ...e, from, to: from + took } as typeof e]);
        });
        ends(readouts).forEach(({ first, last }, i) => {
          for (const [span, at] of [
            [first, truth[i]],
            [last, truth[i + 1]],
          ] as const) {
            expect(span?.lo).toBeLessThanOrEqual((at ?? Number.NaN) + 1e-3);
            expect(span?.hi).toBeGreaterThanOrEqual((at ?? Number.NaN) - 1e-3);
          }
        });
      },
    ),
    { seed, numRuns: runsOr(100) },
  );
});
