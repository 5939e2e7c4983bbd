/**
 * What an operator decides about readings: whose it is, that it may go on, that it is struck out. Nothing is ever
 * overwritten, and each decision can be taken back. Each call is one transaction with its audit rows.
 */
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import type { Decision, StoredDecision } from '../store/decisions.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { Store } from '../store/store.ts';
import { audit, patientOf, type RecordContext } from './context.ts';
import { judgeReadings } from './judge.ts';

/** Says that these readings may go on although something about them is doubtful. Throws READING_UNKNOWN, or NOT_POSSIBLE where one does not wait. */
export function release(
  store: Store,
  context: RecordContext,
  ids: readonly ReadingId[],
  reason: string,
): StoredJudged[] {
  const why = reasonOf(reason);
  return decide(store, context, ids, (judged) => {
    if (judged.status !== 'held')
      throw new Fault('NOT_POSSIBLE', `${judged.reading} does not wait`, '"tallydock holds" lists those that do.');
    const holds = judged.holds.filter((h) => !h.isReleased).map((h) => h.code);
    if (holds.some((code) => code.startsWith('person-')))
      throw new Fault(
        'NOT_POSSIBLE',
        `It is not known whose ${judged.reading} is`,
        'Assign it to a person first, or to nobody.',
      );
    return { kind: 'release', holds, reading: judged.reading, reason: why, by: context.by, at: context.now };
  });
}

/** Says whose these readings are; without a person: that they are nobody's of ours. Throws READING_UNKNOWN, PATIENT_UNKNOWN, or NOT_POSSIBLE for a control test. */
export function assign(
  store: Store,
  context: RecordContext,
  ids: readonly ReadingId[],
  patientId: string | undefined,
  reason: string,
): StoredJudged[] {
  const patientNo = patientId === undefined ? undefined : patientOf(store, patientId).patientNo;
  return decide(store, context, ids, (judged) => {
    if (judged.kind === 'control')
      throw new Fault('NOT_POSSIBLE', `${judged.reading} is a control test`, 'Only a patient test is somebody’s.');
    return {
      kind: 'assign',
      ...(patientNo === undefined ? {} : { patientNo }),
      reading: judged.reading,
      reason: reason.trim(),
      by: context.by,
      at: context.now,
    };
  });
}

/** Strikes readings out: they stay, marked. Throws READING_UNKNOWN, or NOT_POSSIBLE where one is struck out already. */
export function strikeOut(
  store: Store,
  context: RecordContext,
  ids: readonly ReadingId[],
  reason: string,
): StoredJudged[] {
  const why = reasonOf(reason);
  return decide(store, context, ids, (judged) => {
    if (judged.status === 'void')
      throw new Fault('NOT_POSSIBLE', `${judged.reading} is struck out already`, 'Nothing was changed.');
    return { kind: 'void', reading: judged.reading, reason: why, by: context.by, at: context.now };
  });
}

/** Says which control a control test was made with. Throws READING_UNKNOWN, or NOT_POSSIBLE for a test that is none, or a level that is not there. */
export function nameControl(store: Store, context: RecordContext, id: ReadingId, levelNo: number): StoredJudged[] {
  if (!store.controls.list().some((l) => l.levelNo === levelNo))
    throw new Fault('NOT_POSSIBLE', `There is no control level number ${levelNo}`, 'See "tallydock controls list".');
  return decide(store, context, [id], (judged) => {
    if (judged.kind !== 'control')
      throw new Fault('NOT_POSSIBLE', `${id} is not a control test`, 'Only a control test is made with a control.');
    return { kind: 'level', levelNo, reading: id, reason: '', by: context.by, at: context.now };
  });
}

/** Takes back the newest decision that stands on a reading. Throws READING_UNKNOWN, or NOT_POSSIBLE where there is none. */
export function undoDecision(store: Store, context: RecordContext, id: ReadingId, reason: string): StoredDecision {
  return store.db.write(() => {
    const judged = judgedOf(store, id);
    const newest = store.decisions.of([id]).findLast((d) => !d.undone);
    if (!newest)
      throw new Fault('NOT_POSSIBLE', `Nothing was decided about ${id}`, '"tallydock explain" shows what was done.');
    const why = reason.trim();
    store.decisions.undo(newest.decisionNo, context.by, context.now, why);
    audit(store, context, 'decision-undone', `reading ${id}`, {
      decision: newest.decisionNo,
      kind: newest.kind,
      reason: why,
    });
    judgeAround(store, context, [judged]);
    return newest;
  });
}

function judgedOf(store: Store, id: ReadingId): StoredJudged {
  const found = store.judged.get(id);
  if (found) return found;
  throw new Fault('READING_UNKNOWN', `There is no reading "${id}"`, '"tallydock readings" lists them.');
}

function reasonOf(reason: string): string {
  const why = reason.trim();
  if (why !== '') return why;
  throw new Fault('NOT_POSSIBLE', 'A reason is needed', 'Say in a few words what you looked at.');
}

/** Notes a decision on each reading and judges them again; all or none. Gives them as they are judged then. */
function decide(
  store: Store,
  context: RecordContext,
  ids: readonly ReadingId[],
  make: (judged: StoredJudged) => Decision,
): StoredJudged[] {
  return store.db.write(() => {
    const before = ids.map((id) => judgedOf(store, id));
    for (const judged of before) {
      const decision = make(judged);
      const decisionNo = store.decisions.add(decision);
      audit(store, context, ACTIONS[decision.kind], `reading ${judged.reading}`, {
        decision: decisionNo,
        reason: decision.reason,
        ...(decision.kind === 'release' ? { holds: decision.holds.join(' ') } : {}),
        ...(decision.kind === 'assign' ? { patient: decision.patientNo ?? null } : {}),
        ...(decision.kind === 'level' ? { level: decision.levelNo } : {}),
      });
    }
    judgeAround(store, context, before);
    return store.judged.of(ids);
  });
}

const ACTIONS: Readonly<Record<Decision['kind'], string>> = {
  release: 'reading-released',
  assign: 'reading-assigned',
  void: 'reading-struck-out',
  level: 'control-named',
};

/**
 * Judges these readings again, and those of their persons, before and now, that are held against them as the course
 * before.
 */
function judgeAround(store: Store, context: RecordContext, before: readonly StoredJudged[]): void {
  const ids = before.map((j) => j.reading);
  judgeReadings(store, ids, context.policy, context.now);
  const later = new Set<ReadingId>();
  const reach = context.policy.holds.farFromCourse.days * DAY_MS;
  for (const { patientNo, takenAt } of [...before, ...store.judged.of(ids)]) {
    if (patientNo === undefined || takenAt === undefined) continue;
    const next = store.judged.list({ patientNo, kind: 'patient', since: takenAt, until: instant(takenAt + reach + 1) });
    for (const { reading } of next) later.add(reading);
  }
  judgeReadings(store, [...later], context.policy, context.now);
}

const DAY_MS = 86_400_000;
