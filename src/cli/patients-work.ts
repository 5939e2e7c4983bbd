/** The work of `tallydock patients`. */
import { Fault } from '../core/fault.ts';
import { formatSeconds, type Instant, instant } from '../core/instant.ts';
import { patientOf } from '../record/context.ts';
import { importPatients } from '../record/imports/patients.ts';
import { addPatient, changePatient, setTarget, undoTarget } from '../record/people.ts';
import { isLentAt } from '../store/lends.ts';
import type { PatientFacts, StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';
import type { CommonOptions } from './common-options.ts';
import { type ImportCall, importFile } from './import-work.ts';
import { momentOption, rangeOption, wholeOption } from './option-values.ts';
import { note, print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { resultText } from './readings-work.ts';
import { makeTable, printable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';
import { withStore } from './with-store.ts';

/** What may be told of a person in a call. */
export type FactOptions = RecordOptions & {
  readonly id?: string;
  readonly name?: string;
  readonly birthYear?: string;
  readonly reason?: string;
  readonly notes?: string;
  readonly every?: string;
  readonly since?: string;
  readonly left?: string;
  readonly target?: string;
};

/** Lists the people. */
export function listPatients(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const people = store.patients.list();
    if (options.json) {
      for (const person of people) await printJson(patientJson(store, person));
      return;
    }
    if (people.length === 0) {
      await print('Nobody is registered yet. "tallydock patients import FILE" or "patients add" begins.\n');
      return;
    }
    const now = instant(Date.now());
    const table = makeTable(['person', 'name', 'target', 'meter', `last reading (${zone})`, '>waiting']);
    await print(table.rows(people.map((person) => patientCells(store, person, zone, now))));
    await print(`${people.length} ${people.length === 1 ? 'person' : 'people'}\n`);
  });
}

function patientCells(store: Store, person: StoredPatient, zone: string, now: Instant): string[] {
  const target = store.patients.targets(person.patientNo).findLast((t) => t.from <= now);
  const meters = store.lends.list({ patientNo: person.patientNo }).filter((lend) => isLentAt(lend, now));
  const newest = store.judged.newestOf(person.patientNo);
  const last = newest === undefined ? undefined : store.readings.get(newest);
  const at = last?.placement?.takenAt;
  const shown = last && at !== undefined ? `${localMinute(at, zone)}  ${resultText(last)}` : 'none';
  const waiting = store.judged.countHeldOf(person.patientNo);
  return [
    person.id,
    person.name ?? '',
    target ? `${target.low} to ${target.high}` : 'none set',
    meters.map((l) => l.meterId).join(', '),
    shown,
    waiting === 0 ? '' : String(waiting),
  ];
}

function patientJson(store: Store, person: StoredPatient): Record<string, unknown> {
  const day = (at: number | undefined) => (at === undefined ? null : formatSeconds(instant(at), 'round'));
  return {
    patient_id: person.id,
    name: person.name ?? null,
    birth_year: person.birthYear ?? null,
    reason: person.reason ?? null,
    notes: person.notes ?? null,
    plan_days: person.planDays ?? null,
    since: day(person.since),
    left: day(person.left),
    targets: store.patients
      .targets(person.patientNo)
      .map((t) => ({ target: t.targetNo, from: day(t.from), low: t.low, high: t.high, set_by: t.setBy })),
    lends: store.lends.list({ patientNo: person.patientNo }).map((l) => ({
      lend: l.lendNo,
      meter_id: l.meterId,
      from: day(l.from),
      to: day(l.to),
    })),
  };
}

/** Shows one person. Throws PATIENT_UNKNOWN. */
export function showPatient(id: string, options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const person = patientOf(store, id);
    if (options.json) {
      await printJson(patientJson(store, person));
      return;
    }
    const when = (at: number | undefined): string => (at === undefined ? '' : localMinute(instant(at), zone));
    const lines: (readonly [string, string])[] = [
      ['person', person.id],
      ['name', person.name ?? ''],
      ['year of birth', person.birthYear === undefined ? '' : String(person.birthYear)],
      ['reason for treatment', person.reason ?? ''],
      ['notes', person.notes ?? ''],
      ['a test every', person.planDays === undefined ? '' : `${person.planDays} days`],
      ['treatment began', when(person.since).slice(0, 10)],
      ['looked after until', when(person.left).slice(0, 10)],
      ...store.patients
        .targets(person.patientNo)
        .map((t): [string, string] => [
          `target ${t.targetNo}`,
          `${t.low} to ${t.high}${t.from === 0 ? '' : ` from ${when(t.from)}`}, set by ${t.setBy}`,
        ]),
      ...store.lends
        .list({ patientNo: person.patientNo })
        .map((l): [string, string] => [
          `lend ${l.lendNo}`,
          `meter ${l.meterId} from ${when(l.from)}${l.to === undefined ? '' : ` until ${when(l.to)}`}`,
        ]),
    ];
    const shown = lines.filter(([, value]) => value !== '');
    await print(shown.map(([name, value]) => `${name.padEnd(22)}${printable(value)}\n`).join(''));
  });
}

function factsOf(options: FactOptions, zone: string): Omit<PatientFacts, 'id'> {
  const birthYear = wholeOption('--birth-year', options.birthYear, 1880, 2100);
  const planDays = wholeOption('--every', options.every, 1, 365);
  const since = momentOption('--since', options.since, zone);
  const left = momentOption('--left', options.left, zone);
  return {
    ...(options.name === undefined ? {} : { name: options.name }),
    ...(birthYear === undefined ? {} : { birthYear }),
    ...(options.reason === undefined ? {} : { reason: options.reason }),
    ...(options.notes === undefined ? {} : { notes: options.notes }),
    ...(planDays === undefined ? {} : { planDays }),
    ...(since === undefined ? {} : { since }),
    ...(left === undefined ? {} : { left }),
  };
}

/** Adds a person. Throws NOT_POSSIBLE. */
export function addOne(id: string, options: FactOptions): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const range = options.target === undefined ? undefined : rangeOption('--target', options.target);
    const person = store.db.write(() => {
      const added = addPatient(store, context, { id, ...factsOf(options, zone) });
      if (range) setTarget(store, context, id, { ...range, from: instant(0) });
      return added;
    });
    await done(options, patientJson(store, person), `${id} was added.`);
  });
}

/** Changes a person. Throws PATIENT_UNKNOWN or NOT_POSSIBLE. */
export function changeOne(id: string, options: FactOptions): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const { patientNo: _, ...before } = patientOf(store, id);
    const facts = { ...before, ...factsOf(options, zone), id: options.id ?? id };
    const person = changePatient(store, context, id, facts);
    await done(options, patientJson(store, person), `${person.id} was changed.`);
  });
}

/** Sets or takes back a target. Throws PATIENT_UNKNOWN or NOT_POSSIBLE. */
export function setOneTarget(
  id: string,
  range: string | undefined,
  options: RecordOptions & { readonly from?: string; readonly undo?: string },
): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const person = patientOf(store, id);
    const undo = wholeOption('--undo', options.undo, 1, Number.MAX_SAFE_INTEGER);
    if (undo !== undefined) {
      undoTarget(store, context, id, undo);
      await done(options, patientJson(store, person), `Target ${undo} of ${id} was taken back.`);
      return;
    }
    if (range === undefined) throw new Fault('CALL_WRONG', 'The range is missing', 'Write it as 2.0-3.0');
    const isFirst = store.patients.targets(person.patientNo).length === 0;
    const from = momentOption('--from', options.from, zone) ?? (isFirst ? instant(0) : context.now);
    const limits = rangeOption('LOW-HIGH', range);
    setTarget(store, context, id, { ...limits, from });
    const since = from === 0 ? '' : ` from ${localMinute(from, zone)}`;
    await done(options, patientJson(store, person), `The target of ${id} is ${limits.low} to ${limits.high}${since}.`);
  });
}

/** Imports people from a table. */
export const importPeople = (file: string, options: ImportCall): Promise<void> =>
  importFile(file, options, importPatients);

/** Says what was done: the JSON of what it was done to, or a sentence. */
async function done(options: CommonOptions, json: Record<string, unknown>, sentence: string): Promise<void> {
  if (options.json) await printJson(json);
  else if (!options.quiet) note(sentence);
}
