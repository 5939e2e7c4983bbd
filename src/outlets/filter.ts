/** Which readings an outlet wants, and whether it is told names: the JSON in the store, checked. */
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import type { ShownStatus } from '../core/outgoing.ts';
import type { ReadingKind } from '../core/reading.ts';
import { SecretSource } from './secret.ts';

/** Held and void readings are never wanted: what is clear to go on is `settled`, or `provisional` unless refused here. */
export const OutletFilter = z.strictObject({
  kinds: z
    .array(z.enum(['patient', 'control', 'error']))
    .min(1)
    .exactOptional(),
  /** Serial numbers of meters. */
  meters: z.array(z.string().min(1)).min(1).exactOptional(),
  /** Wait until a whole download has told it. */
  onlySettled: z.boolean().exactOptional(),
  /** Without names, dates and numbers that lead to a person: where the key of the pseudonyms is, and a mark to know it by. */
  deIdentified: z.strictObject({ secret: SecretSource, mark: z.string() }).exactOptional(),
});
export type OutletFilter = z.infer<typeof OutletFilter>;

/** The filter in a JSON text of the store. Throws OUTLET_INVALID. */
export function readFilter(json: string): OutletFilter {
  const parsed = OutletFilter.safeParse(JSON.parse(json));
  if (parsed.success) return parsed.data;
  throw new Fault(
    'OUTLET_INVALID',
    `The filter of this outlet cannot be read: ${parsed.error.issues[0]?.message}`,
    'Remove the outlet and add it again',
  );
}

/** What a filter looks at. */
export interface Filtered {
  readonly status: ShownStatus;
  readonly kind: ReadingKind;
  readonly meterId: string;
}

/** True where an outlet is to have a reading. */
export function passes(filter: OutletFilter, { status, kind, meterId }: Filtered): boolean {
  const isClear = status === 'settled' || (status === 'provisional' && filter.onlySettled !== true);
  return isClear && (filter.kinds?.includes(kind) ?? true) && (filter.meters?.includes(meterId) ?? true);
}
