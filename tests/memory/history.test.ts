/**
 * Settling against meters whose true history is known: a slice of the generated histories, and the seeds that once
 * failed. `SEED` and `COUNT` choose another slice.
 */
import { describe, expect, it } from 'vitest';
import { historyOf } from './history.ts';
import { prove, proveMany } from './prove.ts';

const from = Number(process.env['SEED'] ?? 20_260_301);
const count = Number(process.env['COUNT'] ?? 800);

describe(`generated histories (SEED=${from}, COUNT=${count})`, () => {
  it('lose nothing, double nothing and keep the order wherever the images prove it', () => {
    const tally = proveMany(from, count);
    expect(tally.failed).toEqual([]);
    expect(tally.admitted).toEqual([]);
    expect(tally.silentlyDoubled).toEqual([]);
    // The slice must have had something to prove.
    expect(tally.tests).toBeGreaterThan(count * 10);
    expect(tally.damaged).toBeGreaterThan(0);
  });

  it('are the same for the same seed', () => {
    expect(historyOf(from)).toEqual(historyOf(from));
  });
});

describe('a history that once failed is settled as it truly was', () => {
  it.each([
    [19, 'a deleted test beside one in the same minute was taken for damage'],
    [159, 'the oldest test was told with a damaged stamp'],
    [311, 'a hole over everything closed a gap'],
    [424, 'a damaged stamp in a cut download, then the true one'],
    [655, 'a ring was cut behind the slots that were written again'],
    [972, 'a new test looked like the known one before it'],
    [982, 'a damaged code while the clock was not set'],
    [1123, 'a damaged value while the clock was not set'],
    [1274, 'a hole with room for one test hid seven'],
    [2096, 'a new test after a power loss was taken for damage'],
    [11338, 'an error test was cut and then told damaged'],
  ])('seed %i: %s', (seed) => {
    expect(prove(historyOf(seed))).toMatchObject({
      lost: 0,
      doubled: 0,
      merged: [],
      split: [],
      disordered: [],
      broken: [],
    });
  });
});
