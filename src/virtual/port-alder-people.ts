/**
 * The people of Port Alder's anticoagulation clinic, none of whom exists: 40 who test at home with a lent meter, two
 * whose meters went on to others in mid-year, and 18 who come to the clinic to be tested.
 */
import type { Chance } from './chance.ts';

/** A person of the clinic. */
export interface Townsperson {
  /** The clinic's id; its last digit is the check digit. */
  readonly id: string;
  readonly name: string;
  readonly birthYear: number;
  readonly reason: string;
  /** A test is planned every so many days. */
  readonly planDays: number;
  readonly low: string;
  readonly high: string;
  /** Around what the INR wanders, and how much at each test. */
  readonly usual: number;
  readonly unrest: number;
}

const SURNAMES =
  'Penrose Trevanion Carlyon Bolitho Tregear Nancarrow Polglase Rosewarne Trembath Chenoweth Penhale Kitto Angove Trewin Hocking Pascoe Curnow Tresidder Bosanko Lanyon Pengelly Rosevear Trelease Skewes Vingoe Tangye Moyle Jago Hosking Gluyas'.split(
    ' ',
  );
const INITIALS = 'ABCDEFGHJKLMNPRSTW';
const REASONS = ['atrial fibrillation', 'atrial fibrillation', 'venous thrombosis', 'pulmonary embolism'] as const;

/** The digit that makes these digits pass ISO/IEC 7064 MOD 11,10. */
function checkDigit(digits: string): string {
  let product = 10;
  for (const digit of digits) {
    const sum = (product + Number(digit)) % 10 || 10;
    product = (sum * 2) % 11;
  }
  return String((11 - product) % 10);
}

/** The id of the person of this number, from 1: `PA-` and five digits, the last of them the check digit. */
export function townsId(number: number): string {
  const digits = String(1000 + number);
  return `PA-${digits}${checkDigit(digits)}`;
}

/** `count` people; every fifth has a mechanical valve and a higher target, every ninth is unstable. */
export function townspeople(chance: Chance, count: number): Townsperson[] {
  return Array.from({ length: count }, (_, i) => {
    const hasValve = i % 5 === 3;
    return {
      id: townsId(i + 1),
      name: `${INITIALS[chance.whole(0, INITIALS.length - 1)]}. ${SURNAMES[i % SURNAMES.length]}`,
      birthYear: chance.whole(1934, 1975),
      reason: hasValve ? 'mechanical mitral valve' : chance.pick(REASONS),
      planDays: i < 42 ? 7 : 28,
      low: hasValve ? '2.5' : '2.0',
      high: hasValve ? '3.5' : '3.0',
      usual: (hasValve ? 3 : 2.5) * chance.between(0.94, 1.06),
      unrest: i % 9 === 8 ? 0.3 : 0.11,
    };
  });
}
