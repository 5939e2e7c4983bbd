/** The status of a reading as the CSV and every list show it: one rule for all of them. */
import { HOLDING_FLAGS } from '../core/holding-flags.ts';
import type { ShownStatus } from '../core/outgoing.ts';

export type { ShownStatus } from '../core/outgoing.ts';

/** Held where a flag asks for it, else as settling left it. */
export const statusOf = (status: 'settled' | 'provisional', flags: readonly string[]): ShownStatus =>
  HOLDING_FLAGS.some((flag) => flags.includes(flag)) ? 'held' : status;
