/** The status of a reading as the CSV and every list show it: one rule for all of them. */

import type { ShownStatus } from '../core/outgoing.ts';

export type { ShownStatus } from '../core/outgoing.ts';

/** Flags that hold a reading back: a person has to look before it goes on. */
export const HOLDING_FLAGS: readonly string[] = ['conflict', 'value-unreadable', 'readings-differ', 'identity-shared'];

/** Held where a flag asks for it, else as settling left it. */
export const statusOf = (status: 'settled' | 'provisional', flags: readonly string[]): ShownStatus =>
  flags.some((flag) => HOLDING_FLAGS.includes(flag)) ? 'held' : status;
