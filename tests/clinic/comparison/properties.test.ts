/** What holds of the judgement of pairs whatever their values. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decisionAgreement } from '../../../src/clinic/comparison/decision-disagreement.ts';
import { differenceBands } from '../../../src/clinic/comparison/difference-bands.ts';
import { INR_REPORT_BANDS } from '../../../src/clinic/rules/comparison-habits.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const SEED = seedOr(20260302);
const options = { seed: SEED, numRuns: runsOr(1000) };
const tenths = fc.integer({ min: 5, max: 80 });

describe(`whether a decision would have differed (SEED=${SEED})`, () => {
  const shown = fc.record({ tenths, beyond: fc.constantFrom(undefined, undefined, '<', '>') }).map((v) => ({
    value: v.tenths / 10,
    ...(v.beyond && { beyond: v.beyond as '<' | '>' }),
  }));
  const range = fc
    .tuple(tenths, fc.integer({ min: 0, max: 15 }))
    .map(([low, wide]) => ({ low: low / 10, high: (low + wide) / 10 }));
  /** Values that a shown one may truly be: itself, or what lies beyond it near and far. */
  const truths = ({ value, beyond }: { value: number; beyond?: '<' | '>' }) => {
    const away = [0.01, 0.1, 0.5, 1, 3, 20];
    if (!beyond) return [value];
    return away.map((d) => (beyond === '>' ? value + d : value - d)).filter((v) => v > 0);
  };

  it('is the same whichever of the two is the laboratory', () => {
    fc.assert(
      fc.property(shown, shown, range, (a, b, target) => {
        expect(decisionAgreement(a, b, target, 1)).toBe(decisionAgreement(b, a, target, 1));
      }),
      options,
    );
  });

  it('is said only where it holds of all that the values may truly be', () => {
    fc.assert(
      fc.property(shown, shown, range, (a, b, target) => {
        const said = decisionAgreement(a, b, target, 1);
        if (said === 'unknown') expect([a.beyond, b.beyond]).not.toEqual([undefined, undefined]);
        const isIn = (v: number) => target.low <= v && v <= target.high;
        for (const x of truths(a))
          for (const y of truths(b)) {
            if (said === 'one in, one out') expect(isIn(x)).not.toBe(isIn(y));
            if (said === 'both out and apart') {
              expect([isIn(x), isIn(y)]).toEqual([false, false]);
              expect(Math.abs(Math.round(x * 1e6) - Math.round(y * 1e6))).toBeGreaterThanOrEqual(1e6);
            }
            if (said === 'agree') expect(isIn(x)).toBe(isIn(y));
          }
      }),
      options,
    );
  });
});

describe(`differences by stretch of the laboratory's values (SEED=${SEED})`, () => {
  it('count every pair of the stretches once, and have mean and median between the least and the greatest', () => {
    const pairs = fc.array(
      fc.record({ x: tenths, y: tenths }).map(({ x, y }) => ({ x: x / 10, y: y / 10 })),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(pairs, (list) => {
        const bands = differenceBands(list, INR_REPORT_BANDS.value, 3);
        const within = list.filter(({ x }) =>
          bands.some(({ span }) => (span.from ?? span.over ?? 0) <= x && x <= (span.to ?? span.below ?? 99)),
        );
        expect(bands.reduce((sum, band) => sum + band.pairs, 0)).toBe(within.length);
        for (const band of bands) {
          expect(band.least === undefined).toBe(band.pairs === 0);
          expect(band.mean === undefined).toBe(band.pairs < 3);
          if (band.mean === undefined) continue;
          for (const figure of [band.mean, band.median ?? Number.NaN]) {
            expect(figure).toBeGreaterThanOrEqual((band.least ?? 0) - 1e-9);
            expect(figure).toBeLessThanOrEqual((band.greatest ?? 0) + 1e-9);
          }
        }
      }),
      options,
    );
  });
});
