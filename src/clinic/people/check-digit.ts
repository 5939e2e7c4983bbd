/**
 * Check digits of patient ids: they find a digit keyed wrongly and two digits exchanged. Which scheme a clinic's ids
 * follow is a setting; without one, an id keyed into a meter only proposes a person.
 */

/** `luhn`: ISO/IEC 7812-1 annex B; `mod11-10` and `mod97-10`: ISO/IEC 7064. All over the digits of the id, last digit (or last two) the check. */
export type CheckScheme = 'none' | 'luhn' | 'mod11-10' | 'mod97-10';

/** The digits of an id, letters and punctuation left out. */
const digitsOf = (id: string): number[] => [...id].filter((c) => c >= '0' && c <= '9').map(Number);

/** Luhn's sum: from the right, every second digit doubled, its digits added; the total ends with 0. */
function luhn(digits: readonly number[]): boolean {
  const sum = [...digits].reverse().reduce((total, digit, i) => {
    const doubled = i % 2 === 1 ? digit * 2 : digit;
    return total + (doubled > 9 ? doubled - 9 : doubled);
  }, 0);
  return sum % 10 === 0;
}

/** ISO/IEC 7064 hybrid system MOD 11,10: P starts at 10; the whole string, check digit added, is 1 modulo 10. */
function mod11of10(digits: readonly number[]): boolean {
  const check = digits.at(-1) ?? 0;
  const product = digits.slice(0, -1).reduce((p, digit) => {
    const sum = (p + digit) % 10;
    return ((sum === 0 ? 10 : sum) * 2) % 11;
  }, 10);
  return (product + check) % 10 === 1;
}

/** ISO/IEC 7064 MOD 97-10: the whole number is 1 modulo 97. */
const mod97of10 = (digits: readonly number[]): boolean =>
  digits.reduce((rest, digit) => (rest * 10 + digit) % 97, 0) === 1;

/** The fewest digits of an id in which a check digit can guard anything. */
const FEWEST: Readonly<Record<Exclude<CheckScheme, 'none'>, number>> = { luhn: 2, 'mod11-10': 2, 'mod97-10': 3 };

/** Whether an id passes its check. Never under `none`: there is nothing to pass. */
export function passesCheck(id: string, scheme: CheckScheme): boolean {
  if (scheme === 'none') return false;
  const digits = digitsOf(id);
  if (digits.length < FEWEST[scheme]) return false;
  switch (scheme) {
    case 'luhn':
      return luhn(digits);
    case 'mod11-10':
      return mod11of10(digits);
    case 'mod97-10':
      return mod97of10(digits);
  }
}
