/** The pictures, settings and cautions of a comparison, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { blandAltman } from '../../../src/clinic/comparison/bland-altman.ts';
import { cautionsOf } from '../../../src/clinic/comparison/cautions.ts';
import { deming } from '../../../src/clinic/comparison/deming.ts';
import { type DrawnPair, differencePicture, regressionPicture } from '../../../src/clinic/comparison/pictures.ts';
import { usualSettings } from '../../../src/clinic/comparison/settings.ts';
import { INR_REPORT_BANDS, WHOLE_RANGE } from '../../../src/clinic/rules/comparison-habits.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { zip } from './values.ts';

const SEED = seedOr(20260302);
const drawn = (xs: readonly number[], ys: readonly number[]): DrawnPair[] =>
  zip(xs, ys).map((pair, i) => ({ ...pair, laboratoryId: `L${i}`, readingId: `R${i}`, isJudged: i > 0 }));

describe('the picture of differences', () => {
  const pairs = drawn([2, 4], [3, 3.5]);

  it('has a point for each pair and no line without figures', () => {
    expect(differencePicture(pairs, 'absolute', undefined)).toEqual({
      kind: 'absolute',
      points: [
        { laboratoryId: 'L0', readingId: 'R0', isJudged: false, mean: 2.5, difference: 1 },
        { laboratoryId: 'L1', readingId: 'R1', isJudged: true, mean: 3.75, difference: -0.5 },
      ],
      lines: [],
    });
    expect(differencePicture(pairs, 'percent', undefined).points[0]).toMatchObject({ mean: 2.5, difference: 40 });
  });

  it('has the bias and both limits between their own limits, and nothing else of them', () => {
    const figures = blandAltman(pairs, 'absolute');
    const { lines } = differencePicture(pairs, 'absolute', figures);
    expect(lines.map(({ name, at }) => [name, at])).toEqual(
      (
        [
          ['bias', figures.bias],
          ['lower limit', figures.lowerLimit],
          ['upper limit', figures.upperLimit],
        ] as const
      ).map(([name, { value, low, high }]) => [name, { value, low, high }]),
    );
    expect(Object.keys(lines[0]?.at ?? {})).toEqual(['value', 'low', 'high']);
    expect(lines[0]?.at.value).toBeCloseTo(0.25, 12);
  });
});

describe('the picture of the lines', () => {
  it('has the line of equal values first, each from the least to the greatest laboratory value', () => {
    const pairs = drawn([4, 2, 3], [3, 3.5, 2]);
    expect(regressionPicture(pairs, [{ name: 'fit', slope: 0.5, intercept: 1 }])).toEqual({
      points: pairs,
      lines: [
        { name: 'equal', from: { x: 2, y: 2 }, to: { x: 4, y: 4 } },
        { name: 'fit', from: { x: 2, y: 2 }, to: { x: 4, y: 3 } },
      ],
    });
  });

  it('is empty without pairs', () => {
    expect(regressionPicture([], [{ name: 'fit', slope: 1, intercept: 0 }])).toEqual({ points: [], lines: [] });
  });

  it(`keeps every line on its slope and every pair between the ends (SEED=${SEED})`, () => {
    const value = fc.integer({ min: 8, max: 80 }).map((n) => n / 10);
    fc.assert(
      fc.property(fc.array(fc.tuple(value, value), { minLength: 2 }), value, (values, slope) => {
        const pairs = drawn(
          values.map(([x]) => x),
          values.map(([, y]) => y),
        );
        const [, line] = regressionPicture(pairs, [{ name: 'fit', slope, intercept: -1 }]).lines;
        if (!line) throw new Error('no line');
        for (const { x } of pairs) expect(x >= line.from.x && x <= line.to.x).toBe(true);
        expect(line.to.y - line.from.y).toBeCloseTo(slope * (line.to.x - line.from.x), 9);
      }),
      { seed: SEED, numRuns: runsOr(100) },
    );
  });
});

describe('the usual settings', () => {
  it('are those of the house for INR', () => {
    const inr = usualSettings('INR', '{INR}');
    expect(inr).toMatchObject({
      withinHours: { value: 4 },
      judge: 'sure',
      fewestPairs: { value: 10 },
      enoughPairs: { value: 40 },
      errorRatio: { value: 1 },
      confidence: { value: 0.95 },
      outAndApart: { value: 0.5 },
    });
    expect(inr.bands).toBe(INR_REPORT_BANDS);
    expect(inr.rules.length).toBeGreaterThan(0);
  });

  it('of another analyte look at all values together, and at no disagreement over a range', () => {
    const glucose = usualSettings('GLU', 'mg/dL');
    expect(glucose.bands).toBe(WHOLE_RANGE);
    expect(glucose).not.toHaveProperty('outAndApart');
  });
});

describe('the cautions', () => {
  const settings = usualSettings('INR', '{INR}');
  const counts = (judged: number, more = {}) => ({
    ...{ laboratory: judged, readings: judged, alone: 0, paired: judged, surely: judged, possibly: 0, offScale: 0 },
    ...{ judged, people: judged, ...more },
  });
  const laid = (verdict: string) => ({ linearity: { verdict } }) as unknown as Parameters<typeof cautionsOf>[2];
  const said = (...[c, s, f]: Parameters<typeof cautionsOf>) => cautionsOf(c, s, f).map(({ sentence }) => sentence);
  const codes = (...[c, s, f]: Parameters<typeof cautionsOf>) => cautionsOf(c, s, f).map(({ code }) => code);

  it('speak of too few pairs under ten, and of few under forty', () => {
    expect(codes(counts(9), settings, laid('straight'))).toEqual(['too-few-pairs']);
    expect(codes(counts(10), settings, laid('straight'))).toEqual(['few-pairs']);
    expect(codes(counts(40), settings, laid('straight'))).toEqual([]);
    expect(said(counts(1), settings, undefined)[0]).toMatch(/^1 pair: under 10 only/);
  });

  it('say why there is no line, and that one bends, also where that is only doubtful', () => {
    expect(said(counts(5000), settings, undefined)).toEqual([
      'No line of Passing and Bablok: the values do not rise together',
    ]);
    expect(said(counts(5001), settings, undefined)).toEqual([
      "Passing and Bablok's line is laid through at most 5000 pairs: choose a shorter period",
    ]);
    expect(['straight', 'doubtful', 'bends'].map((verdict) => codes(counts(40), settings, laid(verdict)))).toEqual([
      [],
      ['bends'],
      ['bends'],
    ]);
  });

  it('say of how many people the pairs are, and whether pairs of unsure times were reckoned with', () => {
    expect(said(counts(40, { people: 1 }), settings, laid('straight'))[0]).toMatch(/^40 pairs of 1 person: /);
    expect(said(counts(40, { people: 2 }), settings, laid('straight'))[0]).toMatch(/^40 pairs of 2 people: /);
    const unsure = counts(40, { possibly: 3 });
    expect(said(unsure, settings, laid('straight'))[0]).toMatch(/shown and not reckoned with$/);
    expect(said(unsure, { ...settings, judge: 'possible' }, laid('straight'))[0]).toMatch(/enough: reckoned with$/);
  });
});

it('lays the line of Deming through three pairs, and through no fewer', () => {
  const three = deming(zip([1, 2, 3], [2, 4, 6]));
  expect(three?.slope.value).toBeCloseTo(2, 12);
  expect(three?.intercept.value).toBeCloseTo(0, 12);
  expect(deming(zip([1, 2], [2, 4]))).toBeUndefined();
});
