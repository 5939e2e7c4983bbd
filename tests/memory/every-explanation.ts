/**
 * The slow way to explain an image: every explanation there is, each with its price. What a step costs for itself is
 * taken from the price list; here stands which steps may follow each other and what a run of them costs.
 */
import { DELETED_RUN } from '../../src/memory/costs.ts';
import { newCosts, oldestGoneCost } from '../../src/memory/prices.ts';
import { APART, relate, SAME } from '../../src/memory/relations.ts';
import type { Question, Step } from '../../src/memory/steps.ts';

export interface Priced {
  readonly steps: readonly Step[];
  readonly cost: number;
  readonly matches: number;
  /** What decides where cost and matches are even: tests that go, and neighbours that speak against a new test's place. */
  readonly ties: number;
}

/** A step in a word: what it is, with the indices of the known and the told. */
export const word = (step: Step): string =>
  `${step.kind} ${'known' in step ? step.known : ''}/${'told' in step ? step.told : ''}`;

/** Where an explanation stands: the next known and told item, and what the last step was. */
interface At extends Priced {
  readonly k: number;
  readonly t: number;
  readonly last: 'new' | 'missing' | 'untold' | 'other';
  /** New tests in one run. */
  readonly run: number;
  /** Price and ties of the oldest that are gone, which are reckoned anew with each more. */
  readonly oldest: { readonly cost: number; readonly ties: number };
}

/** Every explanation of a question. */
export function everyExplanation(question: Question): Priced[] {
  const { known, told, sightings } = question;
  const relations = relate(question);
  const prices = newCosts(question, relations);
  const out: Priced[] = [];

  const go = (at: At): void => {
    const { k, t, last } = at;
    const item = known[k];
    const next = told[t];
    if (!item && !next) out.push(at);
    const after = (steps: readonly Step[], more: Partial<At>): void =>
      go({ ...at, last: 'other', run: 0, ...more, steps: [...at.steps, ...steps] });

    if (next?.kind === 'hole')
      after([{ kind: 'hole', told: t, open: item === undefined || item.kind === 'gap' }], { t: t + 1 });

    const relation = item?.kind === 'place' && sightings[t] ? relations.at(k, t) : APART;
    if (relation === SAME)
      after([{ kind: 'match', known: k, claimant: 0, told: t }], { k: k + 1, t: t + 1, matches: at.matches + 1 });
    else if (relation !== APART)
      after([{ kind: 'conflict', known: k, told: t }], {
        k: k + 1,
        t: t + 1,
        cost: at.cost + relation + relations.otherCost(t),
      });

    const room = item?.kind === 'gap' ? (item.gap.atMost ?? Number.POSITIVE_INFINITY) : Number.POSITIVE_INFINITY;
    if (sightings[t] && at.run < room)
      after([{ kind: 'new', told: t, repeat: item?.kind === 'place' }], {
        t: t + 1,
        last: 'new',
        run: at.run + 1,
        cost: at.cost + prices.cost(k, t),
        ties: at.ties + prices.ties(k, t),
      });

    if (item?.kind === 'place' && t > 0)
      after([{ kind: 'missing', known: k }], {
        k: k + 1,
        last: 'missing',
        cost: at.cost + (last === 'missing' ? 0 : DELETED_RUN),
        ties: at.ties + 1,
      });

    if (item?.kind === 'place' && t === 0 && next?.kind !== 'hole') {
      const places = known.slice(0, k + 1).filter((one) => one.kind === 'place').length;
      const oldest = { cost: oldestGoneCost(question, places), ties: k + 1 };
      after([{ kind: 'missing', known: k }], {
        k: k + 1,
        last: 'missing',
        oldest,
        cost: at.cost - at.oldest.cost + oldest.cost,
        ties: at.ties - at.oldest.ties + oldest.ties,
      });
    }

    // Tests may sit in a gap that a hole covers; one that was told over is empty, also between tests that are gone.
    if (item?.kind === 'gap' && next?.kind !== 'hole')
      after([{ kind: 'close', known: k }], { k: k + 1, last: last === 'missing' ? 'missing' : 'other' });

    if (next?.kind === 'hole' && last !== 'untold')
      for (let end = k + 1; end <= known.length; end++) {
        const covered = known.slice(k, end);
        const tooMany =
          covered.filter((one) => one.kind === 'place').length - (next.atMost ?? Number.POSITIVE_INFINITY);
        const price = tooMany <= 0 ? 0 : t === 0 ? oldestGoneCost(question, tooMany) : DELETED_RUN;
        after(
          covered.map((_, i) => ({ kind: 'untold', known: k + i })),
          { k: end, last: 'untold', cost: at.cost + price },
        );
      }
  };
  const none = { cost: 0, ties: 0 };
  go({ ...none, steps: [], matches: 0, k: 0, t: 0, last: 'other', run: 0, oldest: none });
  return out;
}
