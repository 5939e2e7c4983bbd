/** What was measured with each strip lot. */
import type { Instant } from '../../core/instant.ts';
import { groupBy } from '../group-by.ts';
import { mean, median, standardDeviation } from '../statistics/descriptive.ts';
import type { LotResult } from './shift-by-people.ts';

/** The results of one lot. Different people use different lots: lots are compared by shifts, not by these figures. */
export interface LotSummary {
  readonly lot: string;
  readonly tests: number;
  readonly people: number;
  readonly first: Instant;
  readonly last: Instant;
  readonly mean: number;
  readonly median: number;
  /** Absent for a single test. */
  readonly sd?: number;
}

/** Results by lot, in the order in which the lots were first used. */
export function resultsByLot(results: readonly LotResult[]): readonly LotSummary[] {
  const ordered = results.toSorted((a, b) => a.at - b.at);
  return [...groupBy(ordered, (r) => r.lot)].flatMap(([lot, own]): LotSummary[] => {
    const [first, last] = [own[0], own.at(-1)];
    if (!first || !last) return [];
    const values = own.map((r) => r.value);
    return [
      {
        lot,
        tests: own.length,
        people: new Set(own.map((r) => r.person)).size,
        first: first.at,
        last: last.at,
        mean: mean(values),
        median: median(values),
        ...(own.length > 1 && { sd: standardDeviation(values) }),
      },
    ];
  });
}
