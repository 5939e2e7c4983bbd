/** What one download tells beside the readings: losses, running numbers, memories and the state that is kept, by hand. */
import { describe, expect, it } from 'vitest';
import type { Download } from '../../src/core/download.ts';
import { download, fold, hole, test, testsOf } from './meter-words.ts';

const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => test(from + i));
const without = (field: 'capacity' | 'held', one: Download): Download => {
  const { [field]: _, ...rest } = one;
  return rest as Download;
};

describe('tests may be lost', () => {
  const lost = (...downloads: Download[]) => fold(...downloads).last.possiblyLost;
  const full = { capacity: 3, held: 3 };

  it('where a full memory told nothing that is known before it broke off', () => {
    expect(lost(download(9, [hole, test(8), test(9)], full))).toBe(true);
    expect(lost(download(9, [hole, test(8), test(9)], { capacity: 3, held: 2 }))).toBe(false);
    // The older one of two is new, the newer one is known.
    const newest = download(9, [hole, test(5)], { capacity: 3, held: 2 });
    expect(lost(newest, download(10, [test(4), test(5), hole], full))).toBe(false);
    expect(lost(download(9, [test(1)], full), download(29, [hole, test(27), test(28)], full))).toBe(false);
  });

  it('not in a memory without slots', () => {
    expect(lost(download(9, [], { capacity: 0 }))).toBe(false);
  });

  it('not by a first download where nobody tells the capacity, nor where nobody tells how many are held', () => {
    const untold = (day: number, image: Parameters<typeof download>[1]) => without('capacity', download(day, image));
    expect(lost(untold(9, days(1, 4)))).toBe(false);
    expect(lost(untold(9, []), untold(10, days(1, 4)))).toBe(false);
    const cut = untold(9, [hole, test(1)]);
    expect(lost(cut, untold(29, days(11, 14)))).toBe(true);
    expect(lost(cut, without('held', untold(29, days(11, 14))))).toBe(false);
  });
});

describe('running numbers', () => {
  const numbered = (...runs: number[]) => runs.map((runNumber) => test(runNumber, { runNumber }));
  const lost = (...downloads: Download[]) => fold(...downloads).last.possiblyLost;

  it('are missed also behind tests that are all gone', () => {
    expect(lost(download(9, numbered(1, 2)), download(10, []), download(19, numbered(5)))).toBe(true);
    expect(lost(download(9, numbered(1, 2)), download(10, []), download(19, numbered(3)))).toBe(false);
  });

  it('are missed also where only a gap is known', () => {
    const broken = download(11, [], { complete: false, cut: 'cut-off' });
    expect(lost(download(9, numbered(1, 2)), download(10, []), broken, download(19, numbered(5)))).toBe(true);
  });

  it('are not missed behind a known test that was told without one', () => {
    const { last, steps } = fold(
      download(9, numbered(1, 2)),
      download(10, []),
      download(13, [test(12)]),
      download(19, [test(12), ...numbered(15)]),
    );
    expect([last.known, last.fresh, last.possiblyLost]).toEqual([1, 1, false]);
    expect(steps.map((s) => s.state.highestRun)).toEqual([2, 2, 2, 15]);
  });

  it('are no part of the state where there are none', () => {
    expect(Object.keys(fold(download(9, [test(1)])).last.state)).toEqual(['retired', 'sequence', 'last']);
  });
});

describe('a test that lacks between two others', () => {
  const vanished = (more: Partial<Download>) =>
    fold(download(9, days(1, 5)), download(10, [hole, test(3), test(5)], more)).last.vanished;

  it('was deleted also where the download broke off, unless the order that it told is in doubt', () => {
    expect(vanished({ cut: 'cut-off' })).toEqual([{ reading: 'D1-4', how: 'deleted' }]);
    expect(vanished({ cut: 'damaged' })).toEqual([{ reading: 'D1-4', how: 'deleted' }]);
    for (const cut of ['count-differs', 'proof-differs', 'identity-doubtful'] as const)
      expect(vanished({ cut })).toEqual([]);
  });
});

describe('two meters of one name', () => {
  const A = days(1, 4);
  const B = [1.3, 2.3, 3.3].map((day) => test(day));

  it('are numbered: by the first download no number, then that which was told', () => {
    const { steps } = fold(download(6, A), download(7, B), download(8, A));
    expect(steps.map((s) => [s.memory, s.state.memory])).toEqual([
      [0, undefined],
      [1, 1],
      [0, 0],
    ]);
    expect(steps.map((s) => s.relabelled)).toEqual([[], [], []]);
  });

  it('give their mark also to tests that are new', () => {
    const { last } = fold(download(6, A), download(7, B), download(8, A), download(9, [...A, test(8.5)]));
    expect(last.added.map((one) => one.record.flags)).toEqual([['identity-shared']]);
  });

  it('do not make a test vanish again that was deleted before they were found out', () => {
    const less = B.filter((_, at) => at !== 1);
    const { steps, state } = fold(download(5, A), download(6, B), download(7, less), download(8, A));
    expect(steps.slice(2).map((s) => s.vanished.map((one) => one.reading))).toEqual([['D2-2'], []]);
    expect(steps[3]?.foundShared).toBe(true);
    expect(testsOf(state).flatMap((one) => (one.gone ? [one.id, one.record.flags] : []))).toEqual([
      'D2-2',
      ['identity-shared'],
    ]);
  });

  it('are told apart also for an earlier download that broke off, once a whole one shows that it was the other’s', () => {
    const { last } = fold(download(6, A), download(7, [hole, ...B.slice(1)]), download(8, B));
    expect([last.memory, last.relabelled]).toEqual([1, [{ download: 'D2', memory: 1 }]]);
    const { last: own } = fold(download(6, A), download(7, [hole, ...A.slice(1)]), download(8, A));
    expect([own.memory, own.relabelled]).toEqual([0, []]);
  });
});
