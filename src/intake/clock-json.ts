/** The clock state of a meter as JSON text in the store, checked when it is read back. */
import { z } from 'zod';
import type { Checkpoint } from '../clock/place.ts';
import { Fault } from '../core/fault.ts';

const Span = z.strictObject({ lo: z.number(), hi: z.number() });
const End = z.strictObject({ wall: z.number(), lo: z.number(), hi: z.number() });

const Stored = z.array(
  z.strictObject({
    readout: z.string(),
    reach: Span,
    tight: Span,
    drift: z.strictObject({
      weight: z.number(),
      weighted: z.number(),
      start: End.exactOptional(),
      end: End.exactOptional(),
    }),
    rateBefore: z.number().exactOptional(),
    incidents: z.int().nonnegative(),
    position: z.int().nonnegative(),
  }),
);

/** A checkpoint of the clock room, with how many tests of the meter come before it. */
export interface StoredCheckpoint extends Checkpoint {
  readonly position: number;
}

/** The JSON text of a meter's checkpoints, oldest first. */
export const writeCheckpoints = (checkpoints: readonly StoredCheckpoint[]): string => JSON.stringify(checkpoints);

/** The checkpoints in a JSON text. Throws STORE_DAMAGED where the text is none. */
export function readCheckpoints(json: string): StoredCheckpoint[] {
  try {
    return Stored.parse(JSON.parse(json));
  } catch (cause) {
    throw new Fault(
      'STORE_DAMAGED',
      "What the store knows of a meter's clock cannot be read",
      'Run "tallydock rebuild --accept": it makes this afresh from the stored bytes.',
      { cause },
    );
  }
}
