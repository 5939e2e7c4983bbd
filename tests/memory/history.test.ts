/**
 * Settling against meters whose true history is known: a slice of the generated histories, and the seeds that once
 * failed. `SEED` and `COUNT` choose another slice.
 */
import { describe, expect, it } from 'vitest';
import { historyOf } from './history.ts';
import { prove, proveMany } from './prove.ts';

const from = Number(process.env['SEED'] ?? 20_260_301);
const count = Number(process.env['COUNT'] ?? 600);

describe(`generated histories (SEED=${from}, COUNT=${count})`, () => {
  it('lose nothing, double nothing and keep the order wherever the images prove it', () => {
    const tally = proveMany(from, count);
    expect(tally.failed).toEqual([]);
    expect(tally.admitted).toEqual([]);
    expect(tally.misjudged).toEqual([]);
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
    [311, 'a hole over everything closed a gap'],
    [655, 'a ring was cut behind the slots that were written again'],
    [904, 'a factory reset was mixed up with the numbers of the life before'],
    [1274, 'a hole with room for one test hid seven'],
    [1456, 'the numbers after a factory reset were put among those before'],
    [1_017_956, 'a test told unasked was taken for overwritten by tests that were older'],
    [2096, 'a new test after a power loss was taken for damage'],
  ])('seed %i: %s', (seed) => {
    const { merged, split, disordered, misjudged, broken } = prove(historyOf(seed));
    expect({ merged, split, disordered, misjudged, broken }).toEqual({
      merged: [],
      split: [],
      disordered: [],
      misjudged: [],
      broken: [],
    });
  });

  it('seed 20260332: a test with a default stamp that may be new or told again is kept and flagged', () => {
    expect(prove(historyOf(20_260_332))).toMatchObject({ lost: 0, flagged: true });
  });
});
