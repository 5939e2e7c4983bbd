/** Where the tests of a meter stand in its lifetime order after one more download has been settled. Pure. */
import { Fault } from '../core/fault.ts';
import type { ReadingId } from '../core/reading.ts';
import type { KnownTest, MemoryState, Settled } from '../memory/state.ts';

const testsOf = (state: MemoryState): KnownTest[] => state.sequence.filter((item) => item.kind === 'test');

/** The position of every test in a state. */
export const positionsIn = (state: MemoryState): Map<ReadingId, number> =>
  new Map(testsOf(state).map((test, index) => [test.id, state.retired + index]));

/**
 * The positions of all tests that were in the state before or are new, after settling. Tests that left the state have
 * been retired: they stand before all that is left, in the order in which they stood; those that came and went within
 * one download stand behind the others.
 */
export function positionsAfter(before: MemoryState, settled: Settled): Map<ReadingId, number> {
  const positions = positionsIn(settled.state);
  const retired = [...testsOf(before), ...settled.added].filter((test) => !positions.has(test.id));
  if (before.retired + retired.length !== settled.state.retired)
    throw new Fault('INTERNAL', 'Settling lost count of the tests that left the memory', 'Please report this.');
  for (const [index, test] of retired.entries()) positions.set(test.id, before.retired + index);
  return positions;
}
