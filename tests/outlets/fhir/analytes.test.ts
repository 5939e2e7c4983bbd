/** The catalogue of codes, and the rules that FHIR and HL7 share. */
import { describe, expect, it } from 'vitest';
import { ANALYTES, codesOf, shownNumber, targetValueIndex } from '../../../src/outlets/analytes.ts';
import { whenOf } from '../../../src/outlets/when.ts';
import { at } from './readings.ts';

const rows = [...ANALYTES].flatMap(([short, { codes }]) => codes.map((code) => ({ short, ...code })));

/** The check digit of a LOINC code: mod 10 from the right, every second digit doubled (LOINC Users' Guide; from memory). */
function checkDigit(body: string): number {
  const sum = [...body]
    .reverse()
    .map((digit, i) => Number(digit) * (i % 2 === 0 ? 2 : 1))
    .reduce((total, n) => total + Math.floor(n / 10) + (n % 10), 0);
  return (10 - (sum % 10)) % 10;
}

describe('the catalogue', () => {
  it('the check sees a slip of one digit and an exchange of two', () => {
    expect([checkDigit('46418'), checkDigit('46428') === 0, checkDigit('46481') === 0]).toEqual([0, false, false]);
  });

  it.each(rows)('$short has a LOINC code whose check digit is right: $loinc', ({ loinc }) => {
    const [body = '', digit] = loinc.split('-');
    expect(String(checkDigit(body))).toBe(digit);
  });

  it('no unit of one analyte has two codes, and no code stands twice', () => {
    const units = rows.flatMap(({ short, units: of }) => of.map((unit) => `${short} ${unit}`));
    expect(new Set(units).size).toBe(units.length);
    expect(new Set(rows.map(({ loinc }) => loinc)).size).toBe(rows.length);
  });

  it('a value without a unit is clear only where there is one unit', () => {
    expect(codesOf({ analyte: 'INR', unit: '' })).toMatchObject({ code: { loinc: '46418-0' }, ucum: '{INR}' });
    for (const analyte of ['GLU', 'PT', 'HBA1C', 'CHOL'])
      expect(codesOf({ analyte, unit: '' })).not.toHaveProperty('code');
  });

  it('an analyte that is not listed keeps the name that the meter gave it', () => {
    expect(codesOf({ analyte: 'XYZ', unit: 'zz' })).toEqual({ name: 'XYZ' });
  });

  it('a unit of UCUM is one also where there is no code for what was measured', () => {
    expect(codesOf({ analyte: 'CHOL', unit: 'mg/dL' })).toEqual({ name: 'Total cholesterol', ucum: 'mg/dL' });
    expect(codesOf({ analyte: 'XYZ', unit: 's' })).toEqual({ name: 'XYZ', ucum: 's' });
    // Never the other way round: INR has no code in mg/dL, and what is no unit of UCUM stays text.
    expect(codesOf({ analyte: 'INR', unit: 'mg/dL' })).toEqual({ name: 'INR', ucum: 'mg/dL' });
    expect(codesOf({ analyte: 'GLU', unit: 'mg%' })).toEqual({ name: 'Glucose' });
  });
});

describe('numbers', () => {
  it.each([
    ['2.50', { digits: '2.50' }],
    ['<0.8', { digits: '0.8', beyond: '<' }],
    ['> 8', { digits: '8', beyond: '>' }],
    ['007.0', { digits: '7.0' }],
    ['0', { digits: '0' }],
    ['-1.5', { digits: '-1.5' }],
    ['+1.5', { digits: '1.5' }],
  ])('%s is a number', (text, number) => {
    expect(shownNumber(text)).toEqual(number);
    expect(JSON.parse(number.digits)).toBe(Number(number.digits));
  });

  it.each(['', 'HI', '1e5', '.5', '5.', '12,5', '<', '1 2', '--1', '0x10', 'NaN'])('%j is none', (text) => {
    expect(shownNumber(text)).toBeUndefined();
  });

  it('the target is for the INR wherever it stands, else for the first value', () => {
    const value = (analyte: string) => ({ analyte, value: '1', unit: '' });
    expect(targetValueIndex([value('PT'), value('INR')])).toBe(1);
    expect(targetValueIndex([value('GLU'), value('KET')])).toBe(0);
  });
});

describe('how sure a time is', () => {
  const noon = at('2026-03-02T12:00:00Z');
  const around = (minutes: number) => ({
    earliest: at('2026-03-02T11:58:00Z'),
    latest: at(`2026-03-02T12:${String(minutes).padStart(2, '0')}:00Z`),
  });
  const placed = (parts: object) => whenOf({ basis: 'anchored', reason: '', flags: [], ...parts }).kind;

  it('ten minutes between the bounds are still a point, a second more is a span', () => {
    expect(placed({ takenAt: noon, ...around(8) })).toBe('point');
    expect(placed({ takenAt: noon, earliest: at('2026-03-02T11:57:59Z'), latest: at('2026-03-02T12:08:00Z') })).toBe(
      'span',
    );
  });

  it('a bounded time is never a point', () => {
    expect([
      placed({ basis: 'bounded', takenAt: noon, ...around(0) }),
      placed({ basis: 'bounded', takenAt: noon }),
    ]).toEqual(['span', 'unknown']);
  });

  it('nothing known is unknown', () => {
    expect([whenOf(undefined).kind, placed({})]).toEqual(['unknown', 'unknown']);
  });
});
