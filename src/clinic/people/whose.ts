/**
 * Whose a reading is. A meter that is lent makes readings of that person; a shared meter tells by the id keyed into it
 * where that passes its check; anything else only proposes a person, and an operator confirms. Never a guess: a
 * reading whose time may lie on either side of a change of hands belongs to nobody until somebody has looked. Pure.
 */
import type { Instant } from '../../core/instant.ts';
import type { PersonBasis } from '../../core/outgoing.ts';
import { type CheckScheme, passesCheck } from './check-digit.ts';

/** A person by number and by the clinic's own id. */
export interface Person {
  readonly patientNo: number;
  readonly id: string;
}

/** The meter in somebody's hands. `from` belongs to it, `to` does not; without `to` it still is. */
export interface HandSpan {
  readonly person: Person;
  readonly from: Instant;
  readonly to?: Instant;
}

/** What there is to tell whose a reading is. */
export interface WhoseFacts {
  /** Bounds of its time; absent where open. */
  readonly earliest?: Instant;
  readonly latest?: Instant;
  /** Best estimate of its time. */
  readonly at?: Instant;
  /** The meter's lends, of any time. */
  readonly lends: readonly HandSpan[];
  /** Patient id keyed into the meter, and the person of ours who has it. */
  readonly keyed?: { readonly id: string; readonly person?: Person };
  /** Persons expected around that time, nearest first. */
  readonly expected: readonly Person[];
  /** What an operator said: a person, or that it is nobody of ours. */
  readonly said?: { readonly person?: Person };
}

/** What is known of whose it is. Sentences are for the nurse. */
export type Whose =
  | { readonly kind: 'known'; readonly person: Person; readonly basis: PersonBasis }
  /** An operator said that it is nobody of ours. */
  | { readonly kind: 'nobody' }
  | { readonly kind: 'proposed'; readonly person: Person; readonly sentence: string }
  | { readonly kind: 'doubtful'; readonly sentence: string }
  | { readonly kind: 'unknown'; readonly sentence: string };

/** Finds whose a reading is. */
export function whose(facts: WhoseFacts, scheme: CheckScheme): Whose {
  if (facts.said) return facts.said.person ? known(facts.said.person, 'confirmed') : { kind: 'nobody' };
  const earliest = facts.earliest ?? Number.NEGATIVE_INFINITY;
  const latest = facts.latest ?? Number.POSITIVE_INFINITY;
  const met = joined(facts.lends).filter((l) => l.from <= latest && (l.to === undefined || l.to > earliest));
  const [lend] = met;
  if (!lend) return onSharedMeter(facts, scheme);
  const isWithin = met.length === 1 && lend.from <= earliest && (lend.to === undefined || lend.to > latest);
  if (!isWithin) {
    const names = [...new Set(met.map((l) => l.person.id))].join(' and ');
    return {
      kind: 'doubtful',
      sentence: `The meter changed hands (${names}) within the time in which this test may have been made`,
    };
  }
  const { keyed } = facts;
  if (keyed && keyed.person?.patientNo !== lend.person.patientNo)
    return {
      kind: 'doubtful',
      sentence: `The meter is lent to ${lend.person.id}, but ${keyed.id} was keyed into it for this test`,
    };
  return known(lend.person, 'lent');
}

/** Lends that follow each other without a gap, to the same person, are one: nothing changed hands. */
function joined(lends: readonly HandSpan[]): HandSpan[] {
  const spans: HandSpan[] = [];
  for (const lend of [...lends].sort((a, b) => a.from - b.from)) {
    const last = spans.at(-1);
    const isGoingOn = last?.person.patientNo === lend.person.patientNo && last.to === lend.from;
    if (last && isGoingOn)
      spans[spans.length - 1] = {
        person: last.person,
        from: last.from,
        ...(lend.to === undefined ? {} : { to: lend.to }),
      };
    else spans.push(lend);
  }
  return spans;
}

const known = (person: Person, basis: PersonBasis): Whose => ({ kind: 'known', person, basis });

function onSharedMeter({ keyed, expected }: WhoseFacts, scheme: CheckScheme): Whose {
  if (keyed?.person) {
    if (passesCheck(keyed.id, scheme)) return known(keyed.person, 'keyed');
    const why = scheme === 'none' ? 'ids here have no check digit' : 'the id does not pass its check';
    return proposed(keyed.person, `${keyed.id} was keyed into the meter; ${why}, so please confirm`);
  }
  const [first, second] = expected;
  const wrongId = keyed ? `${keyed.id} was keyed into the meter, but nobody here has this id` : undefined;
  if (first) {
    const others = second ? ', and others about the same time' : '';
    return proposed(
      first,
      `${wrongId ? `${wrongId}; ` : ''}${first.id} had an appointment then${others}: please confirm`,
    );
  }
  return wrongId
    ? { kind: 'doubtful', sentence: wrongId }
    : { kind: 'unknown', sentence: 'The meter was lent to nobody then, and no patient id was keyed in' };
}

const proposed = (person: Person, sentence: string): Whose => ({ kind: 'proposed', person, sentence });
