/** Puts readings that wait together where one look answers for all of them, and words the question of each card. Pure. */
import type { HoldCode } from '../../../clinic/holds/hold.ts';
import type { WaitingItem } from '../../api/waiting.ts';
import type { Format } from '../format.ts';
import { spanWords } from '../people/value-words.ts';
import type { Words } from '../words.ts';

/** Readings of the same meter, person and reasons; usually one. */
export interface Card {
  readonly key: string;
  readonly items: readonly [WaitingItem, ...WaitingItem[]];
  readonly isCritical: boolean;
}

/** What a card can be answered with, besides "later". */
export type Answer = 'confirm' | 'whose' | 'release' | 'strike-out';

const sameness = ({ meterId, model, person, proposed, holds, kind }: WaitingItem): string =>
  JSON.stringify([meterId, model, kind, person?.id, proposed?.id, holds.map((h) => h.code)]);

/** Reasons of which each reading must be looked at by itself. */
const ALONE: ReadonlySet<HoldCode> = new Set([
  'off-course',
  'implausible',
  'off-scale',
  'values-disagree',
  'conflict',
  'value-unreadable',
]);

/** The cards in the order of the readings; a critical value stands alone, and so does each reading named in `apart`. */
export function cardsOf(items: readonly WaitingItem[], apart: readonly string[] = []): Card[] {
  const cards: { key: string; items: [WaitingItem, ...WaitingItem[]]; isCritical: boolean }[] = [];
  const open = new Map<string, (typeof cards)[number]>();
  for (const item of items) {
    const isAlone = item.isCritical || apart.includes(item.readingId) || item.holds.some((h) => ALONE.has(h.code));
    const same = sameness(item);
    const card = isAlone ? undefined : open.get(same);
    if (card) card.items.push(item);
    else {
      const made = { key: item.readingId, items: [item] as [WaitingItem], isCritical: item.isCritical };
      cards.push(made);
      if (!isAlone) open.set(same, made);
    }
  }
  return cards;
}

/** The cards of one meter before the others; critical values stay before all. */
export function meterFirst(cards: readonly Card[], meterId: string | undefined): Card[] {
  const rank = ({ isCritical, items: [first] }: Card): number => (isCritical ? 0 : first.meterId === meterId ? 1 : 2);
  return [...cards].sort((a, b) => rank(a) - rank(b));
}

/** Whether it is asked whose these are. */
const isPersonAsked = ({ holds }: WaitingItem): boolean => holds.some((h) => h.code.startsWith('person-'));

/** What can be answered, the first by Enter. */
export function answersOf({ items: [first] }: Card): Answer[] {
  if (!isPersonAsked(first)) return ['release', 'strike-out'];
  return first.proposed ? ['confirm', 'whose'] : ['whose', 'strike-out'];
}

/** The question. */
export function questionOf({ items }: Card, words: Words, format: Format): string {
  const [first] = items;
  const { waiting: w, terms } = words;
  const [gravest] = first.holds;
  const whose = first.person ? ` ${w.of(format.person(first.person))}` : '';
  const values = first.values.length > 0 ? format.values(first.values) : terms.kind[first.kind];
  const what =
    items.length === 1
      ? w.one(`${values}${whose}`, spanWords(first.time, words, format), first.meterId)
      : w.many(
          `${format.count(items.length, terms.readings)}${whose}`,
          stretchWords(items, words, format),
          first.meterId,
        );
  if (!gravest) return what;
  return w.asks[gravest.code](what, first.proposed ? format.person(first.proposed) : '', first.lot ?? '');
}

/** `between 11 February and 19 February` of several readings; of one day its name. */
function stretchWords(items: readonly WaitingItem[], words: Words, format: Format): string {
  const times = items.flatMap((i) => (i.time ? [i.time.at] : []));
  if (times.length === 0) return words.people.noTime;
  const [from, to] = [format.day(Math.min(...times)), format.day(Math.max(...times))];
  return from === to ? from : words.people.sure(from, to);
}

/** The reasons that are usual for a release, then for striking out. */
export function usualReasons({ items: [first] }: Card, answer: Answer, { waiting: { reasons: r } }: Words): string[] {
  if (answer === 'strike-out') return [r.wrong, r.training, r.wrongPerson];
  if (answer === 'whose' || answer === 'confirm') return [r.asked, r.known, r.seen];
  const codes = new Set(first.holds.map((h) => h.code));
  const has = (...of: HoldCode[]): boolean => of.some((code) => codes.has(code));
  return [
    ...(has('off-course', 'implausible', 'off-scale', 'values-disagree', 'read-once', 'conflict')
      ? [r.repeated, r.laboratory]
      : []),
    ...(has('time-wide', 'time-displayed') ? [r.timeDoesNotMatter, r.asked] : []),
    ...(has('lot-expired', 'lot-unknown', 'lot-missing') ? [r.stripsGood] : []),
    ...(has('control-failed') ? [r.controlRepeated] : []),
    r.seen,
  ];
}
