/**
 * What a further sighting adds to the record of a known test: facts that were absent, the rest of a record that was
 * cut off, and the trust of having been told twice. It never alters a value.
 */
import type { TestRecord } from '../core/reading.ts';

/** Given by the ASTM decoder: its checksum is weak, so a test that it told only once is not yet sure. */
const SINGLE_READ = 'single-read';

/** Optional facts that are taken from a later sighting where the first one did not tell them. */
const FACTS = ['slot', 'runNumber', 'lot', 'lotExpiry', 'operator', 'patientId', 'lossCount'] as const;

type Mutable = { -readonly [K in keyof TestRecord]: TestRecord[K] };

/** True where `told` carries on where `known` was cut off. */
const completes = (known: TestRecord, told: TestRecord): boolean =>
  known.open === true && (told.open !== true || told.values.length > known.values.length);

/** The known record with what the new sighting adds; the same object where it adds nothing. */
export function mergeRecord(known: TestRecord, told: TestRecord): TestRecord {
  const merged: Mutable = { ...known };
  let changed = false;
  for (const fact of FACTS) {
    if (known[fact] === undefined && told[fact] !== undefined) {
      Object.assign(merged, { [fact]: told[fact] });
      changed = true;
    }
  }
  const extra = { ...told.extra, ...known.extra };
  if (Object.keys(extra).length > Object.keys(known.extra ?? {}).length) {
    merged.extra = extra;
    changed = true;
  }
  if (known.meterTime && told.meterTime && told.meterTime.resolutionMs < known.meterTime.resolutionMs) {
    // The same moment with the seconds that were missing.
    merged.meterTime = told.meterTime;
    merged.meterTimeText = told.meterTimeText;
    changed = true;
  }
  if (completes(known, told)) {
    merged.kind = told.kind;
    merged.values = told.values;
    if (told.errorCode !== undefined) merged.errorCode = told.errorCode;
    merged.flags = told.flags;
    if (told.open !== true) delete merged.open;
    // The added values have been told once only: their mark stays with the record that told them.
    return merged;
  }
  if (known.flags.includes(SINGLE_READ)) {
    merged.flags = known.flags.filter((flag) => flag !== SINGLE_READ);
    changed = true;
  }
  return changed ? merged : known;
}

/** True where the weak checksum of E1381 may have let a damaged fact through: told once, or differently, by ASTM. */
export const isUnsure = ({ flags }: TestRecord): boolean =>
  flags.includes(SINGLE_READ) || flags.includes('readings-differ');
