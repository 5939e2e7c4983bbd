/** What settling promises for whole images, conflicts and departures: each test is a reading once, in its place. */
import { describe, expect, it } from 'vitest';
import type { Download } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { parseMeterTime } from '../../src/core/meter-time.ts';
import { download, errorTest, fold, hole, order, START, test, testsOf } from './meter-words.ts';

const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => test(from + i));

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

  it('keeps two tests with the default stamp and the same value after two power losses apart', () => {
    const afterLoss = errorTest('2000-01-01T00:03');
    const { state } = fold(
      download(9, [test(1), afterLoss]),
      download(19, [test(1), afterLoss, test(11), afterLoss]),
      download(29, [test(1), afterLoss, test(11), afterLoss]),
    );
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D2-3', 'D2-4']);
  });

  it('keeps results told unasked behind the image, and knows them at the next download', () => {
    const n1 = { ...test(9), place: 'n1' };
    const { state, steps, last } = fold(
      download(9, [test(1), test(2)], { fresh: [n1] }),
      download(10, [test(1), test(2), test(9)]),
    );
    expect([steps[0]?.after, steps[0]?.mayPrecede]).toEqual(['D1-2', 0]);
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D1-n1']);
    expect(last.fresh).toBe(0);
  });

  it('gives the same result for the same input and does not touch the state it was given', () => {
    const { state } = fold(download(9, days(1, 8), { capacity: 8 }));
    const before = JSON.stringify(state);
    const next = download(12, days(3, 10), { capacity: 8 });
    expect(fold(download(9, days(1, 8), { capacity: 8 }), next).last).toEqual(
      fold(download(9, days(1, 8), { capacity: 8 }), next).last,
    );
    expect(JSON.stringify(state)).toBe(before);
  });
});

describe('a memory that wraps', () => {
  it('says overwritten of the oldest and keeps the state as small as the memory', () => {
    const { state, last } = fold(download(9, days(1, 5), { capacity: 5 }), download(19, days(4, 8), { capacity: 5 }));
    expect(last.vanished).toEqual([
      { reading: 'D1-1', how: 'overwritten' },
      { reading: 'D1-2', how: 'overwritten' },
      { reading: 'D1-3', how: 'overwritten' },
    ]);
    expect([state.retired, order(state)]).toEqual([3, ['D1-4', 'D1-5', 'D2-3', 'D2-4', 'D2-5']]);
    expect(last.possiblyLost).toBe(false);
  });

  it('says that tests may be lost when a full memory holds nothing that is known', () => {
    const { last } = fold(download(9, days(1, 5), { capacity: 5 }), download(29, days(20, 24), { capacity: 5 }));
    expect([last.fresh, last.possiblyLost]).toEqual([5, true]);
  });

  it('says so at a first download only if the memory is full', () => {
    expect(fold(download(9, days(1, 4), { capacity: 5 })).last.possiblyLost).toBe(false);
    expect(fold(download(1, [], { capacity: 5 }), download(9, days(1, 5), { capacity: 5 })).last.possiblyLost).toBe(
      true,
    );
    expect(fold(download(9, days(1, 5), { capacity: 5 })).last.possiblyLost).toBe(true);
  });

  it('presumes a full memory where nobody tells the capacity: as many tests as before, and none of them known', () => {
    const untold = (day: number, from: number, to: number) => {
      const { capacity: _, ...rest } = download(day, days(from, to));
      return rest;
    };
    expect(fold(untold(9, 1, 4), untold(29, 11, 14)).last.possiblyLost).toBe(true);
    expect(fold(untold(9, 1, 4), untold(29, 11, 13)).last.possiblyLost).toBe(false);
    expect(fold(untold(9, 1, 4), untold(29, 4, 14)).last.possiblyLost).toBe(false);
    // A download that broke off leaves open which of the six were there at once.
    const { capacity: _, ...brokenOff } = download(12, [hole, test(5), test(6)]);
    expect(fold(untold(9, 1, 4), brokenOff, untold(29, 11, 15)).last.possiblyLost).toBe(true);
    expect(fold(untold(9, 1, 4), brokenOff, untold(13, 3, 6)).last.possiblyLost).toBe(false);
  });

  it('still says so when a cut download had told the newest tests before', () => {
    const { last } = fold(
      download(9, days(1, 5), { capacity: 5 }),
      download(29, [hole, test(23), test(24)], { capacity: 5, held: 5 }),
      download(30, days(20, 24), { capacity: 5 }),
    );
    expect([last.known, last.fresh, last.possiblyLost]).toEqual([2, 3, true]);
  });

  it('says so where what a cut download had not told is overwritten, though all that is left is known', () => {
    const cut = [
      download(9, days(1, 5), { capacity: 5 }),
      download(29, [hole, test(23), test(24)], { capacity: 5, held: 5 }),
    ];
    const lost = (image: Parameters<typeof download>[1], more: Partial<Download> = {}) =>
      fold(...cut, download(30, image, { capacity: 5, ...more })).last.possiblyLost;
    expect(lost(days(23, 27))).toBe(true);
    // Nothing was overwritten: the memory has room, or its oldest test was told before the cut.
    expect(lost(days(23, 26))).toBe(false);
    expect(lost([test(5), ...days(23, 26)])).toBe(false);
    // Said once: the gap is closed.
    const next = fold(...cut, download(30, days(23, 27), { capacity: 5 }), download(33, days(25, 29), { capacity: 5 }));
    expect(next.last.possiblyLost).toBe(false);
    // Nobody tells the capacity: as many as before.
    const untold = ({ capacity: _, ...rest }: Download): Download => rest;
    expect(fold(...cut.map(untold), untold(download(30, days(23, 27)))).last.possiblyLost).toBe(true);
  });

  it('knows a ring by its slots, also where contents repeat', () => {
    const ring = (slots: readonly number[]) =>
      slots.map((slot) => errorTest('2000-01-01T00:00', 'E4', { slot, place: `${slot}` }));
    const { state, last } = fold(
      download(9, ring([1, 2, 3, 4]), { capacity: 4, order: 'ring' }),
      download(19, ring([3, 4, 1, 2]), { capacity: 4, order: 'ring' }),
    );
    // All four look alike: by their slots all four are still there, in the order that was known.
    expect(last.known + last.fresh).toBe(4);
    expect(testsOf(state).filter((t) => !t.gone).length).toBe(4);
  });

  it('says overwritten of the test whose slot in a ring was written again while others stand empty', () => {
    const at = (day: number, slot: number) => test(day, { slot, place: `${slot}` });
    const { last } = fold(
      download(9, [at(1, 1), at(2, 2), at(3, 3), at(4, 4)], { capacity: 4, order: 'ring' }),
      download(19, [at(2, 2), at(4, 4), at(11, 1)], { capacity: 4, order: 'ring' }),
    );
    expect(last.vanished).toEqual([
      { reading: 'D1-1', how: 'overwritten' },
      { reading: 'D1-3', how: 'deleted' },
    ]);
  });
});

describe('deletions on the meter', () => {
  it('tells a deleted test from the middle and never takes it back', () => {
    const { state, last } = fold(download(9, days(1, 4)), download(10, [test(1), test(2), test(4)]));
    expect(last.vanished).toEqual([{ reading: 'D1-3', how: 'deleted' }]);
    expect(testsOf(state).map((t) => t.gone)).toEqual([undefined, undefined, 'deleted', undefined]);
  });

  it('retires a vanished test only when every older one is gone', () => {
    const { state } = fold(download(9, days(1, 4)), download(10, [test(1), test(3), test(4)]), download(11, [test(4)]));
    expect([state.retired, order(state)]).toEqual([3, ['D1-4']]);
  });

  it('tells that all were deleted, and what was newest before', () => {
    const { state, last } = fold(download(9, days(1, 3)), download(10, []));
    expect(last.vanished.map((v) => v.how)).toEqual(['deleted', 'deleted', 'deleted']);
    expect([state.retired, state.sequence, last.after, last.mayPrecede]).toEqual([3, [], 'D1-3', 0]);
  });

  it('does not guess between deleted and overwritten where the capacity is not known', () => {
    const { capacity: _none, ...unknown } = download(10, days(3, 5), { protocol: 'astm' });
    const { last } = fold(download(9, days(1, 4), { protocol: 'astm' }), unknown);
    expect(last.vanished.map((v) => v.how)).toEqual(['vanished', 'vanished']);
  });
});

describe('running numbers', () => {
  const numbered = (day: number, runNumber: number) => test(day, { runNumber });

  it('see a restart after a factory reset and keep both lives', () => {
    const { state, last } = fold(
      download(9, [numbered(1, 1), numbered(2, 2), numbered(3, 3)]),
      download(19, [numbered(11, 1), numbered(12, 2)]),
    );
    expect([last.runRestarted, last.fresh, last.conflicts]).toEqual([true, 2, []]);
    expect([state.highestRun, order(state)]).toEqual([2, ['D2-1', 'D2-2']]);
  });

  it('say that tests may be lost where numbers are missing before or among the new ones', () => {
    const first = download(9, [numbered(1, 1), numbered(2, 2)]);
    expect(fold(first, download(19, [numbered(2, 2), numbered(11, 4)])).last.possiblyLost).toBe(true);
    expect(fold(first, download(19, [numbered(2, 2), numbered(11, 3)])).last.possiblyLost).toBe(false);
    expect(fold(download(9, [numbered(1, 5), numbered(2, 7)])).last.possiblyLost).toBe(true);
    expect(fold(download(9, [numbered(1, 5), numbered(2, 6)])).last.possiblyLost).toBe(false);
  });

  it('are not missed while a gap may still fill, and missed when it closes empty', () => {
    const cut = download(19, [hole, numbered(12, 6)]);
    const { steps } = fold(
      download(9, [numbered(1, 1), numbered(2, 2)]),
      cut,
      download(20, [numbered(1, 1), numbered(2, 2), numbered(12, 6)]),
    );
    expect(steps.map((s) => s.possiblyLost)).toEqual([false, false, true]);
  });

  it('used again for another result in the same place are a conflict', () => {
    const other = test(5, { runNumber: 2, inr: '4.4' });
    const { last } = fold(
      download(9, [numbered(1, 1), numbered(2, 2), numbered(3, 3)]),
      download(10, [numbered(1, 1), other, numbered(3, 3)]),
    );
    expect(last.conflicts).toEqual([{ reading: 'D1-2', with: 'D2-2' }]);
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
    expect(testsOf(state).map((t) => t.conflictWith)).toEqual([undefined, 'D2-2', 'D1-2', undefined]);
    expect(steps[1]?.conflicts).toEqual([{ reading: 'D1-2', with: 'D2-2' }]);
    expect(steps.slice(2).map((s) => [s.fresh, s.conflicts])).toEqual([
      [0, []],
      [0, []],
    ]);
  });

  it('is seen at the newest test too, where only the weak checksum stands for it', () => {
    const known = download(9, [test(1), test(2, { flags: ['single-read'] })], { protocol: 'astm' });
    expect(fold(known, download(10, [test(1), test(2, { inr: '2.3' })])).last.conflicts).toHaveLength(1);
  });

  it('is seen in a ring by slot and time', () => {
    const at = (inr: string) => [test(1, { slot: 1, place: '1' }), test(2, { slot: 2, place: '2', inr })];
    const { last } = fold(download(9, at('2.2'), { order: 'ring' }), download(10, at('8.8'), { order: 'ring' }));
    expect(last.conflicts).toEqual([{ reading: 'D1-2', with: 'D2-2' }]);
  });

  it('vanishes as one: both readings of the place leave together', () => {
    const { last } = fold(
      download(9, [test(1), test(2), test(3)], { protocol: 'astm' }),
      download(10, [test(1), test(2, { inr: '2.3' }), test(3)], { protocol: 'astm' }),
      download(11, [test(1), test(3)]),
    );
    expect(last.vanished.map((v) => v.reading)).toEqual(['D1-2', 'D2-2']);
  });
});

describe('one damaged character that the weak checksum let through', () => {
  const astm = (day: number, image: ReturnType<typeof test>[]) =>
    download(
      day,
      image.map((t) => ({ ...t, flags: ['single-read'] })),
      { protocol: 'astm' },
    );
  const unset = (inr: string) => {
    const { meterTime: _none, ...rest } = test(2, { inr });
    return { ...rest, meterTimeText: '' };
  };

  it('in the stamp of the oldest test is a conflict, not a new test', () => {
    const { meterTime, ...rest } = test(1);
    const damaged = { ...rest, meterTimeText: '2026-03-02T08:01:00', ...timeOf('2026-03-02T08:01:00') };
    expect(meterTime?.text).toBe('2026-03-02T08:00:00');
    const { last } = fold(astm(9, [test(1)]), astm(19, [damaged, test(11), test(12)]));
    expect(last.conflicts).toEqual([{ reading: 'D1-1', with: 'D2-1' }]);
  });

  it('in a running number is a conflict, not a restart', () => {
    const at = (day: number, runNumber: number) => test(day, { runNumber });
    const { last } = fold(astm(9, [at(1, 208), at(2, 209)]), astm(10, [at(1, 208), at(2, 200), at(9, 210)]));
    expect([last.conflicts, last.runRestarted]).toEqual([[{ reading: 'D1-2', with: 'D2-2' }], false]);
  });

  it('is a conflict between known neighbours also while the clock was not set', () => {
    const { state } = fold(astm(9, [test(1), unset('2.3'), test(3)]), astm(10, [test(1), unset('2.7'), test(3)]));
    expect(order(state)).toEqual(['D1-1', 'D1-2', 'D2-2', 'D1-3']);
  });

  it('is not seen in a test that equals a known one: the one beside it was deleted', () => {
    const a = errorTest('2026-03-02T10:05', 'E1');
    const b = errorTest('2026-03-02T10:05', 'E4');
    const { last } = fold(astm(9, [a, b, test(3)]), astm(10, [a, test(3)]));
    expect([last.known, last.fresh, last.conflicts]).toEqual([2, 0, []]);
  });

  it('is not seen in a new test with the same value a few hours later', () => {
    const later = {
      ...test(2, { inr: '2.1' }),
      meterTimeText: '2026-03-03T11:40:00',
      ...timeOf('2026-03-03T11:40:00'),
    };
    const { last } = fold(astm(3, [test(2, { inr: '2.1' })]), astm(4, [test(2, { inr: '2.1' }), later]));
    expect([last.known, last.fresh, last.conflicts]).toEqual([1, 1, []]);
  });
});

function timeOf(text: string): { meterTime: NonNullable<ReturnType<typeof test>['meterTime']> } {
  const time = parseMeterTime(text);
  if (!time.ok) return expect.fail(time.problem);
  return { meterTime: time.value };
}

describe('where two histories explain the image equally well', () => {
  // A full memory: either the user deleted the test behind E, or everything wrapped and a power loss made E again.
  const E = errorTest('2000-01-01T00:00');
  const wrap = [E, ...days(20, 23)];

  it('keeps the reading, flags it and says so', () => {
    const { last } = fold(download(9, [E, test(2)], { capacity: 5 }), download(29, wrap, { capacity: 5 }));
    expect(last.doubtful).toBe(true);
    expect(last.fresh).toBe(5);
    expect(last.added[0]?.record.flags).toEqual(['perhaps-repeat']);
  });

  it('does not doubt where the count of power losses tells', () => {
    const counted = { ...E, lossCount: 1 };
    const { last } = fold(
      download(9, [counted, test(2, { lossCount: 1 })], { capacity: 5 }),
      download(29, [{ ...E, lossCount: 2 }, ...days(20, 23).map((t) => ({ ...t, lossCount: 2 }))], { capacity: 5 }),
    );
    expect([last.doubtful, last.fresh]).toEqual([false, 5]);
  });

  it('lets the clock decide what can have been made before the last download', () => {
    // The test that a cut download told is gone; what stood beside it in the gap is told now.
    const looked = (text: string) => {
      const at = instant(START + 19 * 86_400_000);
      return { clock: [{ kind: 'anchor', shown: timeOf(text).meterTime, from: at, to: at } as const] };
    };
    const told = test(18, { kind: 'control' });
    const settledWith = (shown: string) =>
      order(
        fold(
          download(9, [test(1)]),
          download(19, [hole, test(18)], looked(shown)),
          download(20, [test(1), told], looked('2026-03-21T08:00:00')),
        ).state,
      );
    expect(settledWith('2026-03-20T08:00:00')).toEqual(['D1-1', 'D3-2', 'D2-2']);
    expect(settledWith('2026-03-18T08:00:00')).toEqual(['D1-1', 'D2-2', 'D3-2']);
  });
});
