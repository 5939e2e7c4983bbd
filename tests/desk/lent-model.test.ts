/** A serial number is unique with its model only: who has one of two meters of one number is not said to have the other. */
import { expect, it } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import { makeDeskStatus } from '../../src/desk/desk-status.ts';
import { waitingList } from '../../src/desk/waiting-list.ts';
import type { Daemon, DockStatus } from '../../src/dock/daemon.ts';
import { lendMeter } from '../../src/record/lending.ts';
import { addPatient } from '../../src/record/people.ts';
import { gatherPatient } from '../../src/reports/gather-patient.ts';
import { gatherVisit } from '../../src/reports/gather-visit.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { download, NOTHING_NEW, putDownload, reading } from '../store/told.ts';

const NOW = instant(Date.UTC(2026, 5, 1));
const context = { now: NOW, by: 'Tamsin', policy: DEFAULT_POLICY };
const ID = 'PA00042';

/** Two meters of one serial number; the GM-10 is lent to A, and one that names no model is lent to B in the year before. */
function setting(): Store {
  const store = tempStore();
  for (const id of ['A', 'B']) addPatient(store, context, { id });
  lendMeter(store, context, { meterId: ID, model: 'GM-10', patientId: 'A', from: instant(Date.UTC(2026, 0, 1)) });
  lendMeter(store, context, {
    meterId: ID,
    patientId: 'B',
    from: instant(Date.UTC(2025, 0, 1)),
    to: instant(Date.UTC(2025, 5, 1)),
  });
  for (const [i, model] of ['GM-10', 'GM-20'].entries()) {
    const at = instant(Date.UTC(2026, 4, 1 + i));
    const from = putDownload(store, download({ meter: { id: ID, model }, at, until: at }), NOTHING_NEW);
    store.readings.add(reading(from, 0));
    store.incidents.add(from.meterNo, 'clock', [
      { kind: 'power-loss', earliest: at, latest: at, likelyCause: model, explanation: model },
    ]);
    store.judged.put(
      {
        reading: reading(from, 0).id,
        meterNo: from.meterNo,
        kind: 'patient',
        status: 'held',
        holds: [{ code: 'person-unknown', sentence: 'It is not known whose it is', isReleased: false }],
        analyte: 'INR',
        value: 2.6,
        digest: model,
      },
      at,
    );
  }
  return store;
}

it('the dock says who has the meter of that model', () => {
  const store = setting();
  const dockOf = (model: string): DockStatus => ({
    name: model,
    phase: 'docked',
    since: NOW,
    meter: { id: ID, model },
  });
  const daemon = {
    status: () => ({ docks: ['GM-10', 'GM-20'].map(dockOf), outlets: [], warnings: [] }),
  } as unknown as Daemon;
  const { docks } = makeDeskStatus({ store, daemon, now: () => NOW })();
  expect(docks.map((dock) => [dock.name, dock.person?.id])).toEqual([
    ['GM-10', 'A'],
    ['GM-20', undefined],
  ]);
});

it('a reading that waits is shown with those who had a meter of that model', () => {
  const { items } = waitingList(setting(), DEFAULT_POLICY, 0, 10);
  const holders = Object.fromEntries(items.map((i) => [i.model, i.evidence.holders.map((h) => h.id)]));
  expect(holders).toEqual({ 'GM-10': ['B', 'A'], 'GM-20': ['B'] });
});

it('a visit and a person are told of the meter of that model alone', () => {
  const store = setting();
  const ask = { now: NOW, zone: 'Europe/Lisbon', policy: DEFAULT_POLICY };
  expect(gatherVisit(store, { ...ask, meterId: ID, model: 'GM-10' }).person?.patient.id).toBe('A');
  expect(gatherVisit(store, { ...ask, meterId: ID, model: 'GM-20' }).person).toBeUndefined();
  expect(gatherPatient(store, { ...ask, patientId: 'A' }).incidents.map((i) => i.likelyCause)).toEqual(['GM-10']);
});
