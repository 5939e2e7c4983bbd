/**
 * The table for research: every test of people that counts, without anything that leads to a person. After the Safe
 * Harbor list of 45 CFR 164.514(b)(2), as `disguise.ts`: keyed pseudonyms for people, meters and lots; no date but days
 * counted from the person's first test, and the year of that test; one age a person, over 89 pooled as 90; no operator,
 * no note, no text that somebody typed. A year beside every test would tell to the week when it turned, so there is one a
 * person; and targets from before the first test stand at it, because their own day could be a known one.
 */
import { type Instant, instant } from '../core/instant.ts';
import { zoneOf } from '../core/zone.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';
import { dayNumberOf, pseudonym } from './disguise.ts';

/** The columns in their order. README.md says what each holds. */
export const RESEARCH_COLUMNS = [
  'person',
  'first_year',
  'age',
  'kind',
  'day',
  'elapsed_days',
  'analyte',
  'value',
  'low',
  'high',
  'meter',
  'lot',
] as const;

/** How the table is made. */
export interface ResearchAsk {
  /** Of the pseudonyms. Thrown away after the export, it leaves no way back. */
  readonly key: string;
  readonly zone: string;
}

/** Some rows, and how many tests are in them. */
export interface ResearchPiece {
  readonly text: string;
  readonly count: number;
}

const DAY_MS = 86_400_000;
const OLDEST = 90;

/** The table piece by piece: the heading, then one person after the other in the order of their pseudonyms. */
export function* researchPieces(store: Store, { key, zone }: ResearchAsk): Generator<ResearchPiece> {
  yield { text: `${RESEARCH_COLUMNS.join(',')}\r\n`, count: 0 };
  const meters = new Map(
    store.meters.list().map((m) => [m.meterNo, pseudonym(key, 'meter', `${m.model} ${m.id}`)] as const),
  );
  const people = store.patients
    .list()
    .map((patient) => ({ patient, name: pseudonym(key, 'person', patient.id) }))
    .sort((a, b) => (a.name < b.name ? -1 : 1));
  for (const { patient, name } of people) yield personPiece(store, patient, name, { key, zone }, meters);
}

interface TestRow {
  kind: string;
  at: number;
  analyte: string | null;
  value: number | null;
  beyond: string | null;
  meter: number;
  lot: string | null;
}

function personPiece(
  store: Store,
  { patientNo, birthYear }: StoredPatient,
  person: string,
  { key, zone }: ResearchAsk,
  meters: ReadonlyMap<number, string>,
): ResearchPiece {
  const tests = store.db
    .statement<TestRow>(
      `SELECT kind, taken_at AS at, analyte, value, beyond, meter_no AS meter, lot FROM judged
        WHERE patient_no = ? AND taken_at IS NOT NULL AND +kind IN ('patient', 'error')
          AND status IN ('settled', 'provisional') ORDER BY taken_at, reading_id`,
    )
    .all(patientNo);
  const [first, last] = [tests[0], tests.at(-1)];
  if (!first || !last) return { text: '', count: 0 };
  const zero = instant(first.at);
  const about = [person, String(yearOf(zero, zone)), birthYear === undefined ? '' : ageOf(birthYear, last.at, zone)];
  const when = (at: number): string[] => [
    String(dayNumberOf(instant(at), zone) - dayNumberOf(zero, zone)),
    ((at - zero) / DAY_MS).toFixed(4),
  ];
  const targets = store.patients.targets(patientNo);
  const begin = targets.findLastIndex((t) => t.from <= zero);
  const rows = [
    ...targets
      .slice(Math.max(0, begin))
      .map((t) => [...about, 'target', ...when(Math.max(t.from, zero)), '', '', t.low, t.high, '', '']),
    ...tests.map((t) => [
      ...about,
      t.kind === 'patient' ? 'test' : 'error',
      ...when(t.at),
      word(t.analyte),
      t.value === null ? '' : `${t.beyond ?? ''}${t.value}`,
      '',
      '',
      meters.get(t.meter) ?? '',
      t.lot === null ? '' : pseudonym(key, 'lot', t.lot),
    ]),
  ];
  return { text: rows.map((row) => `${row.join(',')}\r\n`).join(''), count: tests.length };
}

const yearOf = (at: Instant, zone: string): number => new Date(zoneOf(zone).wallAt(at)).getUTCFullYear();

/** The age that is reached in the year of the last test; all over 89 as one. */
const ageOf = (birthYear: number, at: number, zone: string): string =>
  String(Math.min(OLDEST, yearOf(instant(at), zone) - birthYear));

/** A short name of the trade; a meter could tell anything as one. */
const word = (analyte: string | null): string =>
  analyte !== null && /^[A-Za-z0-9]{1,8}$/.test(analyte) ? analyte : '';
