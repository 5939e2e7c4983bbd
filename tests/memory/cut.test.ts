/** What settling promises for downloads that told only a part of the memory. */
import { describe, expect, it } from 'vitest';
import { download, fold, hole, order, test, testsOf } from './meter-words.ts';

const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => test(from + i));

describe('a download that was cut', () => {
  it('is filled by the next complete one without renaming a reading', () => {
    const { state, steps } = fold(
      download(9, [test(1), test(2)]),
      download(19, [hole, test(13), test(14)]),
      download(20, [test(1), test(2), test(11), test(12), test(13), test(14), test(19)]),
    );
    expect(order(steps[1]?.state ?? state)).toEqual(['D1-1', 'D1-2', '…', 'D2-2', 'D2-3']);
    expect(testsOf(steps[1]?.state ?? state).map((t) => t.status)).toEqual([
      'settled',
      'settled',
      'provisional',
      'provisional',
    ]);
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D3-3', 'D3-4', 'D2-2', 'D2-3', 'D3-7']);
    expect(testsOf(state).every((t) => t.status === 'settled')).toBe(true);
  });

  it('gives the same readings in the same order wherever a memory is cut, in every order of sending', () => {
    const before = days(1, 6);
    const after = days(3, 10);
    for (let cut = 0; cut <= after.length; cut++) {
      const newest = [hole, ...after.slice(cut)];
      const oldest = [...after.slice(0, cut), hole];
      const middle = [...after.slice(0, cut), hole, ...after.slice(cut + 1)];
      for (const image of [newest, oldest, middle]) {
        const { state } = fold(
          download(7, before, { capacity: 8 }),
          download(11, image, { capacity: 8, held: 8 }),
          download(12, after, { capacity: 8 }),
        );
        const days = testsOf(state).map((t) => t.record.meterTimeText.slice(0, 10));
        expect(days).toEqual(after.map((t) => t.meterTimeText.slice(0, 10)));
        expect(order(state)).not.toContain('…');
      }
    }
  });

  it('after another leaves a gap for each, and one complete download closes both', () => {
    const { state, steps } = fold(
      download(9, [test(1)]),
      download(19, [hole, test(13)]),
      download(29, [hole, test(25)]),
      download(30, [test(1), test(12), test(13), test(24), test(25)]),
    );
    expect(order(steps[2]?.state ?? state)).toEqual(['D1-1', '…', 'D2-2', '…', 'D3-2']);
    expect(order(state)).toEqual(['D1-1', 'D4-2', 'D2-2', 'D4-4', 'D3-2']);
  });

  it('leaves no gap where the told part reaches the known ones', () => {
    const { state } = fold(download(9, [test(1), test(2)]), download(19, [hole, test(2), test(11)]));
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D2-3']);
  });

  it('does not take an untold test for gone', () => {
    const { last } = fold(download(9, days(1, 5)), download(10, [hole, test(5)]), download(11, [test(1), hole]));
    expect(last.vanished).toEqual([]);
    expect(testsOf(last.state).some((t) => t.gone !== undefined)).toBe(false);
  });

  it('changes nothing when it told nothing', () => {
    const { state, last } = fold(download(9, days(1, 3)), download(10, [], { complete: false, cut: 'cut-off' }));
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D1-3', '…']);
    expect([last.known, last.fresh, last.after]).toEqual([0, 0, 'D1-3']);
  });

  it('takes nothing as gone where what was told is itself in doubt', () => {
    const { last } = fold(
      download(9, days(1, 4)),
      download(10, [test(1), test(4)], { complete: false, cut: 'identity-doubtful' }),
    );
    expect(last.vanished).toEqual([]);
  });
});

describe('two cut downloads of a ring, one after the other', () => {
  it('leave no place for old tests in front of one that was overwritten', () => {
    const slot = (day: number) => test(day, { slot: ((day - 1) % 12) + 1, runNumber: day });
    const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => slot(from + i));
    const ring = { order: 'ring', capacity: 12 } as const;
    const few = (atMost: number) => ({ kind: 'hole', atMost }) as const;
    const told = (day: number) => ({ kind: 'test', test: { ...slot(day), place: `${slot(day).slot}` } }) as const;
    const cut = { ...ring, complete: false, cut: 'cut-off' } as const;
    const { state } = fold(
      download(1.5, days(1, 1), ring),
      download(7.5, [], { ...cut, held: 7, image: [told(1), few(1), told(3), told(4), few(4)] }),
      download(16.5, [], { ...cut, held: 12, image: [few(7), ...[13, 14, 15, 16].map(told), few(1)] }),
      download(17.5, days(6, 17), { ...ring, held: 12 }),
    );
    const runs = testsOf(state).map((one) => one.record.runNumber ?? 0);
    expect(runs).toEqual([...runs].sort((a, b) => a - b));
    expect(runs).toContain(6);
  });
});

describe('what was surely made before a cut download', () => {
  it('is everything up to the newest told test where the newest came first', () => {
    const { last } = fold(download(19, [hole, test(13), test(14)], { held: 9 }));
    expect([last.after, last.mayPrecede]).toEqual(['D1-3', 0]);
  });

  it('is the newest told test, and as many more as were held, where the oldest came first', () => {
    const { last } = fold(download(19, [test(1), test(2), hole], { held: 9 }));
    expect([last.after, last.mayPrecede]).toEqual(['D1-2', 7]);
  });

  it('is open above where nobody knows how many were held', () => {
    const { last } = fold(download(19, [test(1), test(2), hole]));
    expect([last.after, 'mayPrecede' in last]).toEqual(['D1-2', false]);
  });

  it('does not count results told unasked', () => {
    const { state, last } = fold(download(19, [hole, test(13)], { fresh: [{ ...test(19), place: 'n1' }] }));
    expect(order(state)).toEqual(['…', 'D1-2', 'D1-n1']);
    expect(last.after).toBe('D1-2');
  });
});
