/** Lending meters to people and taking them back. Each is one transaction with its audit row. */
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { type Appointment, isLentAt, type Lend, type StoredLend } from '../store/lends.ts';
import type { Store } from '../store/store.ts';
import { audit, patientOf, type RecordContext } from './context.ts';
import { judgeReadings } from './judge.ts';

/** What a lend needs to be told. */
export interface LendFacts {
  readonly meterId: string;
  readonly model?: string;
  readonly patientId: string;
  readonly from: Instant;
  readonly to?: Instant;
}

/**
 * Lends a meter to a person; readings made meanwhile are theirs. A meter may be lent before it was ever read. Throws
 * PATIENT_UNKNOWN, or NOT_POSSIBLE where it is lent to somebody in that time, or ends before it begins.
 */
export function lendMeter(store: Store, context: RecordContext, facts: LendFacts): StoredLend {
  const { meterId, model, patientId, from, to } = facts;
  if (to !== undefined && to <= from)
    throw new Fault(
      'NOT_POSSIBLE',
      'The lend would end before it begins',
      'Give an end that lies after its beginning.',
    );
  return store.db.write(() => {
    const { patientNo } = patientOf(store, patientId);
    const lend: Lend = {
      meterId,
      ...(model === undefined ? {} : { model }),
      patientNo,
      from,
      ...(to === undefined ? {} : { to }),
    };
    const other = store.lends.list({ meterId }).find((l) => sameMeter(l, lend) && meet(l, lend));
    if (other)
      throw new Fault(
        'NOT_POSSIBLE',
        `Meter ${meterId} is lent to ${nameOf(store, other)} in that time`,
        'Take it back first, or give a time in which it is free.',
      );
    const lendNo = store.lends.add(lend, context.by, context.now);
    audit(store, context, 'meter-lent', `meter ${meterId}`, { lend: lendNo, patient: patientId, from, to: to ?? null });
    judgeMeter(store, context, meterId, from);
    return { ...lend, lendNo, lentBy: context.by, lentAt: context.now };
  });
}

/**
 * Ends the lend that is open, at a moment; `model` where two models share the serial number. Throws NOT_POSSIBLE where the
 * meter is not lent, came back before it was lent, or is one of two that are.
 */
export function takeBack(
  store: Store,
  context: RecordContext,
  meterId: string,
  at: Instant,
  model?: string,
): StoredLend {
  return store.db.write(() => {
    const lends = store.lends.list({ meterId, ...(model === undefined ? {} : { model }) });
    const models = lends.filter((lend) => isLentAt(lend, at)).map((lend) => lend.model ?? 'any model');
    if (models.length > 1)
      throw new Fault(
        'NOT_POSSIBLE',
        `Meters ${meterId} of ${models.join(' and ')} are lent`,
        `Say which has come back: tallydock take-back ${meterId} --model MODEL`,
      );
    const open = lends.find((l) => l.to === undefined || l.to > at);
    if (!open)
      throw new Fault('NOT_POSSIBLE', `Meter ${meterId} is not lent to anybody`, 'See "tallydock lend --list".');
    if (at <= open.from)
      throw new Fault(
        'NOT_POSSIBLE',
        `Meter ${meterId} was lent to ${nameOf(store, open)} after that moment`,
        'Give a moment after it was lent, or take the lend itself back with --undo.',
      );
    store.lends.giveBack(open.lendNo, at);
    audit(store, context, 'meter-taken-back', `meter ${meterId}`, { lend: open.lendNo, at });
    judgeMeter(store, context, meterId, at);
    return { ...open, to: at };
  });
}

/** Takes a lend back as if it had never been. Throws NOT_POSSIBLE where there is none such. */
export function undoLend(store: Store, context: RecordContext, lendNo: number): void {
  store.db.write(() => {
    const lend = store.lends.list().find((l) => l.lendNo === lendNo);
    if (!lend || !store.lends.undo(lendNo, context.now))
      throw new Fault('NOT_POSSIBLE', `There is no lend number ${lendNo}`, 'See "tallydock lend --list".');
    audit(store, context, 'lend-undone', `meter ${lend.meterId}`, { lend: lendNo });
    judgeMeter(store, context, lend.meterId, lend.from);
  });
}

/** Notes who is expected when; gives how many were not known. Readings around are judged again. */
export function addAppointments(store: Store, context: RecordContext, appointments: readonly Appointment[]): number {
  return store.db.write(() => {
    const added = appointments.filter((a) => store.appointments.add(a));
    if (added.length === 0) return 0;
    audit(store, context, 'appointments-added', 'appointments', { count: added.length });
    judgeNear(store, context, added);
    return added.length;
  });
}

/** Takes an appointment off the list; false where it was not on it. Readings around are judged again. */
export function removeAppointment(store: Store, context: RecordContext, appointment: Appointment): boolean {
  return store.db.write(() => {
    if (!store.appointments.remove(appointment)) return false;
    audit(store, context, 'appointment-removed', 'appointments', {
      at: appointment.at,
      patient: appointment.patientNo,
    });
    judgeNear(store, context, [appointment]);
    return true;
  });
}

/** Judges readings again that nobody owns and that were made about then. */
function judgeNear(store: Store, context: RecordContext, appointments: readonly Appointment[]): void {
  const reach = context.policy.appointmentMinutes * 60_000;
  const ids = new Set(
    appointments.flatMap(({ at }) => store.judged.nobodysBetween(instant(at - reach), instant(at + reach))),
  );
  judgeReadings(store, [...ids], context.policy, context.now);
}

const sameMeter = (a: Lend, b: Lend): boolean => a.model === undefined || b.model === undefined || a.model === b.model;

const meet = (a: Lend, b: Lend): boolean =>
  (a.to === undefined || a.to > b.from) && (b.to === undefined || b.to > a.from);

const nameOf = (store: Store, lend: Lend): string => store.patients.byNumber(lend.patientNo)?.id ?? 'somebody';

/** Judges the readings of a meter again that may have been made at a moment or after. */
function judgeMeter(store: Store, context: RecordContext, meterId: string, since: Instant): void {
  judgeReadings(store, store.judged.ofMeterSince(meterId, since), context.policy, context.now);
}
