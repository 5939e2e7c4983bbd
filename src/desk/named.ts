/** People and moments as the desk's routes hand them on and take them in. */
import { HOLD_CODES, type HoldCode } from '../clinic/holds/hold.ts';
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { parseMoment } from '../core/local-moment.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { Store } from '../store/store.ts';
import type { PersonName } from './api/live.ts';

/** A person as the desk names them. */
export const nameOf = ({ id, name }: { readonly id: string; readonly name?: string }): PersonName => ({
  id,
  ...(name === undefined ? {} : { name }),
});

/** The person of a number, named; undefined where there is none. */
export function namedByNumber(store: Store, patientNo: number | undefined): PersonName | undefined {
  const person = patientNo === undefined ? undefined : store.patients.byNumber(patientNo);
  return person && nameOf(person);
}

/** A moment as people write it, local to the zone; `field` is named where it is none. Throws REQUEST_WRONG. */
export function momentField(
  field: string,
  text: string | undefined,
  zone: string,
  edge: 'start' | 'end' = 'start',
): Instant | undefined {
  if (text === undefined || text.trim() === '') return undefined;
  const read = parseMoment(text.trim(), zone, edge);
  if (read.ok) return read.value;
  throw new Fault('REQUEST_WRONG', `${field}: ${read.problem}`, 'Correct it.');
}

const DAY_MS = 86_400_000;

/** From the first moment of a local day to the first of the next. Throws REQUEST_WRONG. */
export function dayField(field: string, day: string, zone: string): readonly [Instant, Instant] {
  const from = momentField(field, day, zone) ?? instant(0);
  return [from, momentField(field, day, zone, 'end') ?? instant(from + DAY_MS)];
}

/** Why a reading waits, without what was released. */
export const openHolds = ({ holds }: StoredJudged): { readonly code: HoldCode; readonly sentence: string }[] =>
  holds.flatMap(({ code, sentence, isReleased }) => {
    const known = HOLD_CODES.find((c) => c === code);
    return known === undefined || isReleased ? [] : [{ code: known, sentence }];
  });
