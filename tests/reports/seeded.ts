/**
 * A small store of Port Alder for the reports, all of it told by captures that went through the intake: a person who
 * tests at home each week with a lent meter, a holiday, a change of target, a critical value that waits, a value struck out, and
 * a power loss that leaves the times of two tests wide.
 */
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { strikeOut } from '../../src/record/deciding.ts';
import { lendMeter } from '../../src/record/lending.ts';
import { addPatient, setTarget } from '../../src/record/people.ts';
import { putLot } from '../../src/record/registers.ts';
import type { Store } from '../../src/store/store.ts';
import { captureOf, stampAt, type ToldTest } from '../intake/told-meter.ts';
import { tempStore } from '../store/temp-store.ts';

export const T0 = Date.UTC(2026, 0, 10, 9, 0, 0);
export const DAY = 86_400_000;
export const ZONE = 'Europe/Lisbon';
export const PATIENT = 'ALDER-017';
export const METER = 'PA00042';
/** A name that would be markup if it were not escaped. */
export const NAME = 'Ines <b>Calloway</b> & "Co"';
export const NOW = instant(T0 + 162 * DAY);
export const context = { now: NOW, by: 'Tamsin', policy: DEFAULT_POLICY };

const day = (n: number) => instant(T0 + n * DAY);
const profiles = loadProfiles('/nowhere');

/** Weekly values from day 1 on; between day 64 and day 92 no test was made. */
const VALUES: readonly (readonly [number, string])[] = [
  [1, '2.7'],
  [8, '3.1'],
  [15, '2.6'],
  [22, '3.8'],
  [29, '3.2'],
  [36, '2.9'],
  [43, '2.6'],
  [50, '2.3'],
  [57, '1.8'],
  [64, '2.2'],
  [92, '3.3'],
  [99, '2.9'],
  [106, '2.6'],
  [113, '2.4'],
  [120, '6.1'],
  [121, '3.0'],
  [127, '2.8'],
];

const patientTest = ([n, inr]: readonly [number, string]): ToldTest => ({ stamp: stampAt(T0 + n * DAY), inr });

/** The tests of a meter that lost its power on day 130: those after it were stamped from the default date on. */
const AFTER_LOSS: readonly ToldTest[] = [
  { stamp: '2000-01-01T00:20:00', inr: '2.5' },
  { stamp: '2000-01-08T00:30:00', inr: '2.2' },
];

/** Reads the meter at a moment with these tests in its memory. */
export function readMeter(store: Store, at: number, tests: readonly ToldTest[], clockOffMs = 0, id = METER): void {
  replayCapture(store, captureOf({ at: day(at), tests, clockOffMs, id }), profiles, {
    now: NOW,
    actor: 'test',
    policy: context.policy,
  });
}

/** The store with the person's whole story in it. */
export function seededStore(): Store {
  const store = tempStore();
  putLot(store, context, { lot: '1200003', code: '4417', expiry: '2027-03' });
  addPatient(store, context, { id: PATIENT, name: NAME, birthYear: 1957, reason: 'atrial fibrillation', planDays: 7 });
  setTarget(store, context, PATIENT, { from: instant(0), low: '2.5', high: '3.5' });
  setTarget(store, context, PATIENT, { from: day(47), low: '2.0', high: '3.0' });
  lendMeter(store, context, { meterId: METER, patientId: PATIENT, from: day(0) });
  const before = VALUES.map(patientTest);
  readMeter(store, 0.5, []);
  readMeter(store, 60, before.slice(0, 9));
  readMeter(store, 128, before);
  // Sixteen days after the loss its clock stands 16 days after the default date.
  const clock = Date.UTC(2000, 0, 15) - (T0 + 160 * DAY);
  readMeter(store, 160, [...before, ...AFTER_LOSS], clock);
  const struck = store.judged.list({}).find((j) => j.value === 3.3);
  if (struck) strikeOut(store, context, [struck.reading], 'finger was squeezed');
  return store;
}
