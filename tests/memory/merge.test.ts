/** What a further sighting adds to a known record, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import { isUnsure, mergeRecord } from '../../src/memory/merge.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { errorTest, START, test } from './meter-words.ts';

const SEED = seedOr(20260301);
const inr = (value: string) => ({ analyte: 'INR', value, unit: '{INR}' });

describe('a further sighting', () => {
  const known = test(1, { lot: '1200003' });

  it('that tells nothing more leaves the record as it is, the very same', () => {
    expect(mergeRecord(known, test(1))).toBe(known);
    expect(mergeRecord(known, test(1, { lot: '1200017', flags: ['hi'] }))).toBe(known);
  });

  it.each([
    ['slot', 3],
    ['runNumber', 17],
    ['lot', '1200017'],
    ['lotExpiry', '2027-01'],
    ['operator', 'rosa'],
    ['patientId', 'P-007'],
    ['lossCount', 0],
  ] as const)('fills in %s where it was not told, and only then', (fact, value) => {
    const bare = test(1);
    expect(mergeRecord(bare, { ...bare, [fact]: value })).toEqual({ ...bare, [fact]: value });
    const first = { ...bare, [fact]: typeof value === 'number' ? 99 : 'other' };
    expect(mergeRecord(first, { ...bare, [fact]: value })).toBe(first);
    expect(mergeRecord(first, bare)).toBe(first);
  });

  it('adds keys that nobody knows, and alters none', () => {
    const first = { ...known, extra: { A: '1' } };
    expect(mergeRecord(first, { ...known, extra: { A: '2', B: '3' } }).extra).toEqual({ A: '1', B: '3' });
    expect(mergeRecord(known, { ...known, extra: { B: '3' } }).extra).toEqual({ B: '3' });
    expect(mergeRecord(first, { ...known, extra: { A: '2' } })).toBe(first);
    expect(mergeRecord(first, known)).toBe(first);
  });

  it('gives the seconds that a stamp lacked, and takes none away', () => {
    const seconds = test(1);
    const minutes = test(1, { resolutionMs: 60_000 });
    expect(mergeRecord(minutes, seconds)).toEqual(seconds);
    expect(mergeRecord(seconds, minutes)).toBe(seconds);
    const other = { ...meterTimeOf(wall(START + 9_000), 1000), text: 'x' };
    expect(mergeRecord(seconds, { ...seconds, meterTime: other, meterTimeText: 'x' })).toBe(seconds);
    const { meterTime: _, ...unset } = seconds;
    expect(mergeRecord(unset, seconds)).toBe(unset);
    expect(mergeRecord(minutes, unset)).toBe(minutes);
  });

  it('takes the mark of a single reading away, and no other', () => {
    const once = { ...known, flags: ['lo', 'single-read'] };
    expect(mergeRecord(once, known)).toEqual({ ...known, flags: ['lo'] });
    const low = { ...known, flags: ['lo'] };
    expect(mergeRecord(low, once)).toBe(low);
  });
});

describe('a record that was cut', () => {
  const cut: TestRecord = { ...test(1, { values: [inr('2.5')] }), open: true, flags: ['lo', 'single-read'] };
  const whole = test(1, { values: [inr('2.5'), inr('27')], flags: ['single-read'] });

  it('takes kind, values and flags from the whole one, and is open no more', () => {
    expect(mergeRecord(cut, whole)).toEqual(whole);
    const error = errorTest('x', 'E4');
    const merged = mergeRecord({ ...cut, values: [] }, error);
    expect([merged.kind, merged.values, merged.errorCode]).toEqual(['error', [], 'E4']);
    const failed: TestRecord = { ...errorTest('x', 'X'), open: true };
    const { errorCode: __, ...nameless } = errorTest('x');
    expect(mergeRecord(failed, nameless).errorCode).toBe('X');
  });

  it('takes also those of a longer one that is cut itself, and stays open', () => {
    const longer: TestRecord = { ...whole, open: true };
    expect(mergeRecord(cut, longer)).toEqual(longer);
    // One as long or shorter goes on no further: it only tells the same a second time.
    expect(mergeRecord(longer, cut)).toEqual({ ...longer, flags: [] });
    expect(mergeRecord(cut, { ...cut, values: [inr('9')] })).toEqual({ ...cut, flags: ['lo'] });
  });

  it('takes nothing from the whole one where the known one was not cut', () => {
    const known = test(1, { values: [inr('2.5')] });
    expect(mergeRecord(known, whole)).toBe(known);
    expect(mergeRecord({ ...known, open: false }, whole).values).toEqual([inr('2.5')]);
  });
});

it('a record is unsure that was read once, or differently, by the protocol with the weak check', () => {
  const flagged = (...flags: string[]) => isUnsure({ ...test(1), flags });
  expect([flagged('lo', 'single-read'), flagged('readings-differ'), flagged('lo'), flagged()]).toEqual([
    true,
    true,
    false,
    false,
  ]);
});

it(`the same sighting a third time adds nothing more (SEED=${SEED})`, () => {
  const facts = fc.record(
    {
      lot: fc.constantFrom('A', 'B'),
      runNumber: fc.nat(2),
      open: fc.boolean(),
      extra: fc.dictionary(fc.constantFrom('A', 'B'), fc.constantFrom('1', '2')),
      flags: fc.subarray(['lo', 'single-read']),
      values: fc.array(fc.constantFrom(inr('2.5'), inr('27')), { maxLength: 2 }),
    },
    { requiredKeys: [] },
  );
  const record = fc.tuple(facts, fc.constantFrom(1000, 60_000)).map(([more, resolutionMs]) => ({
    ...test(1, { resolutionMs }),
    ...(more as Partial<TestRecord>),
  }));
  fc.assert(
    fc.property(record, record, (known, told) => {
      const twice = mergeRecord(mergeRecord(known, told), told);
      const thrice = mergeRecord(twice, told);
      // A told one that stays open is taken for its flags each time.
      if (told.open !== true || known.open !== true) expect(thrice).toBe(twice);
      if (known.open !== true) expect(twice.values).toBe(known.values);
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
