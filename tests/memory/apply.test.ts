/** An explanation written into the sequence, step by step, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ImageItem } from '../../src/core/download.ts';
import type { DownloadId, TestRecord } from '../../src/core/reading.ts';
import { align } from '../../src/memory/align.ts';
import { SequenceWriter, type WriterFacts } from '../../src/memory/apply.ts';
import { askOf } from '../../src/memory/question.ts';
import type { Sighting } from '../../src/memory/same.ts';
import { standingOf } from '../../src/memory/standing.ts';
import type { Departure, KnownTest, SequenceItem } from '../../src/memory/state.ts';
import type { Question, Step } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, hole, knownOn, test } from './meter-words.ts';

const gap = { kind: 'gap' } as const;
const SEED = seedOr(20260301);

type Told = Sighting | TestRecord | { readonly atMost?: number };

interface Setup extends Partial<WriterFacts> {
  /** How the known places went, by their index. */
  readonly went?: Record<number, Departure>;
  /** The memory whose items are known. */
  readonly memoryAsked?: number;
  readonly mayBorrow?: (test: KnownTest) => boolean;
}

/** Takes the steps: m match, x conflict, n new, N new and perhaps a repeat, - missing, u untold, c closed, h closed hole, H open hole. */
function write(old: readonly SequenceItem[], told: readonly Told[], shorts: string, setup: Setup = {}) {
  const { went = {}, memoryAsked = 0, mayBorrow, ...facts } = setup;
  const image = told.map((one, at): ImageItem => {
    if ('record' in one) return { kind: 'test', test: { ...one.record, place: `${at + 1}` } };
    if ('values' in one) return { kind: 'test', test: { ...one, place: `${at + 1}` } };
    return { kind: 'hole', ...one };
  });
  const question = {
    known: standingOf({ sequence: old }, memoryAsked, mayBorrow),
    told: image,
    sightings: image.map((item, at) => {
      const one = told[at];
      if (item.kind === 'hole') return undefined;
      return { record: item.test, ...(one && 'ringSlot' in one && { ringSlot: one.ringSlot }) };
    }),
  } as unknown as Question;
  const writer = new SequenceWriter(old, question, {
    download: 'D9' as DownloadId,
    complete: true,
    provesOrder: true,
    departures: new Map(Object.entries(went).map(([k, how]) => [Number(k), how])),
    flags: [],
    ...facts,
  });
  let k = 0;
  let t = 0;
  for (const short of shorts) {
    const steps: Record<string, () => Step> = {
      m: () => ({ kind: 'match', known: k++, claimant: 0, told: t++ }),
      M: () => ({ kind: 'match', known: k++, claimant: 1, told: t++ }),
      x: () => ({ kind: 'conflict', known: k++, told: t++ }),
      n: () => ({ kind: 'new', told: t++, repeat: false }),
      N: () => ({ kind: 'new', told: t++, repeat: true }),
      '-': () => ({ kind: 'missing', known: k++ }),
      u: () => ({ kind: 'untold', known: k++ }),
      c: () => ({ kind: 'close', known: k++ }),
      h: () => ({ kind: 'hole', told: t++, open: false }),
      H: () => ({ kind: 'hole', told: t++, open: true }),
    };
    const step = steps[short]?.();
    if (step) writer.take(step);
  }
  return writer;
}
const ids = (tests: readonly SequenceItem[]) =>
  tests.map((item) => (item.kind === 'test' ? item.id.slice(1) : item.kind === 'gap' ? `…${item.atMost ?? ''}` : '-'));
const written = (...args: Parameters<typeof write>) => {
  const writer = write(...args);
  writer.end();
  return ids(writer.sequence).join(' ');
};

describe('known tests that were told again', () => {
  it('stay as they are where nothing is added, the very same', () => {
    const old = [knownOn(1), knownOn(2)];
    const writer = write(old, [test(1), test(2)], 'mm');
    expect(writer.sequence).toEqual(old);
    expect(writer.sequence[0]).toBe(old[0]);
    expect(writer.sightings).toEqual([
      { place: '1', reading: 'D1-1', isNew: false },
      { place: '2', reading: 'D1-2', isNew: false },
    ]);
    expect([writer.changed, writer.added, writer.newest, writer.borrowed, [...writer.joints]]).toEqual([
      [],
      [],
      [],
      [],
      [],
    ]);
  });

  it('take facts, and are settled by a complete download', () => {
    const old = knownOn(1, { status: 'provisional' });
    const settled = write([old], [test(1, { lot: '1200003' })], 'm');
    expect(settled.sequence).toEqual([{ ...old, status: 'settled', record: { ...old.record, lot: '1200003' } }]);
    expect(settled.changed).toEqual(settled.sequence);
    expect(write([old], [test(1)], 'm').changed).toEqual([{ ...old, status: 'settled' }]);
    expect(write([old], [test(1)], 'm', { complete: false }).changed).toEqual([]);
    expect(write([knownOn(1)], [test(1)], 'm', { complete: false }).sequence).toEqual([knownOn(1)]);
  });

  it('take the slot of a ring once, and keep it', () => {
    const told = { record: test(1), ringSlot: 4 };
    expect(write([knownOn(1)], [told], 'm').changed).toEqual([knownOn(1, { ringSlot: 4 })]);
    const at4 = knownOn(1, { ringSlot: 4 });
    expect(write([at4], [told], 'm').sequence[0]).toBe(at4);
    expect(write([at4], [test(1)], 'm').sequence[0]).toBe(at4);
    expect(Object.keys(write([knownOn(1)], [test(1, { lot: 'A' })], 'm').changed[0] ?? {})).not.toContain('ringSlot');
  });

  it('of a place in conflict: the one that was told is seen again, the other stays beside it', () => {
    const rivals = [knownOn(1), knownOn(2, { conflictWith: knownOn(1).id })];
    const first = write(rivals, [test(1, { lot: 'A' })], 'm');
    expect([ids(first.sequence), ids(first.changed), first.sightings[0]?.reading]).toEqual([
      ['1-1', '1-2'],
      ['1-1'],
      'D1-1',
    ]);
    const second = write(rivals, [test(2, { lot: 'A' })], 'M');
    expect([ids(second.sequence), ids(second.changed), second.sightings[0]?.reading]).toEqual([
      ['1-1', '1-2'],
      ['1-2'],
      'D1-2',
    ]);
  });

  it('that were laid to another memory come to the one that told them, and are gone no more', () => {
    const lent = knownOn(1, { memory: 1, gone: 'vanished', status: 'provisional' });
    const writer = write([lent], [{ record: test(1), ringSlot: 3 }], 'cm', { memory: 0, mayBorrow: () => true });
    const here = knownOn(1, { memory: 0, ringSlot: 3 });
    expect(writer.sequence).toEqual([here]);
    expect(writer.sequence[0]).not.toHaveProperty('gone');
    expect(ids(writer.borrowed)).toEqual(['1-1']);
    expect(writer.changed).toEqual([here]);
    const bare = write([lent], [test(1)], 'cm', { memory: 0, mayBorrow: () => true });
    expect(bare.changed).toEqual([knownOn(1, { memory: 0 })]);
    expect(bare.changed[0]).not.toHaveProperty('ringSlot');
    expect(bare.borrowed).toEqual(bare.changed);
  });
});

describe('new tests', () => {
  it('come where they were told, with the id of their place', () => {
    const writer = write([knownOn(1)], [test(1), test(2)], 'mn');
    expect(writer.added).toEqual([{ kind: 'test', id: 'D9-2', record: { ...test(2), place: '2' }, status: 'settled' }]);
    expect(Object.keys(writer.added[0] ?? {})).toEqual(['kind', 'id', 'record', 'status']);
    expect(writer.sightings[1]).toEqual({ place: '2', reading: 'D9-2', isNew: true });
    expect(ids(writer.sequence)).toEqual(['1-1', '9-2']);
    // It has a new neighbour in front, and so has what comes behind it.
    expect([...writer.joints]).toEqual([1, 2]);
  });

  it('are provisional by a download that broke off, and keep slot, memory and flags', () => {
    const told = { record: test(2, { flags: ['lo'] }), ringSlot: 5 };
    const facts = { complete: false, memory: 2, flags: ['identity-shared'] };
    expect(write([], [told, test(3)], 'nN', { ...facts, memoryAsked: 2 }).added).toEqual([
      {
        kind: 'test',
        id: 'D9-1',
        record: { ...test(2), place: '1', flags: ['lo', 'identity-shared'] },
        status: 'provisional',
        ringSlot: 5,
        memory: 2,
      },
      {
        kind: 'test',
        id: 'D9-2',
        record: { ...test(3), place: '2', flags: ['perhaps-repeat', 'identity-shared'] },
        status: 'provisional',
        memory: 2,
      },
    ]);
    expect(write([], [test(2)], 'N').added[0]?.record.flags).toEqual(['perhaps-repeat']);
    expect(write([], [test(2, { flags: ['lo'] })], 'n').added[0]?.record.flags).toEqual(['lo']);
  });

  it('are newer than all that is known where nothing but gaps stands behind them', () => {
    const newest = (old: readonly SequenceItem[], told: readonly Told[], shorts: string) =>
      ids(write(old, told, shorts).newest);
    expect(newest([knownOn(1)], [test(1), test(2), test(3)], 'mnn')).toEqual(['9-2', '9-3']);
    expect(newest([gap, knownOn(3)], [test(1), test(3), test(4)], 'ncmn')).toEqual(['9-3']);
    expect(newest([knownOn(1), gap], [test(1), test(2)], 'mn')).toEqual(['9-2']);
  });

  it('come behind what is gone or another memory’s in front of the next known one', () => {
    const gone = knownOn(2, { gone: 'deleted' });
    expect(written([knownOn(1), gone, gap, knownOn(4)], [test(1), test(3), test(4)], 'mncm')).toBe('1-1 1-2 9-2 1-4');
    expect(written([knownOn(1), gone], [test(1), test(3)], 'mn')).toBe('1-1 1-2 9-2');
    expect(written([gone, knownOn(4)], [test(4)], 'm')).toBe('1-2 1-4');
  });

  it('that came after the image come last, and are the newest', () => {
    const writer = write([knownOn(1), knownOn(2, { gone: 'deleted' })], [test(1)], 'm');
    writer.append({ record: { ...test(5), place: 'n1' } });
    expect([ids(writer.sequence), ids(writer.newest), ids(writer.added)]).toEqual([
      ['1-1', '1-2', '9-n1'],
      ['9-n1'],
      ['9-n1'],
    ]);
    expect([...writer.joints]).toEqual([2, 3]);
  });
});

describe('a conflict', () => {
  it('keeps both, each naming the other', () => {
    const writer = write([knownOn(1), knownOn(2)], [test(1, { inr: '9.9' }), test(2)], 'xm');
    expect(ids(writer.sequence)).toEqual(['1-1', '9-1', '1-2']);
    expect(writer.changed).toEqual([knownOn(1, { conflictWith: 'D9-1' as never })]);
    expect(writer.added.map((one) => one.conflictWith)).toEqual(['D1-1']);
    expect(writer.conflicts).toEqual([{ reading: 'D1-1', with: 'D9-1' }]);
    expect(writer.newest).toEqual([]);
    expect(writer.added[0]?.record.flags).toEqual([]);
  });

  it('with a place that two claim comes behind both, and the first keeps its rival', () => {
    const rivals = [knownOn(1, { conflictWith: knownOn(2).id }), knownOn(2, { conflictWith: knownOn(1).id })];
    const writer = write(rivals, [test(1, { inr: '9.9' })], 'x');
    expect([ids(writer.sequence), ids(writer.changed)]).toEqual([['1-1', '1-2', '9-1'], []]);
    expect(writer.conflicts).toEqual([{ reading: 'D1-1', with: 'D9-1' }]);
  });
});

describe('tests that were not told', () => {
  it('are gone where it is known how, and else stay', () => {
    const old = [knownOn(1), knownOn(2), knownOn(3)];
    const writer = write(old, [test(2)], '-m-', { went: { 0: 'overwritten' } });
    expect(writer.sequence).toEqual([knownOn(1, { gone: 'overwritten' }), knownOn(2), knownOn(3)]);
    expect(writer.changed).toEqual([knownOn(1, { gone: 'overwritten' })]);
    expect(write(old, [{}], 'uuuh', { went: { 1: 'overwritten' }, complete: false }).changed).toEqual([
      knownOn(2, { gone: 'overwritten' }),
    ]);
  });

  it('go both, where two claim the place', () => {
    const rivals = [knownOn(1), knownOn(2, { conflictWith: knownOn(1).id })];
    expect(write(rivals, [], '-', { went: { 0: 'deleted' } }).changed.map((one) => one.gone)).toEqual([
      'deleted',
      'deleted',
    ]);
  });

  it('do not go from this memory where they are another’s', () => {
    const lent = knownOn(1, { memory: 1 });
    const writer = write([lent], [], 'c-', { memory: 0, mayBorrow: () => true, went: { 1: 'deleted' } });
    expect(writer.sequence).toEqual([lent]);
    expect(writer.changed).toEqual([]);
  });
});

describe('a gap', () => {
  const old = [knownOn(1), { ...gap, atMost: 3 }, knownOn(2)];

  it('closes where it was told over: the one behind it has a new neighbour', () => {
    const writer = write(old, [test(1), test(2)], 'mcm');
    expect([ids(writer.sequence), [...writer.joints], writer.firstClosed]).toEqual([['1-1', '1-2'], [1], 1]);
    expect(write([gap, knownOn(1), gap, knownOn(2)], [test(1), test(2)], 'cmcm').firstClosed).toBe(0);
    expect(write(old, [test(1), {}, test(2)], 'muhm').firstClosed).toBeUndefined();
    expect(write(old, [test(1), test(2)], 'mcm', { provesOrder: false }).firstClosed).toBeUndefined();
  });

  it('stays where a hole lies over it, where it is missing with others, or where the order is in doubt', () => {
    expect(written(old, [test(1), {}, test(2)], 'muhm')).toBe('1-1 …3 1-2');
    expect(written(old, [test(1), test(2)], 'mcm', { provesOrder: false })).toBe('1-1 …3 1-2');
    expect([...write(old, [test(1), test(2)], 'mcm', { provesOrder: false }).joints]).toEqual([]);
    expect([...write(old, [test(1), {}, test(2)], 'muhm').joints]).toEqual([]);
    expect(written(old, [test(1)], 'm')).toBe('1-1 …3 1-2');
  });

  it('opens under an open hole, with its room, and not under a closed one', () => {
    expect(written([knownOn(1)], [test(1), { atMost: 2 }], 'mH')).toBe('1-1 …2');
    expect(written([knownOn(1)], [test(1), {}], 'mH')).toBe('1-1 …');
    expect(written([knownOn(1), knownOn(2)], [test(1), {}, test(2)], 'mhm')).toBe('1-1 1-2');
    expect(write([], [{}], 'H').sequence).toEqual([{ kind: 'gap' }]);
    expect(write([], [{}], 'H', { memory: 2 }).sequence).toEqual([{ kind: 'gap', memory: 2 }]);
  });

  it('in one place with another of its memory is one: the later download knows best how many sit there', () => {
    expect(written([knownOn(1), { ...gap, atMost: 3 }], [test(1), { atMost: 2 }], 'muH')).toBe('1-1 …2');
    const other = { ...gap, atMost: 3, memory: 1 };
    expect(written([other], [{ atMost: 2 }], 'H', { memory: 0 })).toBe('…3 …2');
    expect(written([{ ...other, memory: 0 }], [{ atMost: 2 }], 'uH', { memory: 0 })).toBe('…2');
  });

  it('comes behind what is gone in front of the next known one', () => {
    expect(written([knownOn(1, { gone: 'deleted' }), knownOn(2)], [{}, test(2)], 'Hm')).toBe('1-1 … 1-2');
  });
});

it('what is left of the old sequence is written at the end, and nothing twice', () => {
  expect(written([knownOn(1), gap, knownOn(2), { kind: 'past', count: 4 }], [], '')).toBe('1-1 … 1-2 -');
});

it(`whatever is told, every known test stays in its order and every told one is one reading (SEED=${SEED})`, () => {
  const image = fc.array(fc.constantFrom<number | typeof hole>(1, 2, 3, 4, hole), { maxLength: 6 });
  const old = fc.array(fc.constantFrom<number | 'gap' | 'gone'>(1, 2, 3, 'gap', 'gone'), { maxLength: 5 });
  fc.assert(
    fc.property(old, image, fc.boolean(), (known, told, provesOrder) => {
      const sequence = known.map((item, at): SequenceItem => {
        if (item === 'gap') return gap;
        if (item === 'gone') return knownOn(at, { gone: 'deleted' });
        return knownOn(at, { record: test(item) });
      });
      const one = download(
        9,
        told.map((day) => (day === hole ? hole : test(day))),
      );
      const question = askOf({ sequence }, { memory: 0 }, one);
      const facts = {
        download: 'D9' as DownloadId,
        complete: one.complete,
        provesOrder,
        departures: new Map(),
        flags: [],
      };
      const writer = new SequenceWriter(sequence, question, facts);
      for (const step of align(question).steps) writer.take(step);
      writer.end();
      const tests = ids(writer.sequence.filter((item) => item.kind === 'test'));
      expect(tests.filter((id) => id.startsWith('1-'))).toEqual(ids(sequence.filter((item) => item.kind === 'test')));
      expect(tests.filter((id) => id.startsWith('9-'))).toEqual(ids(writer.added));
      expect(new Set(tests).size).toBe(tests.length);
      expect(writer.sightings.map((seen) => seen.place)).toEqual(
        one.image.flatMap((item) => (item.kind === 'test' ? [item.test.place] : [])),
      );
      expect(new Set(writer.sightings.map((seen) => seen.reading)).size).toBe(writer.sightings.length);
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
