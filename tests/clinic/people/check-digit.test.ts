import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type CheckScheme, passesCheck } from '../../../src/clinic/people/check-digit.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const SEED = seedOr(20260301);
const SCHEMES = ['luhn', 'mod11-10', 'mod97-10'] as const;
const GOOD: Record<(typeof SCHEMES)[number], string> = {
  luhn: '79927398713',
  'mod11-10': 'ALDER-07945',
  'mod97-10': '79444',
};

describe('check digits', () => {
  it.each(SCHEMES)('%s finds every single digit that was keyed wrongly', (scheme) => {
    const id = GOOD[scheme];
    for (const [i, digit] of [...id].entries()) {
      if (digit < '0' || digit > '9') continue;
      for (let other = 0; other <= 9; other++)
        expect(passesCheck(`${id.slice(0, i)}${other}${id.slice(i + 1)}`, scheme), `${i} ${other}`).toBe(
          String(other) === digit,
        );
    }
  });

  it.each([
    ['luhn', 1],
    ['mod11-10', 1],
    ['mod97-10', 2],
  ] as const)(
    `%s: every id has one check of so many digits, whatever is between them (SEED=${SEED})`,
    (scheme, digits) => {
      const checks = Array.from({ length: 10 ** digits }, (_, n) => String(n).padStart(digits, '0'));
      fc.assert(
        fc.property(fc.stringMatching(/^[0-9]{1,12}$/), (id) => {
          const passing = checks.filter((check) => passesCheck(`${id}${check}`, scheme));
          // Of 97 remainders three have two ways to be written with two digits: 00 and 97, 01 and 98, 02 and 99.
          expect(passing.length).toBeGreaterThanOrEqual(1);
          expect(new Set(passing.map((check) => Number(check) % (digits === 2 ? 97 : 10))).size).toBe(1);
          for (const check of passing)
            expect(passesCheck(`PORT-${id.split('').join('-')}-${check}`, scheme)).toBe(true);
        }),
        { seed: SEED, numRuns: runsOr(300) },
      );
    },
  );

  it('mod97-10 finds every two neighbours exchanged', () => {
    const id = '1234567';
    const check = 98 - (Number(`${id}00`) % 97);
    const whole = `${id}${String(check).padStart(2, '0')}`;
    expect(passesCheck(whole, 'mod97-10')).toBe(true);
    for (let i = 0; i + 1 < whole.length; i++) {
      const swapped = `${whole.slice(0, i)}${whole[i + 1]}${whole[i]}${whole.slice(i + 2)}`;
      expect(passesCheck(swapped, 'mod97-10'), swapped).toBe(swapped === whole);
    }
  });

  it.each<[CheckScheme, string]>([
    // 8 + 2 · 1 = 10.
    ['luhn', '18'],
    // 6, then 2 · 8 = 16 by its digits 1 + 6, then 3 and 2 · 2: 20.
    ['luhn', '2386'],
  ])('%s counts from the right, so "%s" of an even number of digits passes', (scheme, id) => {
    expect(passesCheck(id, scheme)).toBe(true);
  });

  it.each<[CheckScheme, string]>([
    ['none', '79927398713'],
    ['luhn', ''],
    ['luhn', '0'],
    ['mod97-10', '01'],
    ['mod11-10', 'ALDER'],
  ])('under %s, "%s" passes nothing: there is nothing to pass', (scheme, id) => {
    expect(passesCheck(id, scheme)).toBe(false);
  });
});
