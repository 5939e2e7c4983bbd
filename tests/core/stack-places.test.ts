/** Where something was thrown, without what was said. */
import { expect, it } from 'vitest';
import { stackPlaces } from '../../src/core/stack-places.ts';

it('the places of a stack leave the message out, however many lines it has', () => {
  const places = stackPlaces(new Error('Ines Calloway\nat home\nINR 2.4'));
  expect(places.length).toBeGreaterThan(0);
  expect(places[0]).toContain('stack-places.test.ts');
  expect(places.join('\n')).not.toMatch(/Calloway|home|INR/);
});

it.each(['text', undefined, null, { stack: '    at nowhere' }])('%j has none', (thrown) => {
  expect(stackPlaces(thrown)).toEqual([]);
});
