/** The memory of a virtual meter, against a plain list that remembers everything. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MemoryOrder } from '../../src/core/download.ts';
import {
  bySlot,
  deleteAll,
  deleteOne,
  emptyMemory,
  factoryReset,
  keep,
  type Memory,
} from '../../src/virtual/memory.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260303);
const ORDERS: readonly MemoryOrder[] = ['newest', 'oldest', 'ring'];
const add = (memory: Memory): Memory => keep(memory, { kind: 'patient', values: [] }, '2026-03-02T10:15', 0);
const filled = (capacity: number, order: MemoryOrder, tests: number): Memory => {
  let memory = emptyMemory(capacity, order);
  for (let i = 0; i < tests; i++) memory = add(memory);
  return memory;
};
/** `slot:made` of what is told, by slot. */
const told = (memory: Memory): string =>
  bySlot(memory)
    .map(({ slot, test }) => `${slot}:${test.made}`)
    .join(' ');

describe('the memory of a virtual meter', () => {
  it.each([
    ['newest', 2, '1:2 2:1'],
    ['newest', 5, '1:5 2:4 3:3'],
    ['oldest', 2, '1:1 2:2'],
    ['oldest', 5, '1:3 2:4 3:5'],
    ['ring', 2, '1:1 2:2'],
    ['ring', 5, '1:4 2:5 3:3'],
  ] as const)('of three slots tells its %s order after %i tests as the protocol page says', (order, tests, wanted) => {
    expect(told(filled(3, order, tests))).toBe(wanted);
  });

  it('says of a ring which slot comes next, also after it has gone round', () => {
    expect([0, 1, 2, 3, 4, 7].map((tests) => filled(3, 'ring', tests).next)).toEqual([1, 2, 3, 1, 2, 2]);
  });

  it('closes up behind a deleted result, but a ring leaves its slot empty', () => {
    expect(told(deleteOne(filled(4, 'newest', 4), 1))).toBe('1:4 2:3 3:1');
    expect(told(deleteOne(filled(4, 'oldest', 4), 1))).toBe('1:1 2:3 3:4');
    expect(told(deleteOne(filled(4, 'ring', 4), 1))).toBe('1:1 3:3 4:4');
    expect(told(add(deleteOne(filled(4, 'ring', 4), 1)))).toBe('1:5 3:3 4:4');
    expect(told(add(add(deleteOne(filled(4, 'ring', 4), 1))))).toBe('1:5 2:6 3:3 4:4');
  });

  it('goes on with its running numbers after everything is deleted, and starts again after a factory reset', () => {
    const runs = (memory: Memory): number[] => add(memory).held.map(({ test }) => test.runNumber);
    for (const order of ORDERS) {
      expect(runs(deleteAll(filled(3, order, 5)))).toEqual([6]);
      expect(runs(factoryReset(filled(3, order, 5)))).toEqual([1]);
      expect(add(factoryReset(filled(3, order, 5))).held[0]?.test.made).toBe(6);
    }
    expect(told(add(deleteAll(filled(3, 'ring', 4))))).toBe('2:5');
    expect(told(add(factoryReset(filled(3, 'ring', 4))))).toBe('1:5');
  });

  it(`holds the last tests that nobody deleted, whatever happened (SEED=${SEED})`, () => {
    // A test is made, or the test at this place is deleted: eight in nine are tests.
    const happenings = fc.array(
      fc.oneof({ weight: 8, arbitrary: fc.constant('test' as const) }, { weight: 1, arbitrary: fc.nat(11) }),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(fc.constantFrom(...ORDERS), fc.integer({ min: 1, max: 12 }), happenings, (order, capacity, list) => {
        let memory = emptyMemory(capacity, order);
        // The plain list: a ring's slots as an array, any other memory as the tests it holds.
        const slots: (number | undefined)[] = Array.from({ length: capacity });
        let held: number[] = [];
        let made = 0;
        for (const happening of list) {
          if (happening === 'test') {
            memory = add(memory);
            if (order === 'ring') slots[made % capacity] = made + 1;
            held = [...held, ++made].slice(-capacity);
          } else if (happening < memory.held.length) {
            const gone = memory.held[happening]?.test.made;
            memory = deleteOne(memory, happening);
            slots.forEach((test, i) => {
              if (test === gone) slots[i] = undefined;
            });
            held = held.filter((test) => test !== gone);
          }
        }
        const ring = slots.flatMap((test, i) => (test ? [`${i + 1}:${test}`] : []));
        const inARow = (order === 'newest' ? held.toReversed() : held).map((test, i) => `${i + 1}:${test}`);
        expect(told(memory)).toBe((order === 'ring' ? ring : inARow).join(' '));
        expect(memory.held.map(({ test }) => test.made)).toEqual(
          [...memory.held].map(({ test }) => test.made).sort((a, b) => a - b),
        );
      }),
      { seed: SEED, numRuns: 300 },
    );
  });
});
