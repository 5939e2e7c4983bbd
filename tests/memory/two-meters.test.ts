import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { runsOr } from '../support/seed.ts';
import { download, fold, hole, START, test, testsOf } from './meter-words.ts';
import { type PairSetup, type PairVerdict, pairOf, provePair } from './two-meters.ts';

const FROM = Number(process.env['SEED'] ?? 1);
const COUNT = runsOr(Number(process.env['COUNT'] ?? 20));
const A = [1, 2, 3, 4, 5].map((day) => test(day));
const B = [1.3, 2.3, 3.3].map((day) => test(day));

describe('two meters of one name, docked in turn', () => {
  it('are each known again: nothing is new but what was made since, in the order of each meter', () => {
    const { steps, state } = fold(
      download(6, A),
      download(7, B),
      download(8, [...A, test(7.9)]),
      download(9, [...B, test(7.5), test(8.5)]),
      download(10, [...A, test(7.9), test(9.9)]),
      download(11, [...B, test(7.5), test(8.5)]),
    );
    expect(steps.map(({ fresh, known, memory }) => [fresh, known, memory])).toEqual([
      [5, 0, 0],
      [3, 0, 1],
      [1, 5, 0],
      [2, 3, 1],
      [1, 6, 0],
      [0, 5, 1],
    ]);
    expect(testsOf(state).map((one) => `${one.memory}:${one.id}`)).toEqual([
      ...['0:D1-1', '0:D1-2', '0:D1-3', '0:D1-4', '0:D1-5', '1:D2-1', '1:D2-2', '1:D2-3'],
      ...['0:D3-6', '1:D4-4', '1:D4-5', '0:D5-7'],
    ]);
  });

  it('are found out at the first return: said once, every reading held, and none said to be gone', () => {
    const { steps, state } = fold(download(6, A), download(7, B), download(8, A), download(9, B));
    expect(steps.map((s) => s.foundShared)).toEqual([false, false, true, false]);
    expect(steps.map((s) => s.vanished.length)).toEqual([0, 5, 0, 0]);
    expect(testsOf(state).every((one) => one.gone === undefined)).toBe(true);
    expect(testsOf(state).map((one) => one.record.flags)).toEqual(Array(8).fill(['identity-shared']));
    expect(steps[2]?.changed).toHaveLength(8);
  });

  it('keep their running numbers and their memories apart', () => {
    const number = (from: number, days: readonly number[]) => days.map((day, i) => test(day, { runNumber: from + i }));
    const { steps } = fold(
      download(6, number(1, [1, 2, 3])),
      download(7, number(40, [1.3, 2.3])),
      download(8, number(1, [1, 2, 3, 7.9])),
      download(9, number(40, [1.3, 2.3, 8.9])),
    );
    expect(steps.slice(2).map((s) => [s.fresh, s.possiblyLost, s.runRestarted])).toEqual([
      [1, false, false],
      [1, false, false],
    ]);
  });

  it('are told apart also where one of them was first read only in part', () => {
    const { steps } = fold(
      download(6, A),
      download(7, [hole, ...B.slice(1)]),
      download(8, A),
      download(9, B),
      download(10, A),
      download(11, [hole, ...B.slice(2), test(10.5)]),
      download(12, [...B, test(10.5)]),
    );
    expect(steps.map((s) => s.fresh)).toEqual([5, 2, 0, 1, 0, 1, 0]);
    expect(steps[3]).toMatchObject({ foundShared: true, relabelled: [{ download: 'D2', memory: 1 }] });
  });

  it('may each be emptied: what is told after it is new, and the other one is still known', () => {
    const { steps } = fold(
      download(6, A),
      download(7, B),
      download(8, A),
      download(9, B),
      download(10, [test(9.9)]),
      download(11, B),
      download(12, [test(9.9), test(11.5)]),
    );
    expect(steps.map((s) => s.fresh)).toEqual([5, 3, 0, 0, 1, 0, 1]);
    // Which of the two was emptied nobody can tell, so nothing is said to be deleted.
    expect(steps[4]?.vanished).toEqual([]);
  });

  it('hold nothing any more half a year after only one of them was read', () => {
    const { steps } = fold(download(6, A), download(7, B), download(8, A), download(300, [...A, test(299)]));
    expect(steps[3]?.added.map((one) => one.record.flags)).toEqual([[]]);
  });

  it('that are nine are all known again; of a tenth the longest unseen is forgotten', () => {
    const meters = Array.from({ length: 10 }, (_, m) => [0, 1, 2].map((day) => test(day + m / 100)));
    const readAll = (count: number) =>
      [...meters.slice(0, count), ...meters.slice(0, count)].map((image, at) => download(10 + at, image));
    const fresh = (count: number) =>
      fold(...readAll(count))
        .steps.slice(count)
        .map((s) => s.fresh);
    expect(fresh(9)).toEqual(Array(9).fill(0));
    expect(fresh(10)[0]).toBe(3);
  });
});

describe('one meter alone', () => {
  it('that is emptied is no second meter, however often', () => {
    const { steps, state } = fold(
      ...Array.from({ length: 12 }, (_, week) => download(week * 7 + 6, [test(week * 7 + 1), test(week * 7 + 2)])),
    );
    expect(steps.map((s) => s.foundShared)).not.toContain(true);
    expect(testsOf(state).map((one) => one.record.flags)).toEqual([[], []]);
    expect(state.images).toHaveLength(8);
  });

  it('that repeats one stamp and value after it was emptied and lost power makes another test, which is kept', () => {
    const stamp = meterTimeOf(wall(Date.UTC(2000, 0, 1, 0, 5)), 60_000);
    const early = { meterTime: stamp, meterTimeText: stamp.text };
    const { last } = fold(download(6, [test(1, early)]), download(7, []), download(8, [test(1, early)]));
    expect(last).toMatchObject({ fresh: 1, foundShared: false, doubtful: true });
  });

  it('without a clock proves nothing by equal values', () => {
    const unset = { meterTime: undefined, meterTimeText: '' } as never;
    const some = ['2.0', '2.1', '2.2', '2.3'].map((inr) => test(1, { ...(unset as object), inr }));
    const { last } = fold(download(6, some), download(7, []), download(8, some));
    expect(last).toMatchObject({ fresh: 4, foundShared: false });
  });

  it('whose old memory is put back is said to be two: the old tests stay known', () => {
    const { steps } = fold(
      download(6, A),
      download(7, [], { at: instant(START + 7 * 86_400_000) }),
      download(8, [...A, test(7.9)]),
    );
    expect(steps.map((s) => [s.fresh, s.foundShared])).toEqual([
      [5, false],
      [0, false],
      [1, true],
    ]);
  });
});

const PLAIN: PairSetup = {
  protocol: 'line',
  hasRuns: true,
  resolutionMs: 1000,
  order: 'newest',
  capacity: 200,
  cuts: 0,
  overlap: 0,
  wipes: 0,
};
const ASTM: PairSetup = { ...PLAIN, protocol: 'astm', hasRuns: false, resolutionMs: 60_000 };

function sumUp(setup: PairSetup): PairVerdict[] {
  return Array.from({ length: COUNT }, (_, i) => provePair(pairOf(FROM + i, setup)));
}

describe(`generated pairs (SEED=${FROM}, COUNT=${COUNT})`, () => {
  it.each([
    ['by TLP/1 with running numbers', PLAIN],
    ['by TLP/1, whose stamps often coincide', { ...PLAIN, resolutionMs: 60_000, overlap: 0.2 } as const],
    ['by TLP/1 with memories of 12, which overwrite', { ...PLAIN, capacity: 12 }],
    ['by TLP/1, emptied now and then', { ...PLAIN, wipes: 0.15 }],
    ['by E1394 without running numbers', ASTM],
    ['by E1394, oldest first, with broken downloads', { ...ASTM, order: 'oldest', cuts: 0.3 } as const],
  ])('%s: 0 lost, 0 doubled, each in its order, and no clock taken for the other', (_, setup) => {
    const verdicts = sumUp(setup);
    expect(verdicts.flatMap((v) => v.lost)).toEqual([]);
    expect(verdicts.flatMap((v) => v.doubled)).toEqual([]);
    expect(verdicts.flatMap((v) => v.disordered)).toEqual([]);
    expect(verdicts.map((v) => v.mixed)).toEqual(verdicts.map(() => 0));
    expect(verdicts.filter((v) => v.saidAt.length === 1)).toHaveLength(COUNT);
  });

  it.each([
    ['by E1394 without running numbers, whose stamps often coincide', { ...ASTM, overlap: 0.2 }],
    ['with every third download broken off, newest first', { ...PLAIN, cuts: 0.3 }],
  ])('%s: what the images cannot prove is kept and held', (_, setup) => {
    const verdicts = sumUp(setup).filter((v) => v.lost.length + v.doubled.length + v.disordered.length > 0);
    expect(verdicts.length).toBeLessThan(COUNT / 4);
    expect(verdicts.map((v) => v.saidAt.length)).toEqual(verdicts.map(() => 1));
    expect(verdicts.map((v) => v.unmarked)).toEqual(verdicts.map(() => 0));
  });

  it('keep the state small: a memory of 12 each, in 60 visits', () => {
    const verdict = provePair(pairOf(FROM, { ...PLAIN, capacity: 12 }, 60));
    expect(verdict.readings).toBeGreaterThan(100);
    expect(verdict.largest).toBeLessThan(60);
  });
});
