/** What a further sighting may add to a known reading, by another protocol, another resolution or a cut record. */
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import { download, errorTest, fold, test, testsOf } from './meter-words.ts';

const once = (record: TestRecord): TestRecord => ({ ...record, flags: ['single-read'] });
const astm = (day: number, ...image: TestRecord[]) => download(day, image, { protocol: 'astm' });

describe('the same meter read by two protocols', () => {
  it('tells one reading, at minutes or seconds, with or without lot and count of power losses', () => {
    const line = test(2, { lot: '1200003', lossCount: 1, runNumber: 7 });
    const minutes = once(test(2, { resolutionMs: 60_000 }));
    for (const [a, b] of [
      [download(9, [line]), astm(10, minutes)],
      [astm(9, minutes), download(10, [line])],
    ] as const)
      expect(fold(a, b).last).toMatchObject({ known: 1, fresh: 0 });
  });

  it('fills in what the first sighting did not tell and alters nothing that it told', () => {
    const { state, last } = fold(
      astm(9, once(test(2, { resolutionMs: 60_000, patientId: 'P-007' }))),
      download(10, [test(2, { lot: '1200003', lossCount: 1, patientId: 'P-008', operator: 'rosa', flags: ['lo'] })]),
    );
    expect(last.changed.map((t) => t.id)).toEqual(['D1-1']);
    expect(testsOf(state)[0]?.record).toMatchObject({
      meterTimeText: '2026-03-03T08:00:00',
      lot: '1200003',
      lossCount: 1,
      patientId: 'P-007',
      operator: 'rosa',
      flags: [],
    });
  });

  it('keeps tests apart whose count of power losses, lot or running number differ', () => {
    const E = (more: Partial<TestRecord>) => errorTest('2000-01-01T00:00', 'E4', more);
    for (const [a, b] of [
      [E({ lossCount: 1 }), E({ lossCount: 2 })],
      [E({ lot: '1200003' }), E({ lot: '1200017' })],
      [E({ runNumber: 1 }), E({ runNumber: 2 })],
    ] as const)
      expect(fold(download(9, [a]), download(10, [a, b])).last).toMatchObject({ known: 1, fresh: 1 });
  });
});

describe('the mark of a single reading', () => {
  it('goes once a second download has told the test again', () => {
    const { steps } = fold(astm(9, once(test(1))), astm(10, once(test(1))));
    expect(steps.map((s) => testsOf(s.state)[0]?.record.flags)).toEqual([['single-read'], []]);
  });

  it('stays while only its own download told it', () => {
    const { state } = fold(astm(9, once(test(1))), astm(19, once(test(1)), once(test(11))));
    expect(testsOf(state).map((t) => t.record.flags)).toEqual([[], ['single-read']]);
  });
});

describe('a record that was cut right behind', () => {
  const values = [
    { analyte: 'INR', value: '2.3', unit: '{INR}' },
    { analyte: 'PT', value: '26.5', unit: 's' },
  ];
  const whole = test(2, { values, lot: '1200003' });
  const cut: TestRecord = { ...once(test(2, { values: values.slice(0, 1) })), open: true };

  it('is completed by the fuller record under the same id', () => {
    const { state, last } = fold(astm(9, cut), astm(10, whole));
    expect([last.known, last.fresh, last.changed.map((t) => t.id)]).toEqual([1, 0, ['D1-1']]);
    expect(testsOf(state)[0]?.record).toMatchObject({ values, lot: '1200003', place: '1' });
    expect(testsOf(state)[0]?.record.open).toBeUndefined();
  });

  it('takes nothing from a fuller one that was known', () => {
    const { state, last } = fold(astm(9, whole), astm(10, cut));
    expect([last.known, testsOf(state)[0]?.record.values]).toEqual([1, values]);
  });

  it('keeps the mark of a single reading on values that were told once', () => {
    const { state } = fold(astm(9, cut), astm(10, once(whole)));
    expect(testsOf(state)[0]?.record.flags).toEqual(['single-read']);
  });

  it('is the error that its missing part shows it to be', () => {
    const noValue: TestRecord = { ...test(2, { values: [{ analyte: 'INR', value: '', unit: '' }] }), open: true };
    const { meterTimeText, meterTime } = noValue;
    const error = errorTest(meterTimeText, 'E4', meterTime ? { meterTime } : {});
    const { state } = fold(astm(9, noValue), astm(10, error));
    expect(testsOf(state)).toHaveLength(1);
    expect(testsOf(state)[0]?.record).toMatchObject({ kind: 'error', errorCode: 'E4', values: [] });
  });

  it('is not another error in the same minute', () => {
    const open: TestRecord = { ...errorTest('2026-03-02T10:05', 'E1'), open: true };
    expect(fold(astm(9, open), astm(10, open, errorTest('2026-03-02T10:05', 'E4'))).last.fresh).toBe(1);
  });

  it('completes an error test that was cut before its code came, and knows one whose code was told before', () => {
    const cutError: TestRecord = { ...errorTest('2026-03-02T10:05', 'X'), open: true };
    const whole = errorTest('2026-03-02T10:05', 'E5');
    const completed = fold(astm(9, cutError), astm(10, whole));
    expect([completed.last.fresh, testsOf(completed.state).length]).toEqual([0, 1]);
    expect(testsOf(completed.state)[0]?.record.errorCode).toBe('E5');
    const known = fold(astm(9, whole), astm(10, cutError));
    expect([known.last.fresh, known.last.conflicts]).toEqual([0, []]);
    expect(testsOf(known.state)[0]?.record.errorCode).toBe('E5');
  });
});

describe('a stamp that cannot be read', () => {
  it('is compared as text', () => {
    const odd = (text: string): TestRecord => {
      const { meterTime: _none, ...rest } = test(1);
      return { ...rest, meterTimeText: text, flags: ['time-unreadable'] };
    };
    const { last } = fold(download(9, [odd('2026-02-30T10:00')]), download(10, [odd('2026-02-30T10:00'), odd('')]));
    expect([last.known, last.fresh]).toEqual([1, 1]);
  });
});
