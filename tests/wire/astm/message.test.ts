/** What records mean, by the generic profile and by others. */
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../../src/core/reading.ts';
import { decodeAstm } from '../../../src/wire/astm/decode.ts';
import { type MeterProfile, parseProfile } from '../../../src/wire/profile.ts';
import { captureOf, END, HEADER, NEWEST, only, testsOf, transfer } from './told.ts';

/** The tests that a message with these records between header and end tells. */
const told = (records: readonly string[], profile: MeterProfile = NEWEST): TestRecord[] =>
  testsOf(only(decodeAstm(captureOf(transfer([HEADER, ...records, END])), profile)));
function one(records: readonly string[], profile?: MeterProfile): TestRecord {
  const [test, ...more] = told(records, profile);
  if (!test || more.length > 0) throw new Error(`${more.length + 1} tests`);
  return test;
}
const profileWith = (more: object): MeterProfile =>
  parseProfile(JSON.stringify({ name: 'gm', protocol: 'astm', memory: { order: 'newest' }, ...more }), 'gm.json');

const ORDER = 'O|1||1^77|^^^INR';
const RESULT = 'R|1|^^^INR|2.6|{INR}||||F||MB^JD||20260301090000';

describe('a test by the generic profile', () => {
  it('is one order with its results, the patient above it and the strip behind it', () => {
    const records = [
      'P|1|PA-7|LAB-9',
      ORDER,
      RESULT,
      'R|2|^^^PT|29.9|s||||F||||20260301090000',
      'M|1|strip^1200003^20270131',
    ];
    expect(one(records)).toEqual({
      place: '1',
      slot: 1,
      runNumber: 77,
      meterTimeText: '2026-03-01T09:00:00',
      meterTime: { text: '2026-03-01T09:00:00', wall: Date.UTC(2026, 2, 1, 9), resolutionMs: 1000 },
      kind: 'patient',
      values: [
        { analyte: 'INR', value: '2.6', unit: '{INR}' },
        { analyte: 'PT', value: '29.9', unit: 's' },
      ],
      lot: '1200003',
      lotExpiry: '2027-01-31',
      operator: 'MB',
      patientId: 'PA-7',
      flags: ['single-read'],
      extra: { 'R.11': 'MB^JD' },
    });
  });

  it('takes P.4 where P.3 is empty, and R.12 where R.13 is', () => {
    const test = one(['P|1||LAB-9', ORDER, 'R|1|^^^INR|2.6|{INR}||||F|||202603010900']);
    expect(test.patientId).toBe('LAB-9');
    expect(test.meterTime).toMatchObject({ text: '2026-03-01T09:00', resolutionMs: 60_000 });
  });

  it('takes the time from the first result that has one', () => {
    const test = one([ORDER, 'R|1|^^^INR|2.6|{INR}||||F', 'R|2|^^^PT|29.9|s||||F||||20260301090000']);
    expect(test.meterTimeText).toBe('2026-03-01T09:00:00');
  });

  it('is a control test where O.12 is Q', () => {
    expect(one(['O|1||1|^^^INR|||||||Q', RESULT]).kind).toBe('control');
    expect(one(['O|1||1|^^^INR|||||||N', RESULT]).kind).toBe('patient');
  });

  it('belongs to the patient above it, not to one that follows or went before another', () => {
    const tests = told(['P|1|PA-1', 'O|1||1|^^^INR', RESULT, 'P|2', 'O|1||2|^^^INR', RESULT, 'P|3|PA-3']);
    expect(tests.map(({ patientId }) => patientId).reverse()).toEqual(['PA-1', undefined]);
  });

  it('keeps abnormal flags as given and every status but F', () => {
    const test = one([ORDER, 'R|1|^^^INR|8.0|{INR}||>\\HH||W', 'R|2|^^^PT|92|s||HH||F']);
    expect(test.flags).toEqual(['>', 'HH', 'status-W', 'single-read']);
    expect(test.values[0]?.value).toBe('8.0');
  });

  it.each(['2.6', '>8.0', '<0.8', '-1', '.5', '100', '2.60'])('takes %s for a value', (value) => {
    const test = one([ORDER, RESULT.replace('2.6', value)]);
    expect(test.values).toEqual([{ analyte: 'INR', value, unit: '{INR}' }]);
    expect(test.flags).not.toContain('value-unreadable');
  });

  it.each(['2,6', '2.6 INR', 'HIGH', '1e3', '>>8', '--', '2.', '2.6^x'])('keeps %s as text and flags it', (value) => {
    const test = one([ORDER, RESULT.replace('2.6', value)]);
    expect(test.values[0]?.value).toBe(value);
    expect(test.flags).toContain('value-unreadable');
  });

  it('guesses no value where the field is empty', () => {
    const test = one([ORDER, 'R|1|^^^INR||{INR}||||F||||20260301090000']);
    expect(test).toMatchObject({ kind: 'patient', values: [{ analyte: 'INR', value: '', unit: '{INR}' }] });
    expect(test.flags).toContain('value-unreadable');
  });

  it.each(['20260230090000', '20260301250000', '2026', '20260301090000+0100', 'yesterday'])(
    'keeps the time %s as text and flags it',
    (time) => {
      const test = one([ORDER, RESULT.replace('20260301090000', time)]);
      expect(test.meterTimeText).toBe(time);
      expect(test.meterTime).toBeUndefined();
      expect(test.flags).toContain('time-unreadable');
    },
  );

  it('has no time and no flag for it where the meter gives none: its clock was not set', () => {
    const test = one([ORDER, 'R|1|^^^INR|2.6|{INR}||||F']);
    expect(test.meterTimeText).toBe('');
    expect(test.flags).toEqual(['single-read']);
  });

  it.each([
    ['20270131', '2027-01-31'],
    ['202701', '2027-01'],
    ['20270131120000', '2027-01-31'],
  ])('reads the expiry %s', (given, expiry) => {
    expect(one([ORDER, RESULT, `M|1|strip^1^${given}`]).lotExpiry).toBe(expiry);
  });

  it('keeps an expiry that does not exist as it came', () => {
    const test = one([ORDER, RESULT, 'M|1|strip^1^20270231']);
    expect(test.lotExpiry).toBeUndefined();
    expect(test.extra).toEqual({ 'R.11': 'MB^JD', lotExpiry: '20270231' });
    expect(test.flags).toContain('expiry-unreadable');
  });

  it('keeps what the profile does not ask for, by field', () => {
    const test = one([
      'O|1|SP-3|1|^^^INR|R',
      'R|1|^^^INR|2.6|{INR}|2.0 to 3.0||N|F',
      'C|1|I|warm hand|G',
      'M|1|cell^4711',
    ]);
    expect(test.extra).toEqual({
      'O.3': 'SP-3',
      'O.6': 'R',
      'R.6': '2.0 to 3.0',
      'R.8': 'N',
      'C.3': 'I',
      'C.4': 'warm hand',
      'C.5': 'G',
      'M.3': 'cell^4711',
    });
  });

  it('takes an analyte that R.3 names otherwise as it stands', () => {
    expect(one([ORDER, 'R|1|INR|2.6']).values[0]?.analyte).toBe('INR');
    expect(one([ORDER, 'R|1|^^^constructor|2.6|toString']).values).toEqual([
      { analyte: 'constructor', value: '2.6', unit: 'toString' },
    ]);
  });

  it('has no slot where O.4 holds no whole number', () => {
    for (const slot of ['', 'A', '0', '-1', '1.5']) {
      const [test] = told([`O|1||${slot}|^^^INR`, RESULT]);
      expect(test?.slot, slot).toBeUndefined();
      expect(test?.place, slot).toBe('1');
    }
  });
});

describe('characters', () => {
  const named = (name: string, encoding: BufferEncoding, noise = ''): string | undefined => {
    const frames = transfer([HEADER, 'P|1|@', ORDER, RESULT, END]);
    const text = Buffer.from(frames).toString('latin1');
    const record = `2P|1|${Buffer.from(name, encoding).toString('latin1')}\r\x03`;
    let sum = 0;
    for (const ch of record) sum += ch.charCodeAt(0);
    const framed = `\x02${record}${(sum % 256).toString(16).toUpperCase().padStart(2, '0')}\r\n`;
    const start = text.indexOf('\x022');
    const end = text.indexOf('\n', start) + 1;
    const bytes = Buffer.from(noise + text.slice(0, start) + framed + text.slice(end), 'latin1');
    return testsOf(only(decodeAstm(captureOf(new Uint8Array(bytes)), NEWEST)))[0]?.patientId;
  };

  it('are UTF-8 or Latin-1, record by record, whatever noise there is elsewhere', () => {
    expect(named('Zo\u00eb', 'utf8')).toBe('Zo\u00eb');
    expect(named('Zo\u00eb', 'latin1')).toBe('Zo\u00eb');
    expect(named('Zo\u00eb', 'utf8', '\u00ff\u00fe')).toBe('Zo\u00eb');
  });
});

describe('a test that ended in an error', () => {
  it.each([
    ['status X and a code in place of the value', ['R|1|^^^INR|E-7|||||X'], 'E-7'],
    ['status X and an instrument comment', ['R|1|^^^INR||||||X', 'C|1|I|E-7^too little blood|I'], 'E-7'],
    ['status X and nothing else', ['R|1|^^^INR||||||X'], 'X'],
    ['no value and an instrument comment', ['R|1|^^^INR||||||F', 'C|1|I|E-7|I'], 'E-7'],
    ['status X and a number, which is no result', ['R|1|^^^INR|2.6|{INR}||||X'], 'X'],
  ])('is told by %s', (_what, records, errorCode) => {
    const test = one([ORDER, ...records]);
    expect(test).toMatchObject({ kind: 'error', values: [], errorCode });
  });

  it('is not told by a comment on a result that has a value', () => {
    expect(one([ORDER, RESULT, 'C|1|I|warm hand|I'])).toMatchObject({ kind: 'patient', values: [{ value: '2.6' }] });
  });

  it('keeps the values that could be made where others could not', () => {
    const test = one([ORDER, RESULT, 'R|2|^^^PT|E-7|||||X']);
    expect(test.values).toEqual([{ analyte: 'INR', value: '2.6', unit: '{INR}' }]);
    expect(test.kind).toBe('patient');
    expect(test.flags).toEqual(['status-X', 'value-missing', 'single-read']);
  });
});

describe('another profile', () => {
  it('finds facts elsewhere', () => {
    const profile = profileWith({
      fields: { operator: 'O.11', patientId: 'O.3', lot: 'M.reagent.3', lotExpiry: 'C.4.2', control: 'O.16.2=CTL' },
    });
    const records = ['O|1|PA-9|1|^^^INR||||||NN|||||X^CTL', RESULT, 'M|1|reagent^^L77', 'C|1|I|x^20270131'];
    expect(one(records, profile)).toMatchObject({
      kind: 'control',
      operator: 'NN',
      patientId: 'PA-9',
      lot: 'L77',
      lotExpiry: '2027-01-31',
    });
  });

  it('maps the meter’s names to ours', () => {
    const profile = profileWith({ analytes: { 'PT-INR': 'INR' }, units: { INR: '{INR}', '': '1' } });
    expect(one([ORDER, 'R|1|^^^PT-INR|2.6|INR', 'R|2|^^^XYZ|3'], profile).values).toEqual([
      { analyte: 'INR', value: '2.6', unit: '{INR}' },
      { analyte: 'XYZ', value: '3', unit: '1' },
    ]);
  });

  it('knows that stamps are coarser than they look', () => {
    const test = one([ORDER, RESULT], profileWith({ resolution: 'minutes' }));
    expect(test.meterTime).toMatchObject({ text: '2026-03-01T09:00:00', resolutionMs: 60_000 });
  });
});
