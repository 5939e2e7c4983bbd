/** The memory state of a meter as JSON text in the store, checked when it is read back. */
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import { wall } from '../core/meter-time.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import type { MemoryState } from '../memory/state.ts';

const Id = z.string().transform((text) => text as ReadingId);

const Stamp = z.strictObject({ text: z.string(), wall: z.int().transform(wall), resolutionMs: z.int().positive() });

const Record = z.strictObject({
  place: z.string(),
  slot: z.int().exactOptional(),
  runNumber: z.int().exactOptional(),
  meterTimeText: z.string(),
  meterTime: Stamp.exactOptional(),
  kind: z.enum(['patient', 'control', 'error']),
  values: z.array(z.strictObject({ analyte: z.string(), value: z.string(), unit: z.string() })),
  errorCode: z.string().exactOptional(),
  lot: z.string().exactOptional(),
  lotExpiry: z.string().exactOptional(),
  operator: z.string().exactOptional(),
  patientId: z.string().exactOptional(),
  flags: z.array(z.string()),
  lossCount: z.int().exactOptional(),
  extra: z.record(z.string(), z.string()).exactOptional(),
  open: z.boolean().exactOptional(),
});

const Known = z.strictObject({
  kind: z.literal('test'),
  id: Id,
  record: Record,
  status: z.enum(['settled', 'provisional']),
  gone: z.enum(['deleted', 'overwritten', 'vanished']).exactOptional(),
  ringSlot: z.int().exactOptional(),
  conflictWith: Id.exactOptional(),
});

const State = z.strictObject({
  retired: z.int().nonnegative(),
  sequence: z.array(
    z.discriminatedUnion('kind', [
      Known,
      z.strictObject({ kind: z.literal('gap'), atMost: z.int().nonnegative().exactOptional() }),
    ]),
  ),
  highestRun: z.int().exactOptional(),
  last: z
    .strictObject({
      download: z.string().transform((text) => text as DownloadId),
      at: z.int().transform(instant),
      complete: z.boolean(),
      full: z.boolean(),
      clock: z.strictObject({ shown: z.int().transform(wall), at: z.int().transform(instant) }).exactOptional(),
    })
    .exactOptional(),
});

/** The JSON text of a state. */
export const writeMemoryState = (state: MemoryState): string => JSON.stringify(state);

/** The state in a JSON text. Throws STORE_DAMAGED where the text is not one. */
export function readMemoryState(json: string): MemoryState {
  try {
    return State.parse(JSON.parse(json));
  } catch (cause) {
    throw new Fault(
      'STORE_DAMAGED',
      "What the store knows of a meter's memory cannot be read",
      'Run "tallydock rebuild --accept": it makes this afresh from the stored bytes.',
      { cause },
    );
  }
}
