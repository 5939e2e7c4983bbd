import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { HOLD_CODES, type HoldCode, type HoldFacts, holdsOf } from '../../../src/clinic/holds/hold.ts';
import { HOLD_LIMITS } from '../../../src/clinic/rules/hold-limits.ts';
import { instant } from '../../../src/core/instant.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const HOUR = 3_600_000;
const T0 = Date.UTC(2026, 2, 2, 9);
const PERSON = { patientNo: 1, id: 'ALDER-017' };
const GOOD: HoldFacts = {
  kind: 'patient',
  flags: [],
  values: [{ analyte: 'INR', value: '2.5', unit: '{INR}' }],
  placement: {
    takenAt: instant(T0),
    earliest: instant(T0 - HOUR),
    latest: instant(T0 + HOUR),
    basis: 'interpolated',
    reason: '',
    flags: [],
  },
  whose: { kind: 'known', person: PERSON, basis: 'lent' },
  lot: '4471903',
  lotState: 'good',
  isRegisterUsed: true,
  course: [2.4, 2.6, 2.5],
};
const inr = (value: string): Partial<HoldFacts> => ({ values: [{ analyte: 'INR', value, unit: '{INR}' }] });
const wide = (hours: number): Partial<HoldFacts> => ({
  placement: { latest: instant(T0 + hours * HOUR), earliest: instant(T0), basis: 'bounded', reason: '', flags: [] },
});
const codes = (change: Partial<HoldFacts>): HoldCode[] =>
  holdsOf({ ...GOOD, ...change }, HOLD_LIMITS).map((h) => h.code);

/** Each reason once, with what brings it about, and with what just does not. */
const CASES: readonly (readonly [HoldCode, Partial<HoldFacts>, Partial<HoldFacts>])[] = [
  ['conflict', { flags: ['conflict'] }, { flags: ['lo'] }],
  ['conflict', { flags: ['readings-differ'] }, {}],
  ['identity-shared', { flags: ['identity-shared'] }, {}],
  ['value-unreadable', { flags: ['value-unreadable'] }, {}],
  ['read-once', { flags: ['single-read'] }, {}],
  ['person-unknown', { whose: { kind: 'unknown', sentence: 'x' } }, { whose: { kind: 'nobody' } }],
  ['person-unconfirmed', { whose: { kind: 'proposed', person: PERSON, sentence: 'x' } }, {}],
  ['person-doubtful', { whose: { kind: 'doubtful', sentence: 'x' } }, {}],
  ['time-displayed', { placement: { basis: 'displayed', reason: '', flags: [] } }, {}],
  ['time-wide', wide(24.1), wide(24)],
  ['time-wide', { placement: { latest: instant(T0), basis: 'bounded', reason: '', flags: [] } }, {}],
  ['off-scale', inr('>8.0'), inr('2.6')],
  ['off-scale', { flags: ['rng'] }, {}],
  ['implausible', inr('15.1'), { ...inr('15.0'), course: [] }],
  ['implausible', inr('0.4'), { ...inr('0.5'), course: [] }],
  ['values-disagree', { disagreement: 'x' }, {}],
  ['off-course', inr('4.6'), inr('4.4')],
  ['off-course', inr('1.2'), inr('1.4')],
  ['lot-missing', { lot: undefined } as unknown as Partial<HoldFacts>, { isRegisterUsed: false }],
  ['lot-unknown', { lotState: 'unknown' }, { lotState: 'unknown', isRegisterUsed: false }],
  ['lot-expired', { lotState: 'expired', isRegisterUsed: false }, {}],
  ['control-failed', { outOfControl: 'x' }, {}],
];

describe('what a reading waits for', () => {
  it('is nothing where all is well', () => {
    expect(codes({})).toEqual([]);
  });

  it.each(CASES)('%s', (code, facts, harmless) => {
    expect(codes(facts)).toContain(code);
    expect(codes(harmless)).toEqual([]);
    const { sentence = '' } = holdsOf({ ...GOOD, ...facts }, HOLD_LIMITS).find((h) => h.code === code) ?? {};
    expect(sentence.length).toBeGreaterThan(0);
  });

  it('has a case here for every reason that there is', () => {
    expect(new Set(CASES.map(([code]) => code))).toEqual(new Set(HOLD_CODES));
  });

  it('needs three values before one can be far from the course', () => {
    expect(codes({ ...inr('4.6'), course: [2.4, 2.5] })).toEqual([]);
  });

  it('compares with the last values of the course only, and by more than both limits', () => {
    expect(codes({ course: [9, 9, 9, 2.4, 2.6, 2.5] })).toEqual([]);
    const far = (value: string, ratio: number, difference: number) =>
      holdsOf(
        { ...GOOD, ...inr(value), course: [2.4, 2.6, 2.5] },
        { ...HOLD_LIMITS, farFromCourse: { last: 3, days: 90, ratio, difference } },
      ).map(({ sentence }) => sentence);
    // 5.0 is twice 2.5 and 2.5 more: not more than either.
    expect(far('5.0', 2, 1)).toEqual([]);
    expect(far('5.0', 1.5, 2.5)).toEqual([]);
    expect(far('4.5', 1.5, 2.5)).toEqual([]);
    expect(far('5.0', 1.5, 2.4)).toEqual(["INR 5.0 is far from this person's last values (about 2.5)"]);
  });

  it('knows no ratio to nothing', () => {
    const other = (value: string) => ({ values: [{ analyte: 'PT', value, unit: 's' }] });
    expect(codes({ ...other('0'), course: [20, 20, 20] })).toEqual([]);
    expect(codes({ ...other('20'), course: [0, 0, 0] })).toEqual([]);
    expect(codes({ ...other('60'), course: [20, 20, 20] })).toEqual(['off-course']);
  });

  it('is not both off the scale and implausible, and is off the scale once', () => {
    expect(codes({ ...inr('>16.0'), course: [] })).toEqual(['off-scale']);
    expect(codes({ ...inr('>8.0'), course: [], flags: ['rng'] })).toEqual(['off-scale']);
  });

  it('is neither off the scale nor far from the course by a sign within a text that is no number', () => {
    expect(codes({ ...inr('2>5'), flags: ['value-unreadable'] })).toEqual(['value-unreadable']);
  });

  it('has what contradicts itself first, then the person, the time, the value, the lot and the controls', () => {
    const all = {
      flags: ['single-read', 'conflict'],
      whose: { kind: 'unknown', sentence: 'x' },
      ...wide(99),
      ...inr('16'),
      lotState: 'expired',
      outOfControl: 'x',
    } as const;
    expect(codes(all)).toEqual([
      'conflict',
      'person-unknown',
      'read-once',
      'time-wide',
      'implausible',
      'off-course',
      'lot-expired',
      'control-failed',
    ]);
    expect(codes({ ...all, kind: 'error' })).toEqual(['conflict']);
  });

  it('is that its time is open where there is no later bound, or no time at all', () => {
    expect(codes({ placement: { earliest: instant(T0), basis: 'bounded', reason: '', flags: [] } })).toEqual([
      'time-wide',
    ]);
    const { placement: _, ...without } = GOOD;
    expect(holdsOf(without, HOLD_LIMITS).map((h) => h.code)).toEqual(['time-wide']);
  });

  it('is said with the figures: hours up to two days, then days; the lot that had expired', () => {
    const said = (change: Partial<HoldFacts>) => holdsOf({ ...GOOD, ...change }, HOLD_LIMITS).map((h) => h.sentence);
    expect([...said(wide(47.4)), ...said(wide(48)), ...said(wide(80))]).toEqual([
      'Its time is known only within 47 hours; the limit here is 24 hours',
      'Its time is known only within 2 days; the limit here is 24 hours',
      'Its time is known only within 3 days; the limit here is 24 hours',
    ]);
    expect(said({ lotState: 'expired' })).toEqual(['Strip lot 4471903 had expired when this test was made']);
  });

  it('is only what contradicts itself, where nobody is registered', () => {
    const { whose: _, ...nobody } = GOOD;
    const bad = { ...nobody, ...inr('>8.0'), ...wide(999), lotState: 'expired' as const };
    expect(holdsOf(bad, HOLD_LIMITS)).toEqual([]);
    expect(holdsOf({ ...bad, flags: ['conflict'] }, HOLD_LIMITS).map((h) => h.code)).toEqual(['conflict']);
  });

  it('asks of a control test neither whose it is nor about its value', () => {
    const all = {
      kind: 'control' as const,
      whose: { kind: 'nobody' as const },
      ...inr('>8.0'),
      lotState: 'expired' as const,
    };
    expect(codes(all)).toEqual([]);
    expect(codes({ ...all, ...wide(99) })).toEqual(['time-wide']);
  });
});

const SEED = seedOr(20260301);
it(`what is wrong keeps a reading waiting, whatever else is wrong with it (SEED=${SEED})`, () => {
  // One thing wrong of each kind, or nothing.
  const wrong: readonly (readonly Partial<HoldFacts>[])[] = [
    [{ flags: ['conflict'] }, { flags: ['single-read', 'value-unreadable'] }, { flags: ['lo'] }],
    [{ whose: { kind: 'unknown', sentence: 'x' } }, { whose: { kind: 'doubtful', sentence: 'x' } }],
    [wide(25), { placement: { basis: 'displayed', reason: '', flags: [] } }],
    [inr('>9.0'), inr('16'), inr('0.3'), inr('5.9')],
    [{ disagreement: 'x' }],
    [{ lotState: 'expired' }, { lotState: 'unknown' }],
    [{ outOfControl: 'x' }],
  ];
  const some = fc.tuple(...wrong.map((kind) => fc.constantFrom({}, ...kind)));
  fc.assert(
    fc.property(some, (facts) => {
      const found = holdsOf(Object.assign({}, GOOD, ...facts), HOLD_LIMITS);
      const alone = facts.flatMap((one) => holdsOf({ ...GOOD, ...one }, HOLD_LIMITS));
      expect(new Set(found)).toEqual(new Set(alone));
      expect(found).toHaveLength(alone.length);
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
