/** The status that lists show of a reading which was not judged yet: one of a store that an older program has left. */
import { HOLDING_FLAGS } from '../core/holding-flags.ts';
import type { ShownStatus } from '../core/outgoing.ts';

/** Held where a flag asks for it, else as settling left it. */
export const statusOf = (status: 'settled' | 'provisional', flags: readonly string[]): ShownStatus =>
  HOLDING_FLAGS.some((flag) => flags.includes(flag)) ? 'held' : status;
