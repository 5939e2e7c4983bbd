/** Differences held against the bands of a rule, and by stretch of the laboratory's values. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compareWithRule, isAllowed } from '../../../src/clinic/comparison/agreement.ts';
import { differenceBands } from '../../../src/clinic/comparison/difference-bands.ts';
import { GLUCOSE_MASS_RULES } from '../../../src/clinic/rules/agreement-glucose.ts';
import { ISO_17593_2007, POCT14_ED2 } from '../../../src/clinic/rules/agreement-inr.ts';
import {
  isWithinSpan,
  readAgreementRule,
  spanInWords,
  type ValueSpan,
} from '../../../src/clinic/rules/agreement-rule.ts';
import { AGREEMENT_RULES, agreementRulesFor, INR_REPORT_BANDS } from '../../../src/clinic/rules/comparison-habits.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const repeated = (count: number, x: number, y: number) => Array.from({ length: count }, () => ({ x, y }));

describe('an allowed difference', () => {
  // In binary 2.6 - 2.0 is a little over 0.6 and 1.6 - 1.1 a little over 0.5: the limits are decimal.
  it.each([
    [2.0, 2.6, { percent: 30 }, true],
    [2.0, 2.61, { percent: 30 }, false],
    [2.0, 1.4, { percent: 30 }, true],
    [1.1, 1.6, { units: 0.5 }, true],
    [1.6, 1.1, { units: 0.5 }, true],
    [1.1, 1.61, { units: 0.5 }, false],
  ])('of laboratory %d and meter %d within %o is %s', (x, y, allowed, expected) => {
    expect(isAllowed({ x, y }, allowed)).toBe(expected);
  });
});

describe('comparing with a rule', () => {
  it('counts by band and judges all bands together, with the name and edition', () => {
    const pairs = [...repeated(9, 1.5, 2.0), ...repeated(1, 1.5, 2.1), ...repeated(10, 3.0, 3.9)];
    const [demand] = compareWithRule(pairs, ISO_17593_2007, 10).demands;
    expect(demand?.bands.map(({ words, pairs, within }) => [words, pairs, within])).toEqual([
      ['below 2.0', 10, 9],
      ['2.0 to 4.5', 10, 10],
    ]);
    expect(demand).toMatchObject({ pairs: 20, within: 19, notCovered: 0, verdict: 'reached' });
    expect(demand?.sentence).toBe(
      'Compared with ISO 17593 2007 (withdrawn 2022): 19 of 20 differences (95.0 %) lie within its bands; it asks for at least 90 %: reached',
    );
  });

  it('reaches a demand at exactly its share and not just below it, whatever the rounding', () => {
    const share = (within: number, outside: number) =>
      compareWithRule([...repeated(within, 2, 2), ...repeated(outside, 2, 4)], ISO_17593_2007, 10).demands[0];
    expect(share(9, 1)?.verdict).toBe('reached');
    expect(share(8999, 1001)?.verdict).toBe('not reached');
    expect(share(8999, 1001)?.sentence).toContain('(89.9 %)');
  });

  it('leaves out what the rule does not cover and says how many those are', () => {
    const pairs = [...repeated(10, 4.5, 4.5), ...repeated(3, 4.51, 9)];
    expect(compareWithRule(pairs, ISO_17593_2007, 10).demands[0]).toMatchObject({
      pairs: 10,
      within: 10,
      notCovered: 3,
    });
  });

  it('counts too few pairs and does not judge them', () => {
    const [demand] = compareWithRule(repeated(9, 3, 3), POCT14_ED2, 10).demands;
    expect(demand).toMatchObject({ pairs: 9, within: 9, verdict: 'too few pairs' });
    expect(demand?.sentence).toMatch(/^Compared with CLSI POCT14 Ed2 .*; too few pairs to judge$/);
  });

  it('holds several demands of one rule apart', () => {
    const [, , home] = GLUCOSE_MASS_RULES;
    const pairs = [...repeated(95, 100, 115), ...repeated(5, 100, 121)];
    expect(home && compareWithRule(pairs, home, 10).demands.map(({ within, verdict }) => [within, verdict])).toEqual([
      [95, 'reached'],
      [95, 'not reached'],
    ]);
  });

  it('never says that a meter conforms', () => {
    const sentences = AGREEMENT_RULES.flatMap((rule) =>
      [repeated(3, 2.5, 2.5), repeated(50, 2.5, 2.5), repeated(50, 2.5, 9)].flatMap((pairs) =>
        compareWithRule(pairs, rule, 10).demands.map(({ sentence }) => sentence),
      ),
    );
    expect(sentences.length).toBeGreaterThan(3 * AGREEMENT_RULES.length - 1);
    for (const sentence of sentences) {
      expect(sentence).toMatch(/^Compared with /);
      expect(sentence).not.toMatch(/conform|compl(y|ies|iant)|pass|fail/i);
    }
  });
});

describe('rules', () => {
  it('that come with the program are of the form that is read, and say where they come from', () => {
    for (const rule of AGREEMENT_RULES) expect(readAgreementRule(rule)).toEqual({ ok: true, value: rule });
  });

  it('are chosen by analyte and unit; INR has one unit whatever it is called', () => {
    expect(agreementRulesFor('INR', '1').map(({ source }) => source.name)).toEqual([
      'Within 0.5 INR',
      'ISO 17593',
      'CLSI POCT14',
    ]);
    expect(agreementRulesFor('GLU', 'mmol/L').every(({ unit }) => unit === 'mmol/L')).toBe(true);
    expect(agreementRulesFor('KET', 'mmol/L')).toEqual([]);
  });

  const good = {
    source: { name: 'Port Alder', edition: '1', citation: 'the clinic' },
    analyte: 'INR',
    unit: '{INR}',
    demands: [{ atLeastPercent: 90, limits: [{ span: { below: 2 }, allowed: { units: 0.4 } }] }],
  };
  const withLimits = (...spans: ValueSpan[]) => ({
    ...good,
    demands: [{ atLeastPercent: 90, limits: spans.map((span) => ({ span, allowed: { units: 1 } })) }],
  });
  it.each([
    ['a share over 100', { ...good, demands: [{ ...good.demands[0], atLeastPercent: 101 }] }, 'atLeastPercent'],
    ['no source', { ...good, source: undefined }, 'source'],
    ['a word that is not known', { ...good, colour: 'red' }, 'colour'],
    ['a stretch that ends before it begins', withLimits({ from: 3, to: 2 }), 'ends before it begins'],
    ['a stretch that ends where it begins', withLimits({ over: 2, to: 2 }), 'ends before it begins'],
    ['two ends', withLimits({ from: 1, to: 2, below: 2 }), 'both "to" and "below"'],
    ['two starts', withLimits({ from: 1, over: 1, to: 2 }), 'both "from" and "over"'],
    ['limits that overlap', withLimits({ to: 3 }, { from: 2, to: 4 }), 'overlap'],
    ['limits that share their border', withLimits({ to: 3 }, { from: 3 }), 'overlap'],
  ])('with %s are refused by name', (_what, given, expected) => {
    const read = readAgreementRule(given);
    expect(read.ok ? 'read' : read.problem).toContain(expected);
  });

  it('may touch where only one of them owns the border', () => {
    expect(readAgreementRule(withLimits({ below: 3 }, { from: 3 })).ok).toBe(true);
    expect(readAgreementRule(withLimits({ to: 3 }, { over: 3 })).ok).toBe(true);
  });

  it('may leave values uncovered between two limits', () => {
    expect(readAgreementRule(withLimits({ to: 2 }, { from: 3 })).ok).toBe(true);
  });
});

describe('a stretch in words', () => {
  it.each<[ValueSpan, string]>([
    [{ below: 2 }, 'below 2.0'],
    [{ from: 2, to: 3 }, '2.0 to 3.0'],
    [{ over: 3, to: 4 }, 'over 3.0 to 4.0'],
    [{ over: 4 }, 'over 4.0'],
    [{ from: 75 }, '75 and more'],
    [{ from: 19, to: 20 }, '19.0 to 20'],
    [{ to: 3 }, 'up to 3.0'],
    [{ from: 2, below: 3.5 }, '2.0 to below 3.5'],
    [{}, 'all values'],
  ])('%o is %s', (span, words) => {
    expect(spanInWords(span)).toBe(words);
  });
});

describe('differences by band', () => {
  it('puts every value into one band, the borders as written', () => {
    const pairs = [1.99, 2.0, 3.0, 3.01, 3.1, 4.0, 4.01].map((x) => ({ x, y: x }));
    expect(differenceBands(pairs, INR_REPORT_BANDS.value, 10).map(({ words, pairs }) => [words, pairs])).toEqual([
      ['below 2.0', 1],
      ['2.0 to 3.0', 2],
      ['over 3.0 to 4.0', 3],
      ['over 4.0', 1],
    ]);
  });

  it('counts what is near and shows the ends; a mean only from enough pairs', () => {
    const [low, middle] = differenceBands(
      [{ x: 1.5, y: 2.1 }, ...repeated(5, 2.5, 3.0), ...repeated(5, 2.5, 2.4)],
      INR_REPORT_BANDS.value,
      10,
    );
    expect(low).toEqual({ span: { below: 2 }, words: 'below 2.0', pairs: 1, near: 0, least: 0.6, greatest: 0.6 });
    expect(middle).toMatchObject({ pairs: 10, near: 10, least: -0.1, greatest: 0.5 });
    expect(middle?.mean).toBeCloseTo(0.2, 12);
    expect(middle?.median).toBeCloseTo(0.2, 12);
    // By hand: the mean of 0.5 / 2.75 and -0.1 / 2.45, in percent.
    expect(middle?.meanPercent).toBeCloseTo((50 / 2.75 - 10 / 2.45) / 2, 12);
  });

  it('shows an empty band as empty', () => {
    expect(differenceBands([], { spans: [{}] }, 0)).toEqual([{ span: {}, words: 'all values', pairs: 0 }]);
  });
});

describe("a rule of the clinic's own, whatever it says", () => {
  const SEED = seedOr(20260301);
  const limit = fc.integer({ min: 0, max: 12 }).map((n) => n / 2);
  const end = (closed: 'from' | 'to', open: 'over' | 'below') =>
    fc.oneof(
      fc.constant({}),
      limit.map((at) => ({ [closed]: at })),
      limit.map((at) => ({ [open]: at })),
    );
  const span = fc.tuple(end('from', 'over'), end('to', 'below')).map(([a, b]): ValueSpan => ({ ...a, ...b }));
  const starts = (s: ValueSpan) => s.from ?? s.over ?? Number.NEGATIVE_INFINITY;
  const ends = (s: ValueSpan) => s.to ?? s.below ?? Number.POSITIVE_INFINITY;
  /** Every limit and every place between two of them. */
  const places = Array.from({ length: 60 }, (_, i) => i / 8 - 0.5);

  it(`is taken where no value has two limits, and only there (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(
        fc.array(
          span.filter((s) => starts(s) < ends(s)),
          { minLength: 1, maxLength: 4 },
        ),
        (spans) => {
          const rule = {
            source: { name: 'Port Alder', edition: '1', citation: 'its own' },
            analyte: 'INR',
            unit: '{INR}',
            demands: [{ atLeastPercent: 90, limits: spans.map((s) => ({ span: s, allowed: { units: 0.5 } })) }],
          };
          const isTwice = places.some((x) => spans.filter((s) => isWithinSpan(x, s)).length > 1);
          expect(readAgreementRule(rule).ok).toBe(!isTwice);
        },
      ),
      { seed: SEED, numRuns: runsOr(1000) },
    );
  });

  it(`counts as many pairs or more where it allows more, in whatever order they come (SEED=${SEED})`, () => {
    const pair = fc.record({ x: fc.integer({ min: 8, max: 80 }), y: fc.integer({ min: 8, max: 80 }) });
    const percent = fc.integer({ min: 0, max: 60 });
    fc.assert(
      fc.property(fc.array(pair, { maxLength: 40 }), percent, percent, (tenths, allowed, more) => {
        const pairs = tenths.map(({ x, y }) => ({ x: x / 10, y: y / 10 }));
        const held = (list: typeof pairs, most: number) =>
          compareWithRule(
            list,
            {
              ...ISO_17593_2007,
              demands: [{ atLeastPercent: 90, limits: [{ span: { from: 2 }, allowed: { percent: most } }] }],
            },
            1,
          ).demands[0];
        const [few, many] = [held(pairs, allowed), held(pairs, allowed + more)];
        expect(many?.within).toBeGreaterThanOrEqual(few?.within ?? 0);
        expect(many?.pairs).toBe(few?.pairs);
        expect((few?.pairs ?? 0) + (few?.notCovered ?? 0)).toBe(pairs.length);
        expect(held(pairs.toReversed(), allowed)).toEqual(few);
        // The same in whole tenths: 10·|y − x|·100 <= percent · 10·x.
        expect(few?.within).toBe(tenths.filter(({ x, y }) => x >= 20 && Math.abs(y - x) * 100 <= allowed * x).length);
      }),
      { seed: SEED, numRuns: runsOr(300) },
    );
  });
});
