/**
 * The search behind the alignment: for every pair of prefixes of the known and the told, the cheapest explanation of
 * the two, and how it was reached. Cell (k, t): the first k known and the first t told items are explained.
 */
import { DELETED_RUN } from './costs.ts';
import { countPlaces, newCosts, oldestGoneCost } from './prices.ts';
import { APART, type Relations, SAME } from './relations.ts';
import type { Question } from './steps.ts';

/**
 * One number orders explanations: cost first, then the rest by taste. A tie weighs 1; thousands of ties and matches stay
 * below one cost.
 */
export const COST = 1e9;

/** The steps that lead to the plain layer of a cell, but for a told test at a known place. */
export const HOLE = 1;
export const CLOSE = 2;

/** What the last steps to a cell were; each layer has its own score. */
export const LAYERS = ['plain', 'gone', 'filled', 'covered'] as const;
export type Layer = (typeof LAYERS)[number];

export interface Grid {
  readonly width: number;
  /** Scores: a match, conflict, hole or closed gap; missing places; new tests; places under a hole. */
  readonly scores: Readonly<Record<Layer, Float64Array>>;
  /** How the plain layer was reached. */
  readonly how: Uint8Array;
  /** Where a run of new tests began, as a number of told items. */
  readonly filledFrom: Int32Array;
  /** Where a hole began to cover places, as a number of known items. */
  readonly coveredFrom: Int32Array;
  /** True where a run of new tests stands whole in one gap that has room for so many only. */
  readonly isBounded: (known: number) => boolean;
}

/** A score, infinite outside the grid. */
export const at = (layer: Float64Array, cell: number): number => layer[cell] ?? Number.POSITIVE_INFINITY;

/** Scores every cell; `match` is how much a match weighs. */
export function fillGrid(question: Question, relations: Relations, match: number): Grid {
  const { known, told, sightings } = question;
  const width = told.length + 1;
  const cells = (known.length + 1) * width;
  const layer = (): Float64Array => new Float64Array(cells).fill(Number.POSITIVE_INFINITY);
  const scores = { plain: layer(), gone: layer(), filled: layer(), covered: layer() };
  const { plain, gone, filled, covered } = scores;
  /** The best score of a cell, and the best in which no place has just gone missing. */
  const reach = layer();
  const open = layer();
  const how = new Uint8Array(cells);
  const filledFrom = new Int32Array(cells);
  const coveredFrom = new Int32Array(cells);
  const prices = newCosts(question, relations);
  const places = countPlaces(question);
  const roomAt = (k: number): number | undefined => {
    const item = known[k];
    return item?.kind === 'gap' ? item.gap.atMost : undefined;
  };

  for (let k = 0; k <= known.length; k++) {
    const before = known[k - 1];
    const room = roomAt(k);
    for (let t = 0; t < width; t++) {
      const cell = k * width + t;
      const above = cell - width;
      const next = told[t];

      let least = cell === 0 ? 0 : Number.POSITIVE_INFINITY;
      if (t > 0 && !sightings[t - 1]) {
        least = at(reach, cell - 1);
        how[cell] = HOLE;
      } else if (t > 0 && before?.kind === 'place') {
        const relation = relations.at(k - 1, t - 1);
        if (relation !== APART) {
          const clash = (relation + relations.otherCost(t - 1)) * COST;
          least = at(reach, above - 1) + (relation === SAME ? match : clash);
        }
      }
      // What a hole may cover is not told over: no gap closes in front of it.
      if (before?.kind === 'gap' && next?.kind !== 'hole') {
        if (at(open, above) < least) {
          least = at(open, above);
          how[cell] = CLOSE;
        }
        gone[cell] = at(gone, above);
      }
      plain[cell] = least;

      if (before?.kind === 'place' && t > 0) {
        gone[cell] = Math.min(at(open, above) + DELETED_RUN * COST, at(gone, above)) + 1;
      } else if (before?.kind === 'place' && next?.kind !== 'hole')
        gone[cell] = oldestGoneCost(question, places[k] ?? 0) * COST + k;

      let run = 0;
      const first = Math.max(0, t - (room ?? 1));
      for (let start = t - 1; start >= first && sightings[start]; start--) {
        run += prices.cost(k, start) * COST + prices.ties(k, start);
        const from = k * width + start;
        const score = run + (room === undefined ? at(reach, from) : Math.min(at(plain, from), at(gone, from)));
        if (score >= at(filled, cell)) continue;
        filled[cell] = score;
        filledFrom[cell] = start;
      }

      if (next?.kind === 'hole') {
        for (let start = k - 1; start >= 0; start--) {
          const tooMany = (places[k] ?? 0) - (places[start] ?? 0) - (next.atMost ?? Number.POSITIVE_INFINITY);
          // What finds no room under the hole is gone: the oldest perhaps overwritten, any other deleted.
          const cost = tooMany <= 0 ? 0 : t === 0 ? oldestGoneCost(question, tooMany) : DELETED_RUN;
          const from = start * width + t;
          const score = Math.min(at(plain, from), at(gone, from), at(filled, from)) + cost * COST;
          if (score >= at(covered, cell)) continue;
          covered[cell] = score;
          coveredFrom[cell] = start;
        }
      }
      open[cell] = Math.min(least, at(filled, cell), at(covered, cell));
      reach[cell] = Math.min(at(open, cell), at(gone, cell));
    }
  }
  return { width, scores, how, filledFrom, coveredFrom, isBounded: (k) => roomAt(k) !== undefined };
}
