/** Stores with readings that were judged, for tests of what is done with them: invented people and meters of Port Alder. */
import { createHash } from 'node:crypto';
import { type Instant, instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import type { ShownStatus } from '../../src/core/outgoing.ts';
import type { ReadingId, ReadingKind } from '../../src/core/reading.ts';
import type { Judged } from '../../src/store/judged.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { download, putDownload, reading } from '../store/told.ts';

/** The first test of every store was made at this moment. */
export const FIRST_TEST = instant(Date.UTC(2026, 0, 5, 9, 30));
const DAY_MS = 86_400_000;

export interface MadeReading {
  readonly kind?: ReadingKind;
  readonly status?: ShownStatus;
  readonly patientNo?: number;
  readonly values?: readonly { readonly analyte: string; readonly value: string; readonly unit: string }[];
  readonly lot?: string;
}

export interface MadeStore {
  readonly store: Store;
  /** Numbers of the people, in the order of their ids ALDER-001 and so on. */
  readonly people: readonly number[];
  /** Adds readings to a meter, a day apart; gives their ids. */
  add(count: number, made?: MadeReading | ((n: number) => MadeReading), meter?: string): ReadingId[];
  /** Judges a reading anew: a new version. */
  change(
    id: ReadingId,
    change: Partial<Pick<Judged, 'status' | 'patientNo' | 'kind'>> & { readonly nobody?: true },
  ): void;
}

const INR_AND_PT = (n: number) => [
  { analyte: 'INR', value: (1.5 + (n % 30) / 10).toFixed(1), unit: '{INR}' },
  { analyte: 'PT', value: (15 + (n % 300) / 10).toFixed(1), unit: 's' },
];

/** Makes a store in a folder, or opens the one that is there. Whoever makes it closes it. */
export function madeStore(dir: string, people = 5): MadeStore {
  const store = openStore({ dir, now: FIRST_TEST });
  const known = store.patients.list().map((p) => p.patientNo);
  const numbers =
    known.length > 0
      ? known
      : Array.from({ length: people }, (_, i) => {
          const no = store.patients.add(
            { id: `ALDER-${String(i + 1).padStart(3, '0')}`, name: `Nobody Number ${i + 1}`, birthYear: 1940 + i },
            FIRST_TEST,
          );
          store.patients.addTarget({
            patientNo: no,
            from: instant(0),
            low: '2.0',
            high: '3.0',
            setBy: 'rosa',
            setAt: FIRST_TEST,
          });
          return no;
        });
  let ticks = store.outgoing.lastSeq(); // a store that is opened again goes on behind what it has
  const now = (): Instant => {
    ticks++;
    return instant(FIRST_TEST + ticks * 1000);
  };
  return {
    store,
    people: numbers,
    add: (count, made = {}, meter = 'PA00042') =>
      store.db.write(() => {
        const at = now();
        const from = putDownload(store, download({ meter: { id: meter, model: 'GM-10', firmware: '1.0' }, at }));
        const start = store.readings.count(from.meterNo);
        return Array.from({ length: count }, (_, i) => {
          const n = start + i;
          const {
            kind = 'patient',
            status = 'settled',
            patientNo,
            values = INR_AND_PT(n),
            lot = '4471903',
          } = typeof made === 'function' ? made(n) : made;
          const taken = instant(FIRST_TEST + n * DAY_MS);
          const told = reading(from, n, {
            place: String(i + 1),
            slot: i + 1,
            kind,
            values: kind === 'error' ? [] : values,
            ...(kind === 'error' ? { errorCode: 'E 6' } : {}),
            meterTimeText: new Date(taken).toISOString().slice(0, 19),
            meterTime: meterTimeOf(wall(taken), 1000),
            lot,
            operator: 'rosa',
          });
          store.readings.add(told);
          const bounds = { takenAt: taken, earliest: instant(taken - 30_000), latest: instant(taken + 30_000) };
          store.placements.add(
            told.id,
            { ...bounds, basis: 'interpolated', reason: 'It lies between two downloads.', flags: [] },
            from.id,
          );
          const person = kind === 'patient' ? (patientNo ?? numbers[n % numbers.length]) : undefined;
          judge(store, at, {
            reading: told.id,
            meterNo: from.meterNo,
            kind,
            status,
            ...(person === undefined ? {} : { patientNo: person, basis: 'lent' as const }),
            holds: [],
            ...bounds,
            lot,
            ...(kind === 'error' ? {} : { analyte: 'INR', value: Number(values[0]?.value) }),
          });
          return told.id;
        });
      }),
    change(id, { nobody, ...change }) {
      const was = store.judged.get(id);
      if (!was) throw new Error(`there is no reading ${id}`);
      const { patientNo, basis, ...rest } = was;
      const person = nobody ? {} : { ...(patientNo === undefined ? {} : { patientNo }), ...(basis ? { basis } : {}) };
      store.db.write(() => judge(store, now(), { ...rest, ...person, ...change }, was.version));
    },
  };
}

function judge(store: Store, at: Instant, judged: Omit<Judged, 'digest'>, before = 0): void {
  const digest = createHash('sha256')
    .update(`${before} ${JSON.stringify(judged)}`)
    .digest('base64url')
    .slice(0, 22);
  store.judged.put({ ...judged, digest }, at);
}
