/**
 * The cheapest explanation: held to every explanation that there is, for all small questions, and what is then said of
 * tests that may be known ones told again, by hand.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ImageItem } from '../../src/core/download.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import { align } from '../../src/memory/align.ts';
import type { ClockEvidence } from '../../src/memory/last-clock.ts';
import { relate } from '../../src/memory/relations.ts';
import type { Standing } from '../../src/memory/standing.ts';
import type { Question } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { everyExplanation, word } from './every-explanation.ts';
import { knownOn, test } from './meter-words.ts';

const SEED = seedOr(20260301);

/** Tests A to F by their day; a small letter has the stamp of the large one and another value. `…`, `1`, `2`: a gap or hole, and those with room for one or two. */
const letters: Record<string, TestRecord> = {
  A: test(1),
  a: test(1, { inr: '4.4' }),
  B: test(2),
  b: test(2, { inr: '5.5' }),
  C: test(3),
  D: test(4),
  X: test(2.5, { inr: '6.6' }),
  E: test(5),
  F: test(6),
};
const recordOf = (letter: string): TestRecord => {
  const record = letters[letter];
  if (!record) throw new Error(`no test is called ${letter}`);
  return record;
};

const SILENT: ClockEvidence = { mayRepeat: () => false, stampedWhen: () => undefined, isBackdated: () => false };
const FORGETFUL: ClockEvidence = { ...SILENT, mayRepeat: () => true };

const roomOf = (letter: string) => (letter === '…' ? {} : { atMost: Number(letter) });

/** A question in letters. */
function ask(known: string, told: string, more: Partial<Question> = {}): Question {
  const items = [...known].map((letter, from): Standing => {
    const span = { from, to: from + 1 };
    if ('…12'.includes(letter)) return { kind: 'gap', gap: { kind: 'gap', ...roomOf(letter) }, ...span };
    return { kind: 'place', tests: [knownOn(from, { record: recordOf(letter) })], ...span };
  });
  const image = [...told].map((letter): ImageItem => {
    if ('…12'.includes(letter)) return { kind: 'hole', ...roomOf(letter) };
    return { kind: 'test', test: recordOf(letter) };
  });
  return {
    known: items,
    told: image,
    sightings: image.map((item) => (item.kind === 'test' ? { record: item.test } : undefined)),
    weak: false,
    clock: SILENT,
    ...more,
  };
}

/** All words of at most so many letters. */
const wordsOf = (alphabet: string, length: number): string[] =>
  length === 0
    ? ['']
    : ['', ...[...alphabet].flatMap((letter) => wordsOf(alphabet, length - 1).map((w) => letter + w))];

/** What is wrong with the explanation of a question, against all that there are. */
function problemOf(question: Question): string | undefined {
  const found = align(question);
  const all = everyExplanation(question);
  const spell = (steps: readonly Parameters<typeof word>[0][]) => steps.map(word).join(', ');
  const mine = all.find(({ steps }) => spell(steps) === spell(found.steps));
  if (!mine) return `cannot be: ${spell(found.steps)}`;
  const least = Math.min(...all.map(({ cost }) => cost));
  if (mine.cost !== least || found.cost + 0 !== least) return `costs ${mine.cost}, said ${found.cost}, least ${least}`;
  const cheapest = all.filter(({ cost }) => cost === least);
  const relations = relate(question);
  const isDoubted = question.sightings.some((s, t) => s && relations.repeatCost(t) > 0 && question.clock.mayRepeat(s));
  const numbers = cheapest.map(({ matches }) => matches);
  const matches = isDoubted ? Math.min(...numbers) : Math.max(...numbers);
  if (mine.matches !== matches) return `${mine.matches} matches, not ${matches}`;
  const ties = Math.min(...cheapest.filter((one) => one.matches === matches).map((one) => one.ties));
  if (mine.ties !== ties) return `${mine.ties} ties, not ${ties}`;
  for (const [i, step] of found.steps.entries()) {
    const same = mine.steps[i];
    if (step.kind === 'hole' && same?.kind === 'hole' && step.open !== same.open) return `hole ${i} open: ${step.open}`;
    if (step.kind === 'new' && same?.kind === 'new' && same.repeat && !step.repeat) return `new ${i} in the middle`;
    if (step.kind === 'match' && step.claimant !== 0) return `claimant ${step.claimant}`;
  }
  return undefined;
}

describe('of every explanation the cheapest is found, with the most matches and the fewest ties', () => {
  const known = wordsOf('AB…1', 3);
  const told = wordsOf('ABa…1', 3);

  it.each([
    ['nobody knows the capacity', {}, 47],
    ['nothing can be overwritten', { overwritable: 0 }, 89],
    ['one can be overwritten', { overwritable: 1 }, 61],
    ['the clock may have gone back', { overwritable: 2, clock: FORGETFUL }, 71],
    ['the check is weak', { weak: true, clock: FORGETFUL }, 127],
  ])('where %s', (_, more, everyNth) => {
    for (let at = 0; at < known.length * told.length; at += everyNth) {
      const [k, t] = [known[Math.floor(at / told.length)] ?? '', told[at % told.length] ?? ''];
      expect(problemOf(ask(k, t, more)), `known ${k}, told ${t}`).toBeUndefined();
    }
  });

  it(`in longer questions (SEED=${SEED})`, () => {
    const letters = (all: string) => fc.array(fc.constantFrom(...all), { maxLength: 5 }).map((some) => some.join(''));
    fc.assert(
      fc.property(
        letters('ABCa…12'),
        letters('ABCab…12'),
        fc.option(fc.nat(3), { nil: undefined }),
        fc.boolean(),
        (k, t, most, isForgetful) => {
          const more = { ...(most !== undefined && { overwritable: most }), ...(isForgetful && { clock: FORGETFUL }) };
          expect(problemOf(ask(k, t, more))).toBeUndefined();
        },
      ),
      { seed: SEED, numRuns: runsOr(200) },
    );
  });
});

/** An explanation in words: the steps, `?` behind a new test that may be a known one, the claimant of a match, `!` of an open hole. */
function explained(question: Question) {
  const { steps, doubtful, cost } = align(question);
  const marks = steps.map((step) => {
    const mark = step.kind === 'new' ? (step.repeat ? '?' : '') : step.kind === 'hole' && step.open ? '!' : '';
    return `${word(step)}${mark}`;
  });
  return [marks.join(', '), doubtful, cost + 0];
}

describe('where the clock may have gone back', () => {
  it('and a deletion is as likely as a repeat, the readings are kept, and it is said', () => {
    const full = { overwritable: Number.POSITIVE_INFINITY, clock: FORGETFUL };
    expect(explained(ask('AB', 'A', full))).toEqual(['missing 0/, missing 1/, new /0?', true, 11]);
    expect(explained(ask('AB', 'AC', full))).toEqual(['missing 0/, missing 1/, new /0?, new /1', true, 11]);
    expect(explained(ask('AB', 'A', { ...full, clock: SILENT }))).toEqual(['match 0/0, missing 1/', false, 11]);
    // That they are stamped since does not settle it.
    const since = { ...full, clock: { ...FORGETFUL, stampedWhen: () => 'since' as const } };
    expect(explained(ask('AB', 'A', since))).toEqual(['missing 0/, missing 1/, new /0?', true, 11]);
    // What is known in both is no new test.
    expect(align(ask('AB…D', 'AD', since))).toEqual({
      steps: [
        { kind: 'missing', known: 0 },
        { kind: 'missing', known: 1 },
        { kind: 'new', told: 0, repeat: true },
        { kind: 'close', known: 2 },
        { kind: 'match', known: 3, claimant: 0, told: 1 },
      ],
      doubtful: true,
      cost: 11,
    });
    expect(explained(ask('AB', 'A', { ...full, overwritable: 0 }))).toEqual(['match 0/0, missing 1/', false, 11]);
  });
});

describe('a new test may be a known one', () => {
  const rolled = { overwritable: 1 };
  it('that is gone and the very same, unless it is stamped since', () => {
    const told = (when: 'since' | 'before' | undefined) =>
      explained(ask('AB', 'BA', { ...rolled, clock: { ...FORGETFUL, stampedWhen: () => when } }));
    expect([told(undefined), told('before'), told('since')]).toEqual([
      ['missing 0/, match 1/0, new /1?', true, 11],
      ['missing 0/, match 1/0, new /1?', true, 11],
      ['missing 0/, match 1/0, new /1', false, 11],
    ]);
  });

  it('that lies under a hole and is the very same', () => {
    expect(explained(ask('AB', '…BA', { clock: FORGETFUL }))).toEqual([
      'untold 0/, hole /0, match 1/1, new /2?',
      true,
      11,
    ]);
  });

  it('that is gone and was perhaps damaged on the way; not one that a hole may cover', () => {
    const weak = { ...rolled, weak: true, clock: FORGETFUL };
    expect(explained(ask('AB', 'Ba', weak))).toEqual(['missing 0/, match 1/0, new /1?', true, 0]);
    expect(explained(ask('AB', '…Ba', weak))).toEqual(['untold 0/, hole /0, match 1/1, new /2', false, 0]);
    expect(explained(ask('AB', 'Ba', { ...weak, weak: false }))).toEqual(['missing 0/, match 1/0, new /1', false, 0]);
    expect(explained(ask('AB', 'BC', weak))).toEqual(['missing 0/, match 1/0, new /1', false, 0]);
  });

  it('of several that are gone', () => {
    expect(explained(ask('ABC', 'CA', { ...rolled, clock: FORGETFUL }))).toEqual([
      'missing 0/, missing 1/, match 2/0, new /1?',
      true,
      21,
    ]);
  });

  it('but a known one is no new test, though its like is gone', () => {
    expect(align(ask('AA', 'A', rolled)).steps).toEqual([
      { kind: 'missing', known: 0 },
      { kind: 'match', known: 1, claimant: 0, told: 0 },
    ]);
  });

  it('not one that is told besides', () => {
    expect(explained(ask('A', 'AA', { clock: FORGETFUL }))).toEqual(['match 0/0, new /1', false, 11]);
  });

  it('whose place in the middle was told before', () => {
    const inMiddle = 'match 0/0, new /1?, match 1/2, match 2/3, match 3/4, match 4/5';
    expect(explained(ask('ACDEF', 'ABCDEF'))).toEqual([inMiddle, true, 1000]);
    expect(explained(ask('A…C', 'ABC'))).toEqual(['match 0/0, new /1, close 1/, match 2/2', false, 0]);
  });
});

it('what was told is told once: the last of three alike is met, the older ones were deleted', () => {
  expect(explained(ask('AABA', 'A', { overwritable: 0 }))).toEqual([
    'missing 0/, missing 1/, missing 2/, match 3/0',
    false,
    10,
  ]);
});

it('a hole is open at the end and at a gap, and closed between two known places', () => {
  expect(explained(ask('AC', 'A…C'))[0]).toBe('match 0/0, hole /1, match 1/2');
  expect(explained(ask('A', 'A…'))[0]).toBe('match 0/0, hole /1!');
  expect(explained(ask('A…C', 'A…C'))[0]).toBe('match 0/0, untold 1/, hole /1, match 2/2');
  expect(explained(ask('', '…'))[0]).toBe('hole /0!');
});

it('neighbours go by one deletion, where one of them could be in conflict for less', () => {
  expect(explained(ask('A…BC', 'Ab', { weak: true, clock: FORGETFUL }))).toEqual([
    'match 0/0, new /1?, close 1/, missing 2/, missing 3/',
    true,
    11,
  ]);
});

it('in a gap stand no more new tests than it has room for, though it were cheaper', () => {
  expect(explained(ask('A2C', 'ABXC'))[0]).toBe('match 0/0, new /1, new /2, close 1/, match 2/3');
  expect(explained(ask('AB2C', 'ABXC'))[0]).toBe('match 0/0, match 1/1, new /2, close 2/, match 3/3');
  expect(explained(ask('AB1C', 'AbXC'))).toEqual(['match 0/0, conflict 1/1, new /2, close 2/, match 3/3', false, 25]);
});

it('of explanations that are worth the same the first kind counts: under the older hole, and the older of two alike stayed', () => {
  expect(explained(ask('A', '……'))[0]).toBe('untold 0/, hole /0!, hole /1!');
  expect(explained(ask('AAB', 'A', { overwritable: 9 }))).toEqual(['match 0/0, missing 1/, missing 2/', false, 11]);
  expect(explained(ask('AA…B', 'A', { overwritable: 9 }))[0]).toBe('match 0/0, missing 1/, close 2/, missing 3/');
  expect(explained(ask('AB', '1…'))[0]).toBe('untold 0/, hole /0, untold 1/, hole /1!');
  expect(explained(ask('22', 'ABC'))[0]).toBe('new /0, new /1, close 0/, new /2, close 1/');
});

it('of readings in conflict that one is met which is the same', () => {
  const rivals = [knownOn(0, { record: recordOf('A') }), knownOn(1, { record: recordOf('a') })];
  const place = (told: string) =>
    align({ ...ask('', told), known: [{ kind: 'place', tests: rivals, from: 0, to: 2 }] }).steps;
  expect(place('A')).toEqual([{ kind: 'match', known: 0, claimant: 0, told: 0 }]);
  expect(place('a')).toEqual([{ kind: 'match', known: 0, claimant: 1, told: 0 }]);
});

it('nothing known and nothing told needs no step', () => {
  expect(align(ask('', ''))).toEqual({ steps: [], doubtful: false, cost: 0 });
});
