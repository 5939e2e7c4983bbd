/**
 * Check digits against published examples.
 * Luhn: 7992739871 with check digit 3, the worked example of ISO/IEC 7812-1 texts.
 * MOD 11,10: 0794 with 5, the example of ISO/IEC 7064; 86095742719, the example of the German tax identification number,
 * which uses this system. MOD 97-10: 794 with 44, the example of ISO/IEC 7064. All from memory.
 */
import { expect, it } from 'vitest';
import { passesCheck } from '../../src/clinic/people/check-digit.ts';

it.each([
  ['luhn', '79927398713', '79927398710'],
  ['mod11-10', '07945', '07954'],
  ['mod11-10', '86095742719', '86095742791'],
  ['mod97-10', '79444', '79744'],
] as const)('%s accepts %s and refuses %s', (scheme, right, wrong) => {
  expect(passesCheck(right, scheme)).toBe(true);
  expect(passesCheck(wrong, scheme)).toBe(false);
});
