/**
 * Which slots to ask again, one by one, when an answer did not arrive whole. First the gaps in which a damaged line
 * was seen, then the other gaps, then what may follow behind the last slot that was told.
 */

/** One REC line of an answer, in the order of arrival, newest first: grows without being copied. */
export interface ToldLine {
  /** Absent where the line is good but tells no slot. */
  readonly slot?: number;
  readonly body: string;
  /** True where something that was no good line came right before it. */
  readonly afterDamage: boolean;
  readonly before?: ToldLine;
}

/** The lines in the order of their arrival. */
export function linesInOrder(newest: ToldLine | undefined): ToldLine[] {
  const lines: ToldLine[] = [];
  for (let line = newest; line; line = line.before) lines.push(line);
  return lines.reverse();
}

/** What is known when slots are to be chosen. */
export interface RepairFacts {
  readonly told: ReadonlySet<number>;
  /** Slots before which a damaged line was seen. */
  readonly suspects: ReadonlySet<number>;
  readonly capacity: number;
  /** True for a ring: slots may be empty anywhere. Elsewhere the slots from 1 on are filled without gaps. */
  readonly isRing: boolean;
  /** Results that the answer should have had. */
  readonly expected: number;
}

/** Slots to fetch, the likeliest first. Empty where nothing is missing. */
export function slotsToFetch(facts: RepairFacts): number[] {
  if (facts.told.size >= facts.expected) return [];
  const slots = [...facts.told].sort((a, b) => a - b);
  const likely: number[] = [];
  const others: number[] = [];
  let previous = 0;
  for (const slot of slots) {
    const into = facts.suspects.has(slot) ? likely : others;
    for (let missing = previous + 1; missing < slot; missing++) into.push(missing);
    previous = slot;
  }
  const last = facts.isRing ? facts.capacity : Math.min(facts.expected, facts.capacity);
  for (let missing = previous + 1; missing <= last; missing++) others.push(missing);
  return [...likely, ...others];
}
