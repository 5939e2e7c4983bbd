/** What an operator does about people: adding, changing, target ranges. Each is one transaction with its audit row. */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { PatientFacts, StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';
import { audit, patientOf, type RecordContext } from './context.ts';
import { judgeReadings } from './judge.ts';

/** A target range as a person gives it: limits inclusive. */
export interface TargetFacts {
  readonly from: Instant;
  readonly low: string;
  readonly high: string;
}

/** Adds a person. Throws NOT_POSSIBLE where the id is taken, or is none. */
export function addPatient(store: Store, context: RecordContext, facts: PatientFacts): StoredPatient {
  checkId(facts.id);
  return store.db.write(() => {
    const isFirst = store.patients.count() === 0;
    if (store.patients.find(facts.id))
      throw new Fault('NOT_POSSIBLE', `There is a person "${facts.id}" already`, 'Change that one, or use another id.');
    const patientNo = store.patients.add(facts, context.now);
    audit(store, context, 'patient-added', `patient ${facts.id}`, described(facts));
    judgeKeyed(store, context, facts.id, isFirst);
    return { ...facts, patientNo };
  });
}

/** Changes what is known of a person; `facts` is the whole of it. Throws PATIENT_UNKNOWN, or NOT_POSSIBLE for a taken id. */
export function changePatient(store: Store, context: RecordContext, id: string, facts: PatientFacts): StoredPatient {
  if (facts.id !== id) checkId(facts.id);
  return store.db.write(() => {
    const { patientNo, ...before } = patientOf(store, id);
    if (facts.id !== id && store.patients.find(facts.id))
      throw new Fault('NOT_POSSIBLE', `There is a person "${facts.id}" already`, 'Use another id.');
    store.patients.change(patientNo, facts);
    const was = described(before);
    const is = described(facts);
    const changed = Object.fromEntries(
      [...new Set([...Object.keys(was), ...Object.keys(is)])]
        .filter((key) => was[key] !== is[key])
        .flatMap((key) => [
          [`${key} was`, was[key] ?? null],
          [key, is[key] ?? null],
        ]),
    );
    for (const key of UNTOLD) if (before[key] !== facts[key]) changed[`${key} changed`] = true;
    audit(store, context, 'patient-changed', `patient ${id}`, { id: facts.id, ...changed });
    if (facts.id !== id) {
      judgeKeyed(store, context, id, false);
      judgeKeyed(store, context, facts.id, false);
      judgePerson(store, context, patientNo);
    }
    return { ...facts, patientNo };
  });
}

/** An id is typed and keyed again and again: one that cannot be seen or told from another is refused. */
function checkId(id: string): void {
  if (id !== '' && id === id.trim() && !/\p{Cc}/u.test(id)) return;
  throw new Fault(
    'NOT_POSSIBLE',
    `"${id}" is no id of a person`,
    'An id is not empty, and no blank begins or ends it.',
  );
}

const DECIMAL = /^\d{1,3}(\.\d{1,2})?$/;

/** Sets a target range from a moment on. Throws PATIENT_UNKNOWN, or NOT_POSSIBLE for limits that make no range. */
export function setTarget(store: Store, context: RecordContext, patientId: string, target: TargetFacts): number {
  const { low, high, from } = target;
  if (!DECIMAL.test(low) || !DECIMAL.test(high) || Number(low) <= 0 || Number(low) >= Number(high))
    throw new Fault(
      'NOT_POSSIBLE',
      `${low} to ${high} is no target range`,
      'Write the lower limit, then the higher: 2.0 3.0',
    );
  return store.db.write(() => {
    const { patientNo } = patientOf(store, patientId);
    const targetNo = store.patients.addTarget({
      patientNo,
      from,
      low,
      high,
      setBy: context.by,
      setAt: context.now,
    });
    audit(store, context, 'target-set', `patient ${patientId}`, { target: targetNo, low, high, from });
    judgePerson(store, context, patientNo);
    return targetNo;
  });
}

/** Takes a target back as if it had never been set. Throws PATIENT_UNKNOWN, or NOT_POSSIBLE where it is not one of that person. */
export function undoTarget(store: Store, context: RecordContext, patientId: string, targetNo: number): void {
  store.db.write(() => {
    const { patientNo } = patientOf(store, patientId);
    const isTheirs = store.patients.targets(patientNo).some((t) => t.targetNo === targetNo);
    if (!isTheirs || !store.patients.undoTarget(targetNo, context.now))
      throw new Fault(
        'NOT_POSSIBLE',
        `${patientId} has no target number ${targetNo}`,
        'See "tallydock patients show".',
      );
    audit(store, context, 'target-undone', `patient ${patientId}`, { target: targetNo });
    judgePerson(store, context, patientNo);
  });
}

/** Judges a person's readings again. */
function judgePerson(store: Store, context: RecordContext, patientNo: number): void {
  const theirs = store.judged.list({ patientNo }).map((j) => j.reading);
  judgeReadings(store, theirs, context.policy, context.now);
}

/** Judges readings again for which an id was keyed in; with the first person, all: now it is asked whose they are. */
function judgeKeyed(store: Store, context: RecordContext, id: string, all: boolean): void {
  judgeReadings(store, store.readings.idsKeyed(all ? undefined : id), context.policy, context.now);
}

/** What the audit chain never holds, since no row of it can ever be taken out again: only that it changed. */
const UNTOLD = ['name', 'notes'] as const;

/** For the audit chain: what is known of a person, but for the id, which the row's subject names, and what is untold. */
function described(facts: PatientFacts): Record<string, string | number | boolean | null> {
  const { id: _id, name: _name, notes: _notes, ...rest } = facts;
  return Object.fromEntries(Object.entries(rest).map(([key, value]) => [key, value ?? null]));
}
