/** The whole comparison: what is judged, what is only shown, and what the reader is warned of. */
import { describe, expect, it } from 'vitest';
import { type ComparisonInput, compare } from '../../../src/clinic/comparison/compare.ts';
import type { PersonValue } from '../../../src/clinic/comparison/pairing.ts';
import { PAIR_WITHIN_HOURS } from '../../../src/clinic/rules/comparison-habits.ts';
import { valueAt } from './values.ts';

const DAY = 24 * 60;
/** One pair a day, each of another person: laboratory 1.5, 1.6, … and a meter that shows 0.1 more or less in turns. */
const series = (count: number, each: (i: number) => Parameters<typeof valueAt>[3] = () => ({})) => {
  const laboratory: PersonValue[] = [];
  const readings: PersonValue[] = [];
  for (let i = 0; i < count; i++) {
    const patient = `P${i}`;
    const value = (15 + (i % 35)) / 10;
    laboratory.push(valueAt(`L${i}`, i * DAY, value, { patient }));
    readings.push(valueAt(`R${i}`, i * DAY + 20, (15 + (i % 35) + (i % 2 ? 1 : -1)) / 10, { patient, ...each(i) }));
  }
  return { laboratory, readings };
};
const inr = (values: Pick<ComparisonInput, 'laboratory' | 'readings'>, rest: Partial<ComparisonInput> = {}) =>
  compare({ analyte: 'INR', unit: '{INR}', ...values, ...rest });
const codes = (comparison: ReturnType<typeof compare>) => comparison.cautions.map(({ code }) => code);

describe('a comparison of enough pairs', () => {
  const comparison = inr(series(40), { targetAt: () => ({ low: 2, high: 3 }) });

  it('counts what it rests on and has nothing to warn of', () => {
    expect(comparison.counts).toEqual({
      laboratory: 40,
      readings: 40,
      alone: 0,
      paired: 40,
      surely: 40,
      possibly: 0,
      offScale: 0,
      judged: 40,
      people: 40,
    });
    expect(comparison.cautions).toEqual([]);
  });

  it('has the figures of both kinds of difference, both lines and the correlation', () => {
    const { statistics } = comparison;
    expect(statistics?.absolute.bias.value).toBeCloseTo(0, 12);
    expect(statistics?.absolute.standardDeviation).toBeCloseTo(0.1 * Math.sqrt(40 / 39), 12);
    expect(statistics?.percent.kind).toBe('percent');
    expect(statistics?.deming?.slope.value).toBeCloseTo(1, 1);
    expect(statistics?.passingBablok?.slope.value).toBeCloseTo(1, 1);
    expect(statistics?.correlation).toBeGreaterThan(0.99);
  });

  it('counts how often a decision would have been the same', () => {
    // By hand: 3.0 with 3.1, 3.1 with 3.0, and near the end 1.9 with 2.0. The steps at 1.9 and 2.0 before go outwards.
    expect(comparison.decisions).toEqual({
      agree: 37,
      'one in, one out': 3,
      'both out and apart': 0,
      unknown: 0,
      'no target': 0,
    });
  });

  it('draws every pair, three lines of differences and three lines through the values', () => {
    const { absolute, percent, regression } = comparison.pictures;
    expect(absolute.points).toHaveLength(40);
    expect(absolute.points[0]).toEqual({
      laboratoryId: 'L0',
      readingId: 'R0',
      isJudged: true,
      mean: 1.45,
      difference: -0.1,
    });
    expect(absolute.lines.map(({ name }) => name)).toEqual(['bias', 'lower limit', 'upper limit']);
    expect(absolute.lines[2]?.at.value).toBe(comparison.statistics?.absolute.upperLimit.value);
    expect(percent.lines).toHaveLength(3);
    expect(regression.lines.map(({ name }) => name)).toEqual(['equal', 'Deming', 'Passing-Bablok 1983']);
    expect(regression.lines[0]).toEqual({ name: 'equal', from: { x: 1.5, y: 1.5 }, to: { x: 4.9, y: 4.9 } });
  });

  it('is plain data: it comes back from JSON as it was', () => {
    expect(JSON.parse(JSON.stringify(comparison))).toEqual(comparison);
  });

  it('names the rules it was compared with', () => {
    expect(comparison.agreement.map(({ source }) => source.name)).toEqual([
      'Within 0.5 INR',
      'ISO 17593',
      'CLSI POCT14',
    ]);
    expect(comparison.agreement[0]?.demands[0]?.verdict).toBe('reached');
  });
});

describe('few pairs', () => {
  it('under 40 are judged with a caution', () => {
    const comparison = inr(series(39));
    expect(comparison.statistics).toBeDefined();
    expect(comparison.cautions).toEqual([
      { code: 'few-pairs', sentence: '39 pairs: under 40 the figures are uncertain; see how wide their intervals are' },
    ]);
  });

  it('under 10 are shown with their differences and not judged at all', () => {
    const comparison = inr(series(9));
    expect(comparison.statistics).toBeUndefined();
    expect(codes(comparison)).toEqual(['too-few-pairs']);
    expect(comparison.pictures.absolute.points).toHaveLength(9);
    expect(comparison.pictures.absolute.lines).toEqual([]);
    expect(comparison.pictures.regression.lines.map(({ name }) => name)).toEqual(['equal']);
    expect(comparison.pairs.every(({ difference }) => Math.abs(difference ?? 9) === 0.1)).toBe(true);
    const verdicts = comparison.agreement.flatMap(({ demands }) => demands.map(({ verdict }) => verdict));
    expect(new Set(verdicts)).toEqual(new Set(['too few pairs']));
    expect(comparison.bands.every((band) => !('mean' in band))).toBe(true);
  });

  it('none at all give an empty comparison', () => {
    const comparison = inr({ laboratory: [valueAt('L', 0)], readings: [] });
    expect(comparison.counts).toMatchObject({ laboratory: 1, alone: 1, paired: 0, judged: 0, people: 0 });
    expect(comparison.pictures.regression).toEqual({ points: [], lines: [] });
  });
});

describe('pairs that are shown and not reckoned with', () => {
  it('may lie too far apart in time; a clinic may reckon with them all the same', () => {
    const values = series(45, (i) => (i < 3 ? { within: 600 } : {}));
    const sure = inr(values);
    expect(sure.counts).toMatchObject({ paired: 45, surely: 42, possibly: 3, judged: 42 });
    expect(sure.statistics?.absolute.pairs).toBe(42);
    expect(sure.pictures.absolute.points.filter(({ isJudged }) => !isJudged)).toHaveLength(3);
    expect(sure.cautions).toEqual([
      {
        code: 'time-unsure',
        sentence:
          '3 pairs may lie more than 4 h apart, as their times are not known well enough: shown and not reckoned with',
      },
    ]);
    const all = inr(values, { settings: { judge: 'possible' } });
    expect(all.statistics?.absolute.pairs).toBe(45);
    expect(codes(all)).toEqual(['time-unsure']);
  });

  it('are off scale: listed without a difference, in no figure, but in the decisions', () => {
    const { laboratory, readings } = series(40);
    const comparison = inr(
      {
        laboratory: [...laboratory, valueAt('LX', -DAY, 8, { patient: 'X', beyond: '>' })],
        readings: [...readings, valueAt('RX', -DAY, 2.5, { patient: 'X' })],
      },
      { targetAt: (patient) => (patient === 'X' ? { low: 2, high: 3 } : undefined) },
    );
    expect(comparison.counts).toMatchObject({ paired: 41, offScale: 1, judged: 40 });
    expect(comparison.pairs[0]).toMatchObject({ isOffScale: true, isJudged: false, decision: 'one in, one out' });
    expect(comparison.pairs[0]).not.toHaveProperty('difference');
    expect(comparison.pictures.regression.points).toHaveLength(40);
    expect(comparison.decisions).toMatchObject({ 'one in, one out': 1, 'no target': 40 });
    expect(codes(comparison)).toEqual(['off-scale']);
  });
});

describe('cautions', () => {
  it('say where several pairs are of one person', () => {
    const { laboratory, readings } = series(40);
    const one = (list: readonly PersonValue[]) => list.map((value) => ({ ...value, patient: 'P' }));
    const comparison = inr({ laboratory: one(laboratory), readings: one(readings) });
    expect(comparison.cautions).toEqual([
      {
        code: 'same-people',
        sentence: '40 pairs of 1 person: values of one person are alike, so the intervals may be too narrow',
      },
    ]);
  });

  it('say where no line can be laid', () => {
    const { laboratory, readings } = series(40);
    const comparison = inr({ laboratory: laboratory.map((value) => ({ ...value, value: 2.5 })), readings });
    expect(codes(comparison)).toEqual(['no-line']);
    expect(comparison.statistics?.deming).toBeUndefined();
    expect(comparison.statistics?.correlation).toBeUndefined();
    expect(comparison.pictures.regression.lines.map(({ name }) => name)).toEqual(['equal']);
  });

  it('say where the points bend', () => {
    const { laboratory } = series(70);
    const readings = laboratory.map((value) => ({ ...value, id: `R${value.id}`, value: value.value ** 2 / 3 }));
    expect(codes(inr({ laboratory, readings }))).toEqual(['bends']);
  });
});

describe('settings', () => {
  it('name the source of every figure, and a clinic may change each', () => {
    const values = { laboratory: [valueAt('L', 0)], readings: [valueAt('R', 300)] };
    expect(inr(values).settings.withinHours).toBe(PAIR_WITHIN_HOURS);
    const withinHours = { value: 6, source: { name: 'Port Alder', edition: '1', citation: 'the clinic' } };
    const comparison = inr(values, { settings: { withinHours } });
    expect(comparison.counts.paired).toBe(1);
    expect(comparison.settings.withinHours).toBe(withinHours);
  });

  it('look at no decisions and one band where the analyte is not INR', () => {
    const comparison = compare({ analyte: 'GLU', unit: 'mg/dL', ...series(12) });
    expect(comparison.decisions).toBeUndefined();
    expect(comparison.bands.map(({ words }) => words)).toEqual(['all values']);
    expect(comparison.agreement.map(({ source }) => source.name)).toContain('ISO 15197');
  });
});
