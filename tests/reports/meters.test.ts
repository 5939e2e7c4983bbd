/** The report on meters and strips: what it says of a known store, and that everything else is the clinic's arithmetic. */
import { describe, expect, it } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import { gatherMeters } from '../../src/reports/gather-meters.ts';
import { gatherVisit } from '../../src/reports/gather-visit.ts';
import { metersPage } from '../../src/reports/meters.ts';
import { CAUTIONS, escapeText } from '../../src/reports/page.ts';
import { plainData } from '../../src/reports/plain-data.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { FILLED_NOW, filledStore } from './filled.ts';
import { DAY, METER, NAME, NOW, PATIENT, seededStore, ZONE } from './seeded.ts';

const gather = (store: Store, now = NOW, drift?: number) =>
  gatherMeters(store, { now, zone: ZONE, policy: DEFAULT_POLICY, driftOf: () => drift });

describe('the report on meters', () => {
  it('says whose a meter is, when it was read, and the same forecast as its visit sheet', () => {
    const store = seededStore();
    const [meter] = gather(store).meters;
    expect(meter?.meterId).toBe(METER);
    expect(meter?.person).toEqual({ id: PATIENT, name: NAME });
    expect(meter?.seen).toBe(store.downloads.list().at(-1)?.at);
    const visit = gatherVisit(store, { meterId: METER, now: NOW, zone: ZONE, policy: DEFAULT_POLICY });
    expect(meter?.forecast).toEqual(visit.forecast);
    expect(meter?.powerLosses).toBe(visit.powerLosses);
    expect(meter?.powerLosses).toBe(1);
  });

  it('names a meter that was not seen for long, and one whose memory may have wrapped', () => {
    const store = seededStore();
    expect(gather(store).meters[0]?.daysUnseen).toBeUndefined();
    const later = instant(NOW + 100.5 * DAY);
    expect(gather(store, later).meters[0]?.daysUnseen).toBe(40);
    expect(metersPage(gather(store, later), 'now')).toContain(`Not seen for long: ${METER}`);
    expect(metersPage(gather(store, instant(NOW + 4000 * DAY)), 'now')).toContain('is over');
  });

  it('ranks clocks by their drift and names one that no crystal explains', () => {
    const store = seededStore();
    expect(gather(store, NOW, -3).ranks.drift).toEqual([{ meter: METER, secondsPerDay: -3 }]);
    expect(metersPage(gather(store, NOW, -3), 'now')).toContain('loses 90 s a month');
    expect(metersPage(gather(store, NOW, 11), 'now')).toContain('no crystal errs so much');
  });

  it('counts failed tests by meter, person and lot as they lie in the store', () => {
    const store = filledStore(9, 4, 50);
    const report = gather(store, instant(FILLED_NOW));
    const tests = store.judged.list({}).filter((j) => j.status !== 'void');
    const failed = tests.filter((j) => j.kind === 'error');
    expect(failed.length).toBeGreaterThan(3);
    expect(report.errors.map((e) => e.by)).toEqual(['meter', 'person', 'lot']);
    const [byMeter, byPerson] = report.errors;
    expect(byMeter?.rates.map((r) => [r.of, r.errors, r.tests])).toEqual([['PA00001', failed.length, tests.length]]);
    for (const { of, errors, tests: n } of byPerson?.rates ?? []) {
      const own = tests.filter((j) => j.patientNo === store.patients.find(of)?.patientNo);
      expect([errors, n]).toEqual([own.filter((j) => j.kind === 'error').length, own.length]);
    }
    expect(byPerson?.rates.length).toBe(4);
  });

  it('shows lots with their expiry, and a shift that was put in between two of them', () => {
    const store = filledStore(9, 24, 40);
    const change = FILLED_NOW - 20 * 7 * DAY;
    store.db
      .statement("UPDATE judged SET lot = '1200009', value = value + 0.8 WHERE taken_at >= ? AND kind = 'patient'")
      .run(change);
    store.lots.put({ lot: '1200003', expiry: '2026-01' }, 'Tamsin', NOW);
    store.lots.put({ lot: '1200009', expiry: '2027-01' }, 'Tamsin', NOW);
    store.lots.put({ lot: '1200011', expiry: '2027-06' }, 'Tamsin', NOW);
    const report = gather(store, instant(FILLED_NOW));
    expect(report.lots.map((l) => [l.lot, l.state])).toEqual([
      ['1200003', 'expired'],
      ['1200009', 'good'],
    ]);
    expect(report.unused.map((l) => l.lot)).toEqual(['1200011']);
    const [shift] = report.shifts;
    expect(shift?.byPeople.people.length).toBe(24);
    expect(shift?.byPeople.isShift).toBe(true);
    const { low = 9, high = 0 } = shift?.byPeople.middle ?? {};
    expect([low < 0.8, high > 0.8]).toEqual([true, true]);
    expect(metersPage(report, 'now')).toContain('Lot 1200009 reads higher than lot 1200003');
  });

  it('is one page that needs nothing from outside, shows names as text, and ends with the cautions', () => {
    for (const store of [seededStore(), tempStore(), filledStore(9, 3, 20)]) {
      const html = metersPage(gather(store, NOW, 0.3), 'now');
      expect(html).not.toMatch(/https?:|<script|<link|<img|<iframe|@import|url\(|\ssrc=|\shref=|\son[a-z]+=/i);
      expect(html).not.toMatch(/NaN|undefined|Infinity/);
      expect(html).not.toContain(NAME);
      for (const caution of CAUTIONS) expect(html).toContain(escapeText(caution));
    }
  });

  it('is JSON with moments as RFC 3339', () => {
    const data = plainData(gather(seededStore())) as { meters: { seen: string; forecast: { cautious_at: string } }[] };
    expect(data.meters[0]?.seen).toMatch(/^2026-06-19T/);
    expect(data.meters[0]?.forecast.cautious_at).toMatch(/^20\d\d-/);
  });
});
