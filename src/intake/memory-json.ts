/**
 * The memory state of a meter as JSON text in the store. What bears the seal of this form was written by this very code
 * and is taken as it is; anything else is checked field by field.
 */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import { wall } from '../core/meter-time.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import type { MemoryState } from '../memory/state.ts';
import type { StoredMemory } from '../store/meter-states.ts';

const Id = z.string().transform((text) => text as ReadingId);

const Count = z.int().nonnegative();

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
  memory: Count.exactOptional(),
});

const Sequence = z.array(
  z.discriminatedUnion('kind', [
    Known,
    z.strictObject({ kind: z.literal('gap'), atMost: Count.exactOptional(), memory: Count.exactOptional() }),
    z.strictObject({ kind: z.literal('past'), count: Count }),
  ]),
);

/** The tests as they are kept: a list; beside images of memories that vanished, an object. */
const Tests = z.union([
  Sequence.transform((sequence) => ({ sequence })),
  z.strictObject({
    sequence: Sequence,
    images: z.array(z.strictObject({ memory: Count, from: Count, items: Sequence })),
  }),
]);

const Last = z.strictObject({
  download: z.string().transform((text) => text as DownloadId),
  at: z.int().transform(instant),
  complete: z.boolean(),
  full: z.boolean(),
  clock: z.strictObject({ shown: z.int().transform(wall), at: z.int().transform(instant) }).exactOptional(),
});

const Facts = { highestRun: z.int().exactOptional(), last: Last.exactOptional() };

const Standing = z.strictObject({
  retired: Count,
  ...Facts,
  memory: Count.exactOptional(),
  highestMemory: Count.exactOptional(),
  others: z.array(z.strictObject({ memory: Count, ...Facts })).exactOptional(),
  sharedAt: z.int().transform(instant).exactOptional(),
});

/** Name of the form of the sequence. A change of its fields takes a new name, so that old writing is checked again. */
const FORM = 'sequence 1\n';

const sealOf = (sequence: string): string => createHash('sha256').update(FORM).update(sequence).digest('hex');

type WithImages = Pick<MemoryState, 'sequence' | 'images'>;
type OwnTests = MemoryState['sequence'] | WithImages;

const ownTests = (raw: OwnTests): WithImages => ('sequence' in raw ? raw : { sequence: raw });

/** A state as texts for the store. */
export function writeMemoryState({ sequence, images, ...standing }: MemoryState): StoredMemory {
  const text = JSON.stringify(images ? { sequence, images } : sequence);
  return { standing: JSON.stringify(standing), sequence: text, seal: sealOf(text) };
}

/** The state in the texts of the store. Throws STORE_DAMAGED where they hold none. */
export function readMemoryState({ standing, sequence, seal }: StoredMemory): MemoryState {
  try {
    const raw: unknown = JSON.parse(sequence);
    const tests = seal === sealOf(sequence) ? ownTests(raw as OwnTests) : Tests.parse(raw);
    return { ...Standing.parse(JSON.parse(standing)), ...tests };
  } catch (cause) {
    throw new Fault(
      'STORE_DAMAGED',
      "What the store knows of a meter's memory cannot be read",
      'Run "tallydock rebuild --accept": it makes this afresh from the stored bytes.',
      { cause },
    );
  }
}
