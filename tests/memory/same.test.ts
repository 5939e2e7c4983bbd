/** Whether two sightings can be one test, by hand; and that it does not matter which of them is asked about. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import {
  nearContent,
  nearTime,
  sameTest,
  sameTime,
  sharesContent,
  sharesTime,
  slotsDiffer,
} from '../../src/memory/same.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { errorTest, test } from './meter-words.ts';

const SEED = seedOr(20260301);
const stamped = (text: string): TestRecord => ({ ...test(1), meterTimeText: text });
const valued = (...values: string[]): TestRecord => ({
  ...test(1),
  values: values.map((value, i) => ({ analyte: `A${i}`, value, unit: '' })),
});

describe('two stamps', () => {
  it.each([
    ['2026-03-02 08:00', '2026-03-02 08:00', true],
    ['2026-03-02 08:00', '2026-03-02 08:07', true],
    ['2026-03-02 08:00', '2026-03-02 09:07', true],
    ['2026-03-02 08:00', '2026-03-03 09:07', false],
    // As far as both go.
    ['2026-03-02 08:00', '2026-03', true],
    ['2026-03-02 08:00', '2026-99', true],
    ['2026-03-02 08:00', '1926-99', false],
    ['2026-03-02 08:00', '', false],
  ])('%s and %s are near: %s', (a, b, isNear) => {
    expect(nearTime(stamped(a), stamped(b))).toBe(isNear);
    expect(nearTime(stamped(b), stamped(a))).toBe(isNear);
  });

  it('that say nothing share no time, though they are alike', () => {
    const { meterTime: _, ...unset } = stamped('');
    const { meterTime: __, ...wild } = stamped('??');
    expect([sharesTime(unset, unset), sharesTime(wild, wild), sharesTime(wild, unset)]).toEqual([false, true, false]);
    expect(sharesTime(test(1), wild)).toBe(false);
  });
});

describe('two results', () => {
  it.each([
    ['2.5', '2.5', true],
    ['2.5', '2.6', true],
    ['2.5', '3.6', true],
    ['12.5', '23.6', false],
    ['2.5', '2.50', true],
    ['2.5', '12.50', false],
    ['2.5', '2.500', true],
    ['2.5', '2.5000', false],
    ['2.5', '112.5', true],
    ['2.5', '92.6', false],
  ])('of %s and %s are near: %s', (a, b, isNear) => {
    expect(nearContent(valued(a), valued(b))).toBe(isNear);
    expect(nearContent(valued(b), valued(a))).toBe(isNear);
  });

  it('are near with fewer values only where the shorter one was cut', () => {
    const [short, long] = [valued('2.5'), valued('2.5', '27.6')];
    expect(nearContent(short, long)).toBe(false);
    expect(nearContent({ ...short, open: true }, long)).toBe(true);
    expect(nearContent(long, { ...short, open: true })).toBe(true);
    expect(nearContent(short, { ...long, open: true })).toBe(false);
  });

  it('of two kinds, or with codes that are far from each other, are not near', () => {
    expect(nearContent(valued('2.5'), { ...valued('2.5'), kind: 'control' })).toBe(false);
    const failed = (code: string) => errorTest('2026-03-02 08:00', code);
    expect([nearContent(failed('E4'), failed('E5')), nearContent(failed('E4'), failed('X123'))]).toEqual([true, false]);
    expect([sharesContent(failed('E4'), failed('E4')), sharesContent(failed('E4'), failed('E5'))]).toEqual([
      true,
      false,
    ]);
  });

  it('that tell nothing share nothing', () => {
    expect([sharesContent(valued(), valued()), sharesContent(valued('1'), valued('1'))]).toEqual([false, true]);
  });

  it('agree in units that were not given, in order, and with what a cut record lacks', () => {
    const withUnit = (unit: string): TestRecord => ({ ...test(1), values: [{ analyte: 'INR', value: '2.5', unit }] });
    expect([sharesContent(withUnit(''), withUnit('s')), sharesContent(withUnit('%'), withUnit('s'))]).toEqual([
      true,
      false,
    ]);
    const swapped = { ...valued('1', '2'), values: valued('1', '2').values.toReversed() };
    expect(sharesContent(valued('1', '2'), swapped)).toBe(false);
    expect(sharesContent({ ...valued('1', ''), open: true }, valued('1', '2'))).toBe(true);
    expect(sharesContent(valued('1'), valued('1', '2'))).toBe(false);
    // What was cut before its values may be an error.
    expect(sharesContent({ ...valued(''), open: true }, errorTest('x'))).toBe(true);
    expect(sharesContent({ ...valued('1'), open: true }, errorTest('x'))).toBe(false);
  });
});

describe('two records without a stamp', () => {
  const { meterTime: _, ...rest } = stamped('');
  const patient = (...values: string[]): TestRecord => ({ ...rest, values: valued(...values).values });
  const cut = (record: TestRecord): TestRecord => ({ ...record, open: true });
  const failed = (code?: string): TestRecord => {
    const { errorCode: __, ...error } = errorTest('');
    return { ...error, ...(code !== undefined && { errorCode: code }) };
  };

  it.each<[string, boolean, TestRecord, TestRecord]>([
    ['an error whose code was cut off and one with a code', true, cut(failed('X')), failed('E5')],
    ['an error that was cut before any code and one with a code', true, cut(failed()), failed('E5')],
    ['a cut error with its code and another', false, cut(failed('E1')), failed('E5')],
    ['a whole error of code X and another', false, failed('X'), failed('E5')],
    ['a whole error without a code and one with a code', false, failed(), failed('E5')],
    ['an error whose code was cut off and a result', false, cut(failed('X')), patient('2.5')],
    ['a cut record without values and an error', true, cut(patient()), failed('E5')],
    ['a cut record with a value and an error', false, cut(patient('2.5')), failed('E5')],
    ['a whole record without values and an error', false, patient(), failed('E5')],
    ['a cut record without values and a control', false, cut(patient()), { ...patient('2.5'), kind: 'control' }],
    ['a cut record without values and one with some', true, cut(patient()), patient('2.5')],
    ['a cut record and one that goes on', true, cut(patient('2.5')), patient('2.5', '27')],
    ['a cut record and one that goes on elsewhere', false, cut(patient('2.6')), patient('2.5', '27')],
    ['a whole record and one that goes on', false, patient('2.5'), patient('2.5', '27')],
    ['a whole record and a cut one that goes on', false, patient('2.5'), cut(patient('2.5', '27'))],
  ])('%s can be one test: %s', (_, isOne, a, b) => {
    expect(sameTest({ record: a }, { record: b })).toBe(isOne);
    expect(sameTest({ record: b }, { record: a })).toBe(isOne);
  });

  it('agree in analyte and unit, as far as units were given', () => {
    const of = (analyte: string, unit: string) => ({ record: { ...rest, values: [{ analyte, value: '2.5', unit }] } });
    const same = (a: [string, string], b: [string, string]) => [
      sameTest(of(...a), of(...b)),
      sameTest(of(...b), of(...a)),
    ];
    expect(same(['INR', ''], ['PT', ''])).toEqual([false, false]);
    expect(same(['PT', ''], ['PT', 's'])).toEqual([true, true]);
    expect(same(['PT', '%'], ['PT', 's'])).toEqual([false, false]);
    expect(same(['PT', 's'], ['PT', 's'])).toEqual([true, true]);
  });

  it('and one with a stamp of the same text share no time', () => {
    const read = test(1);
    const { meterTime: __, ...unread } = read;
    expect([sameTime(read, unread), sameTime(unread, read), sameTime(unread, unread)]).toEqual([false, false, true]);
  });
});

it('two slots of a ring are two tests; a slot that was not told is none', () => {
  const at = (ringSlot?: number) => ({ record: test(1), ...(ringSlot !== undefined && { ringSlot }) });
  expect([slotsDiffer(at(1), at(2)), slotsDiffer(at(1), at(1)), slotsDiffer(at(1), at())]).toEqual([
    true,
    false,
    false,
  ]);
  expect([sameTest(at(1), at(2)), sameTest(at(1), at())]).toEqual([false, true]);
});

it(`every sighting is itself, and two are one whichever comes first (SEED=${SEED})`, () => {
  const some = fc
    .record({
      day: fc.integer({ min: 1, max: 2 }),
      resolutionMs: fc.constantFrom(1000, 60_000),
      inr: fc.constantFrom('2.5', '2.6'),
      more: fc.record(
        {
          runNumber: fc.integer({ min: 1, max: 2 }),
          lot: fc.constantFrom('A', 'B'),
          lossCount: fc.integer({ min: 0, max: 1 }),
          open: fc.constant(true),
        },
        { requiredKeys: [] },
      ),
      ringSlot: fc.option(fc.integer({ min: 0, max: 1 }), { nil: undefined }),
    })
    .map(({ day, resolutionMs, inr, more, ringSlot }) => ({
      record: test(day, { resolutionMs, inr, ...more } as Parameters<typeof test>[1]),
      ...(ringSlot !== undefined && { ringSlot }),
    }));
  fc.assert(
    fc.property(some, some, (a, b) => {
      expect(sameTest(a, a)).toBe(true);
      expect(sameTest(a, b)).toBe(sameTest(b, a));
      expect(nearTime(a.record, b.record)).toBe(nearTime(b.record, a.record));
      expect(nearContent(a.record, b.record)).toBe(nearContent(b.record, a.record));
      expect(sharesContent(a.record, b.record)).toBe(sharesContent(b.record, a.record));
    }),
    { seed: SEED, numRuns: runsOr(500) },
  );
});
