/**
 * INR = (PT / MNPT)^ISI. Example: PT 15 s, MNPT 12 s, ISI 1.1 gives 1.2782 (computed outside this program). Whether
 * intervals meet is decided a second way in whole numbers where ISI is a whole number: then the power is exact.
 */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { inrFitsPt } from '../../src/clinic/lots/inr-fit.ts';
import { runsOr, seedOr } from '../support/seed.ts';

it('gives the example', () => {
  const fit = inrFitsPt({ inr: '1.2782', pt: '15.00000000', isi: '1.10000000', mnpt: '12.00000000' });
  expect(fit.kind).toBe('fits');
  expect(fit.kind !== 'not-checkable' && fit.expected.low).toBeCloseTo(1.2782, 4);
  expect(inrFitsPt({ inr: '1.2780', pt: '15.00000000', isi: '1.10000000', mnpt: '12.00000000' }).kind).toBe(
    'does-not-fit',
  );
});

const seed = seedOr(513);
it(`decides as exact fractions do, for exact figures and ISI 1 (SEED=${seed})`, () => {
  // ISI '1.' with many zeros leaves no rounding worth speaking of; PT and MNPT in tenths of a second, INR in tenths.
  const isi = `1.${'0'.repeat(17)}`;
  fc.assert(
    fc.property(
      fc.integer({ min: 80, max: 1500 }),
      fc.integer({ min: 100, max: 140 }),
      fc.integer({ min: -2, max: 2 }),
      (pt, mnpt, off) => {
        const inr = Math.max(1, Math.round((10 * pt) / mnpt) + off);
        const text = (tenths: number): string => `${Math.floor(tenths / 10)}.${tenths % 10}`;
        // In twentieths: shown x means (2x − 1 … 2x + 1) / 20. Meets: (2i − 1)/20 ≤ (2p + 1)/(2m − 1) and the other way.
        const meets =
          (2 * inr - 1) * (2 * mnpt - 1) <= 20 * (2 * pt + 1) && 20 * (2 * pt - 1) <= (2 * inr + 1) * (2 * mnpt + 1);
        const fit = inrFitsPt({ inr: text(inr), pt: text(pt), isi, mnpt: text(mnpt) });
        expect(fit.kind).toBe(meets ? 'fits' : 'does-not-fit');
      },
    ),
    { seed, numRuns: runsOr(2000) },
  );
});
