/** What settling promises for whole images: each test is a reading once, in its place. */
import { describe, expect, it } from 'vitest';
import { download, errorTest, fold, hole, order, test } from './meter-words.ts';

describe('a complete download', () => {
  it('makes every test of a first download a reading, oldest first', () => {
    const { last } = fold(download(9, [test(1), test(2), test(3)]));
    expect(last.added.map((t) => t.id)).toEqual(['D1-1', 'D1-2', 'D1-3']);
    expect([last.known, last.fresh, last.doubtful, last.possiblyLost]).toEqual([0, 3, false, false]);
    expect([last.after, last.mayPrecede]).toEqual(['D1-3', 0]);
  });

  it('changes nothing when the same memory is told again', () => {
    const image = [test(1), test(2), test(3)];
    const { last, steps } = fold(download(9, image), download(10, image));
    expect([last.known, last.fresh, last.changed, last.added]).toEqual([3, 0, [], []]);
    expect(last.state.sequence).toEqual(steps[0]?.state.sequence);
  });

  it('adds only what is new behind what is known', () => {
    const { state, last } = fold(download(9, [test(1), test(2)]), download(19, [test(1), test(2), test(11), test(12)]));
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D2-3', 'D2-4']);
    expect(last.sightings.map((s) => s.isNew)).toEqual([false, false, true, true]);
  });

  it('counts identical contents: one known and two told are one new', () => {
    const error = errorTest('2026-03-02T10:05');
    const { last } = fold(download(9, [error]), download(10, [error, error]));
    expect([last.known, last.fresh]).toEqual([1, 1]);
  });
});

describe('a download that was cut', () => {
  it('fills the hole at the next complete one without renaming a reading', () => {
    const { state, steps } = fold(
      download(9, [test(1), test(2)]),
      download(19, [hole, test(13), test(14)]),
      download(20, [test(1), test(2), test(11), test(12), test(13), test(14), test(19)]),
    );
    expect(order(steps[1]?.state ?? state)).toEqual(['D1-1', 'D1-2', '…', 'D2-2', 'D2-3']);
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D3-3', 'D3-4', 'D2-2', 'D2-3', 'D3-7']);
    expect(state.sequence.every((i) => i.kind === 'test' && i.status === 'settled')).toBe(true);
  });
});

describe('a conflict', () => {
  it('keeps a value that was told differently next to the known one and never makes a third', () => {
    const image = [test(1), test(2), test(3)];
    const damaged = [test(1), test(2, { inr: '7.2' }), test(3)];
    const { state, steps } = fold(
      download(9, image, { protocol: 'astm' }),
      download(10, damaged, { protocol: 'astm' }),
      download(11, image),
      download(12, damaged, { protocol: 'astm' }),
    );
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D2-2', 'D1-3']);
    expect(steps[1]?.conflicts).toEqual([{ reading: 'D1-2', with: 'D2-2' }]);
    expect(steps.slice(2).map((s) => s.fresh)).toEqual([0, 0]);
  });
});
