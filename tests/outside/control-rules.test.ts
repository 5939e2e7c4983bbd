/**
 * The control rules a second way. No published worked example could be read, so the definitions of the paper (Westgard,
 * Barry, Hunt & Groth, Clin Chem 1981;27:493, table as given in PMC3909142) are written once more as patterns over
 * letters: each value is the letter of the band in which it lies, capital above the mean and small below, and a rule is
 * a pattern at the end of the word. All values are whole numbers, so that limits are met exactly.
 */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { judgeControls } from '../../src/clinic/controls/assess.ts';
import type { ControlLevel } from '../../src/clinic/controls/level.ts';
import { MULTIRULE } from '../../src/clinic/rules/multirule.ts';
import { instant } from '../../src/core/instant.ts';
import { seedOr } from '../support/seed.ts';

const LEVELS: readonly ControlLevel[] = ['1', '2'].map((level) => ({
  lot: 'K',
  level,
  analyte: 'INR',
  kind: 'liquid',
  limits: { mean: 100, sd: 4 },
}));

/** `o`: on the mean; `A`: up to 1 s above, `B`: up to 2 s, `C`: up to 3 s, `D`: beyond; small letters below. */
function letter(quarters: number): string {
  if (quarters === 0) return 'o';
  const size = Math.abs(quarters);
  const band = size <= 4 ? 'A' : size <= 8 ? 'B' : size <= 12 ? 'C' : 'D';
  return quarters > 0 ? band : band.toLowerCase();
}

const PATTERNS: Readonly<Record<string, RegExp>> = {
  '1-2s': /[CDcd]$/,
  '1-3s': /[Dd]$/,
  '2-2s': /([CD]{2}|[cd]{2})$/,
  '4-1s': /([BCD]{4}|[bcd]{4})$/,
  '10-x': /([A-D]{10}|[a-d]{10})$/,
};
const RANGE = /[CD].*[cd]$|[cd].*[CD]$/;

/** Days of two levels each, in quarters of a standard deviation; sides persist, so that the long rules get their turn. */
const quarters = fc
  .tuple(fc.array(fc.tuple(fc.integer({ min: 0, max: 14 }), fc.nat(9)), { minLength: 2, maxLength: 40 }), fc.boolean())
  .map(([steps, isAbove]) => {
    let side = isAbove ? 1 : -1;
    return steps.map(([size, turn]) => {
      if (turn === 0) side = -side;
      return side * size;
    });
  });

const seed = seedOr(512);
it(`speaks exactly where the patterns of the paper do (SEED=${seed})`, () => {
  const spoken = new Set<string>();
  fc.assert(
    fc.property(quarters, (zs) => {
      const judged = judgeControls(
        zs.map((z, i) => ({
          id: `${i}`,
          meter: 'M',
          analyte: 'INR',
          controlLot: 'K',
          level: `${(i % 2) + 1}`,
          value: 100 + z,
          time: { at: instant(Math.floor(i / 2) * 86_400_000 + (i % 2) * 60_000) },
        })),
        LEVELS,
        { rules: MULTIRULE, runMinutes: 60, localDate: (at) => new Date(at).toISOString().slice(0, 10) },
      );
      const word = zs.map(letter);
      for (const [i, one] of judged.entries()) {
        const all = word.slice(0, i + 1).join('');
        const own = word
          .slice(0, i + 1)
          .filter((_, k) => k % 2 === i % 2)
          .join('');
        const run = word.slice(i - (i % 2), i + 1).join('');
        const wanted = Object.entries(PATTERNS).flatMap(([rule, p]) => (p.test(all) || p.test(own) ? [rule] : []));
        if (RANGE.test(run)) wanted.push('R-4s');
        const got = one.fired.map((f) => f.rule);
        expect(got.toSorted()).toEqual(wanted.toSorted());
        expect(one.outcome).toBe(wanted.some((r) => r !== '1-2s') ? 'reject' : wanted.length > 0 ? 'warn' : 'accept');
        for (const rule of got) spoken.add(rule);
      }
    }),
    { seed, numRuns: 400 },
  );
  expect([...spoken].sort()).toEqual(['1-2s', '1-3s', '10-x', '2-2s', '4-1s', 'R-4s']);
});
