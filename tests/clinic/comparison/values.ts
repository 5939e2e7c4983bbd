/** Values of invented people for the tests of the comparison: minutes count from one morning in Port Alder. */
import type { PersonValue } from '../../../src/clinic/comparison/pairing.ts';
import { instant } from '../../../src/core/instant.ts';

const MORNING = Date.UTC(2026, 2, 2, 8);

export const at = (minute: number) => instant(MORNING + minute * 60_000);

/** A value at a minute, known to within so many minutes either way; `Infinity` leaves both bounds open. */
export function valueAt(
  id: string,
  minute: number,
  value = 2.5,
  { within = 0, patient = 'P1', beyond }: { within?: number; patient?: string; beyond?: '<' | '>' } = {},
): PersonValue {
  const bounds = within === Infinity ? {} : { earliest: at(minute - within), latest: at(minute + within) };
  return { id, patient, value, time: { at: at(minute), ...bounds }, ...(beyond ? { beyond } : {}) };
}

/** Pairs of x and y from two lists. */
export const zip = (xs: readonly number[], ys: readonly number[]) => xs.map((x, i) => ({ x, y: ys[i] ?? Number.NaN }));
