/** What an operator enters into the registers: strip lots, controls, values of the laboratory. */
import { Fault } from '../core/fault.ts';
import type { StripLot } from '../core/strip-lot.ts';
import type { LabValue } from '../store/lab-values.ts';
import type { Store } from '../store/store.ts';
import type { ControlLevel } from '../store/strip-lots.ts';
import { audit, type RecordContext } from './context.ts';
import { judgeReadings } from './judge.ts';

const EXPIRY = /^\d{4}-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?$/;
const DECIMAL = /^\d{1,4}(\.\d{1,4})?$/;
const RESULT = /^[<>]?\d{1,4}(\.\d{1,4})?$/;

function need(isRight: boolean, what: string, hint: string): void {
  if (!isRight) throw new Fault('NOT_POSSIBLE', what, hint);
}

/** Enters a strip lot, or what is known better of it. Throws NOT_POSSIBLE for values that are none. */
export function putLot(store: Store, context: RecordContext, lot: StripLot): void {
  need(lot.lot.trim() !== '', 'A strip lot needs its number', 'It is printed on the box.');
  checkExpiry(lot.expiry);
  for (const value of [lot.isi, lot.mnpt])
    need(value === undefined || DECIMAL.test(value), `"${value}" is not a number`, 'Write it with a point: 1.02');
  store.db.write(() => {
    const isFirst = store.lots.list().length === 0;
    store.lots.put(lot, context.by, context.now);
    audit(store, context, 'lot-entered', `lot ${lot.lot}`, { ...lot });
    // With the first lot the register is in use: every reading is asked for its lot.
    const ids = store.judged.list(isFirst ? {} : { lot: lot.lot }).map((j) => j.reading);
    judgeReadings(store, ids, context.policy, context.now);
  });
}

/** Enters a control, or what is known better of it; gives its number. Throws NOT_POSSIBLE for values that are none. */
export function putControl(store: Store, context: RecordContext, level: ControlLevel): number {
  const { mean, sd, low, high } = level;
  const isMean = mean !== undefined && sd !== undefined && Number(sd) > 0;
  const isRange = low !== undefined && high !== undefined && Number(low) < Number(high);
  for (const value of [mean, sd, low, high])
    need(value === undefined || DECIMAL.test(value), `"${value}" is not a number`, 'Write it with a point: 2.4');
  need(isMean || isRange, 'A control needs its mean and SD, or its range', 'They are printed on its sheet.');
  checkExpiry(level.expiry);
  return store.db.write(() => {
    const levelNo = store.controls.put(level, context.by, context.now);
    audit(store, context, 'control-entered', `control ${level.lot} ${level.level}`, { ...level });
    const tests = store.judged.list({ kind: 'control' });
    judgeReadings(
      store,
      tests.map((j) => j.reading),
      context.policy,
      context.now,
    );
    return levelNo;
  });
}

/** Enters a value of the laboratory. Throws NOT_POSSIBLE for a value that is none. */
export function putLabValue(store: Store, context: RecordContext, value: LabValue): 'added' | 'known' | 'changed' {
  need(RESULT.test(value.value), `"${value.value}" is not a result`, 'Write it with a point: 2.4');
  return store.db.write(() => {
    const fate = store.labValues.put(value, context.by, context.now);
    if (fate !== 'known')
      audit(store, context, 'lab-value-entered', `patient number ${value.patientNo}`, {
        at: value.at,
        analyte: value.analyte,
        value: value.value,
      });
    return fate;
  });
}

/** Takes a value of the laboratory back as if it had never been entered. Throws NOT_POSSIBLE where there is none such. */
export function undoLabValue(store: Store, context: RecordContext, labNo: number): void {
  store.db.write(() => {
    if (!store.labValues.undo(labNo, context.now))
      throw new Fault('NOT_POSSIBLE', `There is no laboratory value number ${labNo}`, 'See "tallydock lab list".');
    audit(store, context, 'lab-value-undone', `laboratory value ${labNo}`, {});
  });
}

function checkExpiry(expiry: string | undefined): void {
  need(
    expiry === undefined || EXPIRY.test(expiry),
    `"${expiry}" is not an expiry date`,
    'Write it as 2027-03-31, or 2027-03 for the end of that month.',
  );
}
