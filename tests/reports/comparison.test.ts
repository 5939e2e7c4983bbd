/** The report on meters against the laboratory: which values are paired, and what is said of how few they are. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { comparisonPage } from '../../src/reports/comparison.ts';
import { gatherComparison } from '../../src/reports/gather-comparison.ts';
import { CAUTIONS, escapeText } from '../../src/reports/page.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { seedOr } from '../support/seed.ts';
import { FILLED_NOW, filledStore } from './filled.ts';

const SEED = seedOr(67);
const NOW = instant(FILLED_NOW);
const ask = { now: NOW, zone: 'Europe/Lisbon' };
const HOUR = 3_600_000;

/** A laboratory value two hours after every fifth clear test of everybody, lower than the meter's by a tenth. */
function withLaboratory(store: Store): number {
  const tests = store.judged.list({ kind: 'patient', status: 'settled' }).filter((_, i) => i % 5 === 0);
  for (const { patientNo, takenAt, value } of tests) {
    if (patientNo === undefined || takenAt === undefined || value === undefined) continue;
    const text = Math.max(0.5, value - 0.1).toFixed(1);
    const at = instant(takenAt + 2 * HOUR);
    store.labValues.put({ patientNo, at, analyte: 'INR', value: text, laboratory: 'Port Alder' }, 'Tamsin', NOW);
  }
  return tests.length;
}

describe('the report on meters against the laboratory', () => {
  it(`pairs each laboratory value with the test of the same person, and finds the bias that was put in (SEED=${SEED})`, () => {
    const store = filledStore(SEED, 6, 50);
    const pairs = withLaboratory(store);
    expect(pairs).toBeGreaterThan(40);
    const [comparison] = gatherComparison(store, ask).comparisons;
    expect(comparison?.counts.judged).toBe(pairs);
    expect(comparison?.statistics?.absolute.bias.value).toBeCloseTo(0.1, 6);
    for (const { laboratory, reading } of comparison?.pairs ?? []) {
      expect(reading.patient).toBe(laboratory.patient);
      expect(reading.time.at).toBe(laboratory.time.at - 2 * HOUR);
    }
  });

  it('compares no reading that is struck out or waits', () => {
    const store = filledStore(SEED, 2, 30);
    for (const { patientNo, takenAt } of store.judged.list({ status: 'void', kind: 'patient' }))
      if (patientNo !== undefined && takenAt !== undefined)
        store.labValues.put({ patientNo, at: takenAt, analyte: 'INR', value: '2.5', laboratory: '' }, 'Tamsin', NOW);
    const values = store.labValues.list().length;
    expect(values).toBeGreaterThan(0);
    const [comparison] = gatherComparison(store, ask).comparisons;
    expect(comparison?.counts).toMatchObject({ laboratory: values, paired: 0, alone: values });
  });

  it('shows points and a caution, but no figures, of fewer than ten pairs', () => {
    const store = filledStore(SEED, 1, 30);
    const pairs = withLaboratory(store);
    expect(pairs).toBeLessThan(10);
    const report = gatherComparison(store, ask);
    expect(report.comparisons[0]?.statistics).toBeUndefined();
    const html = comparisonPage(report, 'now');
    expect(html).toContain('under 10 only the points and differences are shown, nothing is judged');
    expect(html).toContain('<svg');
    expect(html).not.toContain('limit of agreement');
  });

  it('says "compared with" and ends with the cautions, and needs nothing from outside', () => {
    const store = filledStore(SEED, 6, 50);
    withLaboratory(store);
    const html = comparisonPage(gatherComparison(store, ask), 'now');
    expect(html).toContain('Compared with ');
    expect(html).not.toMatch(/conforms? to/);
    expect(html).not.toMatch(/https?:|<script|<link|<img|<iframe|@import|url\(|\ssrc=|\shref=|\son[a-z]+=/i);
    expect(html).not.toMatch(/NaN|undefined|Infinity/);
    for (const caution of CAUTIONS) expect(html).toContain(escapeText(caution));
  });

  it('says what is missing where there are no laboratory values', () => {
    expect(comparisonPage(gatherComparison(tempStore(), ask), 'now')).toContain('There are no laboratory values yet');
  });

  it('takes only the laboratory values of the stretch that is asked for', () => {
    const store = filledStore(SEED, 4, 50);
    withLaboratory(store);
    const since = instant(FILLED_NOW - 100 * 24 * HOUR);
    const until = instant(FILLED_NOW - 40 * 24 * HOUR);
    const wanted = store.labValues.list().filter(({ at }) => at >= since && at < until).length;
    expect(wanted).toBeGreaterThan(0);
    expect(gatherComparison(store, { ...ask, since, until }).comparisons[0]?.counts.laboratory).toBe(wanted);
  });
});
