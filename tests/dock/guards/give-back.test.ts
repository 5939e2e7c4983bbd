/** Giving memory back on order. */
import { expect, it } from 'vitest';
import { giveBackMemory } from '../../../src/dock/guards/give-back.ts';

it('what nobody refers to any more is collected, also when nothing else happens', async () => {
  const refs = Array.from({ length: 100 }, () => new WeakRef({ text: 'garbage' }));
  // A weak reference holds its object until the turn that made it is over.
  await new Promise((resolve) => setImmediate(resolve));
  await giveBackMemory();
  expect(refs.filter((ref) => ref.deref() !== undefined)).toEqual([]);
});
