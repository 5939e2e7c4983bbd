/** Whether the meter's value and the laboratory's would have been judged alike against the target range. */
import { describe, expect, it } from 'vitest';
import { decisionAgreement } from '../../../src/clinic/comparison/decision-disagreement.ts';

const TARGET = { low: 2, high: 3 };
const shown = (text: string) => {
  const [, beyond, value] = /^([<>]?)(.*)$/.exec(text) ?? [];
  return { value: Number(value), ...(beyond === '<' || beyond === '>' ? { beyond: beyond as '<' | '>' } : {}) };
};

describe('against a target of 2.0 to 3.0, laboratory and meter', () => {
  it.each([
    ['2.0', '3.0', 'agree'], // limits are inclusive
    ['1.9', '2.0', 'one in, one out'],
    ['3.0', '3.1', 'one in, one out'],
    ['3.1', '3.5', 'agree'],
    ['3.1', '3.6', 'both out and apart'], // 0.5 apart, though not in binary
    ['1.9', '1.4', 'both out and apart'],
    ['1.8', '3.2', 'both out and apart'], // below and above
    ['>8.0', '2.5', 'one in, one out'],
    ['>8.0', '7.4', 'both out and apart'],
    ['>8.0', '7.9', 'unknown'], // at least 0.1, perhaps more
    ['>8.0', '9.0', 'unknown'],
    ['7.0', '<8.0', 'unknown'], // it may be anywhere below
    ['>2.5', '2.5', 'unknown'], // in or above
    ['<0.8', '1.9', 'both out and apart'],
    ['<0.8', '>8.0', 'both out and apart'],
    ['<2.0', '2.5', 'one in, one out'], // less than the lower limit
  ])('%s and %s: %s', (laboratory, reading, expected) => {
    expect(decisionAgreement(shown(laboratory), shown(reading), TARGET, 0.5)).toBe(expected);
    expect(decisionAgreement(shown(reading), shown(laboratory), TARGET, 0.5)).toBe(expected);
  });

  it('takes another distance where a clinic sets one', () => {
    expect(decisionAgreement(shown('3.1'), shown('3.5'), TARGET, 0.4)).toBe('both out and apart');
  });

  it('says so where no target is known', () => {
    expect(decisionAgreement(shown('2.5'), shown('2.5'), undefined, 0.5)).toBe('no target');
  });
});
