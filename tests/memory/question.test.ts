/** The question that a download puts to a memory, by hand. */
import { describe, expect, it } from 'vitest';
import { wall } from '../../src/core/meter-time.ts';
import { askOf, explain, sightingOf } from '../../src/memory/question.ts';
import { download, hole, knownOn, START, test } from './meter-words.ts';

const sequence = [knownOn(1), knownOn(2)];

describe('a question', () => {
  it('has what is known of the memory, what was told, and how far the one can be overwritten', () => {
    const asked = askOf(
      { sequence },
      { memory: 0, highestRun: 7 },
      download(9, [test(2), hole], { capacity: 2, held: 2 }),
    );
    expect(asked.known.map((item) => [item.kind, item.from])).toEqual([
      ['place', 0],
      ['place', 1],
    ]);
    expect(asked.told.map((item) => item.kind)).toEqual(['test', 'hole']);
    expect(asked.sightings).toEqual([{ record: { ...test(2), place: '1' } }, undefined]);
    expect([asked.weak, asked.overwritable, asked.highestRun]).toEqual([false, Number.POSITIVE_INFINITY, 7]);
  });

  it('says nothing of what nobody knows', () => {
    const { capacity: _, ...one } = download(9, [test(2)]);
    const asked = askOf({ sequence }, { memory: 0 }, one);
    expect(Object.keys(asked)).toEqual(['known', 'told', 'sightings', 'weak', 'clock']);
  });

  it('is weak by the protocol whose check is weak', () => {
    expect(askOf({ sequence }, { memory: 0 }, download(9, [], { protocol: 'astm' })).weak).toBe(true);
  });

  it('is a hole where a download broke off before it told anything, and no other', () => {
    const told = (one: ReturnType<typeof download>) => askOf({ sequence }, { memory: 0 }, one).told;
    expect(told(download(9, [], { complete: false }))).toEqual([{ kind: 'hole' }]);
    expect(told(download(9, []))).toEqual([]);
    expect(told(download(9, [test(1)], { complete: false }))).toHaveLength(1);
  });

  it('is put to one memory, and to what that may have borrowed', () => {
    const both = [knownOn(1, { memory: 0 }), knownOn(2, { memory: 1 })];
    const known = (asked: Parameters<typeof askOf>[1]) =>
      askOf({ sequence: both }, asked, download(9, [])).known.map((item) => item.kind);
    expect(known({ memory: 0 })).toEqual(['place']);
    expect(known({ memory: 0, mayBorrow: () => true })).toEqual(['place', 'gap', 'place']);
    expect(known({ memory: 2 })).toEqual([]);
  });

  it('knows what the clock showed last', () => {
    const last = {
      download: 'D1' as never,
      at: download(5, []).at,
      complete: true,
      full: false,
      clock: { shown: wall(START + 5 * 86_400_000), at: download(5, []).at },
    };
    const told = { record: test(4) };
    expect(askOf({ sequence }, { memory: 0, last }, download(9, [])).clock.stampedWhen(told)).toBe('before');
    expect(askOf({ sequence }, { memory: 0 }, download(9, [])).clock.stampedWhen(told)).toBeUndefined();
  });

  it('is explained at once or by the full search', () => {
    const steps = (one: ReturnType<typeof download>) =>
      explain(askOf({ sequence }, { memory: 0 }, one)).steps.map(({ kind }) => kind);
    expect(steps(download(9, [test(1), test(2), test(3)]))).toEqual(['match', 'match', 'new']);
    expect(steps(download(9, [hole, test(2)]))).toEqual(['untold', 'hole', 'match']);
  });
});

it('a test keeps its slot in a ring that the line protocol told, and in no other', () => {
  const record = test(1, { slot: 4 });
  const slot = (order: 'ring' | 'newest', protocol: 'line' | 'astm', one = record) =>
    sightingOf(one, { order, protocol });
  expect(slot('ring', 'line')).toEqual({ record, ringSlot: 4 });
  expect(Object.keys(slot('newest', 'line'))).toEqual(['record']);
  expect(Object.keys(slot('ring', 'astm'))).toEqual(['record']);
  expect(Object.keys(slot('ring', 'line', test(1)))).toEqual(['record']);
});
