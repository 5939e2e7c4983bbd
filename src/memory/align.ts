/**
 * Finds the cheapest explanation of an image: a dynamic programme over what is known and what is told, both in the
 * order of the tests. Ties go to the explanation that loses fewer known tests and keeps stamps in order, then to the
 * one with more matches. Where one with fewer matches costs the same, the choice is doubtful and the readings are kept.
 */
import { DELETED_RUN } from './costs.ts';
import { countPlaces, newCosts, oldestGoneCost } from './prices.ts';
import { APART, claimantOf, type Relations, relate, SAME } from './relations.ts';
import type { Explanation, Question, Step } from './steps.ts';

/** One number orders explanations: cost first, then the rest by taste. Thousands of ties and matches stay below one cost. */
const COST = 1e9;
interface Taste {
  readonly tie: number;
  readonly match: number;
}
const MORE_MATCHES: Taste = { tie: 1e4, match: -1 };
const FEWER_MATCHES: Taste = { tie: 1, match: 2e5 };

/** The cheapest explanation. */
export function align(question: Question): Explanation {
  const relations = relate(question);
  const best = search(question, relations, MORE_MATCHES);
  const impossible = best.steps.some((s) => s.kind === 'new' && s.repeat);
  const mayTie = question.sightings.some((s, t) => s && relations.repeatCost(t) > 0 && question.clock.mayRepeat(s));
  if (!mayTie) return { steps: best.steps, doubtful: impossible };
  const other = search(question, relations, FEWER_MATCHES);
  const known = new Set(best.steps.flatMap((s) => (s.kind === 'match' ? [s.told] : [])));
  if (other.cost > best.cost || other.steps.filter((s) => s.kind === 'match').length === known.size)
    return { steps: best.steps, doubtful: impossible };
  const steps = other.steps.map((s) => (s.kind === 'new' && known.has(s.told) ? { ...s, repeat: true } : s));
  return { steps, doubtful: true };
}

/** How a cell of the plain layer was reached. */
const MATCH = 1;
const CLASH = 2;
const NEW = 3;
const HOLE = 4;
const UNTOLD = 5;
const CLOSE = 6;

/**
 * The cells of the search. Cell (k, t): the first k known and the first t told items are explained. Two layers: in
 * `deleting` the last known place was taken away in a run of missing ones, in `plain` it was not.
 */
interface Grid {
  readonly width: number;
  readonly plain: Float64Array;
  readonly deleting: Float64Array;
  readonly how: Uint8Array;
  /** For cells reached by UNTOLD: the number of known items before the hole began to cover them. */
  readonly coveredFrom: Int32Array;
}

const at = (layer: Float64Array, cell: number): number => layer[cell] ?? Number.POSITIVE_INFINITY;

function search(question: Question, relations: Relations, taste: Taste): { steps: Step[]; cost: number } {
  const grid = fill(question, relations, taste);
  const last = grid.plain.length - 1;
  const score = Math.min(at(grid.plain, last), at(grid.deleting, last));
  return { steps: trace(question, grid), cost: Math.round(score / COST) };
}

function fill(question: Question, relations: Relations, taste: Taste): Grid {
  const { known, told, sightings } = question;
  const width = told.length + 1;
  const cells = (known.length + 1) * width;
  const layer = (): Float64Array => new Float64Array(cells).fill(Number.POSITIVE_INFINITY);
  const [plain, deleting, reach] = [layer(), layer(), layer()];
  /** As `reach`, before a hole covers anything. */
  const uncovered = layer();
  const how = new Uint8Array(cells);
  const coveredFrom = new Int32Array(cells);
  const prices = newCosts(question, relations);
  const places = countPlaces(question);
  plain[0] = 0;
  for (let k = 0; k <= known.length; k++) {
    const before = known[k - 1];
    for (let t = 0; t < width; t++) {
      const cell = k * width + t;
      const above = cell - width;
      let least = at(plain, cell);
      let step = 0;
      if (t > 0) {
        const isTest = sightings[t - 1] !== undefined;
        if (isTest && before?.kind === 'place') {
          const relation = relations.at(k - 1, t - 1);
          const clash = (relation + relations.otherCost(t - 1)) * COST;
          const score = at(reach, above - 1) + (relation === SAME ? taste.match : clash);
          if (relation !== APART && score < least) {
            least = score;
            step = relation === SAME ? MATCH : CLASH;
          }
        }
        const price = isTest ? prices.cost(k, t - 1) * COST + prices.ties(k, t - 1) * taste.tie : 0;
        if (at(reach, cell - 1) + price < least) {
          least = at(reach, cell - 1) + price;
          step = isTest ? NEW : HOLE;
        }
      }
      const hole = told[t];
      if (before?.kind === 'gap' && hole?.kind === 'hole') {
        // What a hole may cover is not told over.
      } else if (before?.kind === 'gap') {
        if (at(plain, above) < least) {
          least = at(plain, above);
          step = CLOSE;
        }
        deleting[cell] = at(deleting, above);
      } else if (before && t > 0) {
        deleting[cell] = Math.min(at(plain, above) + DELETED_RUN * COST, at(deleting, above)) + taste.tie;
      } else if (before && told[0]?.kind !== 'hole') {
        deleting[cell] = oldestGoneCost(question, places[k] ?? 0) * COST + k * taste.tie;
      }
      if (hole?.kind === 'hole') {
        uncovered[cell] = Math.min(least, at(deleting, cell));
        for (let from = k - 1; from >= 0; from--) {
          const covered = (places[k] ?? 0) - (places[from] ?? 0) - (hole.atMost ?? Number.POSITIVE_INFINITY);
          // What finds no room under the hole is gone: the oldest perhaps overwritten, any other deleted.
          const gone = covered <= 0 ? 0 : t === 0 ? oldestGoneCost(question, covered) : DELETED_RUN;
          const score = at(uncovered, from * width + t) + gone * COST;
          if (score < least) {
            least = score;
            step = UNTOLD;
            coveredFrom[cell] = from;
          }
        }
      }
      plain[cell] = least;
      how[cell] = step;
      reach[cell] = Math.min(least, at(deleting, cell));
    }
  }
  return { width, plain, deleting, how, coveredFrom };
}

/** Walks back from the last cell. Where both layers are as good, the plain one counts, as in the search. */
function trace(question: Question, { width, plain, deleting, how, coveredFrom }: Grid): Step[] {
  const { known, sightings } = question;
  const steps: Step[] = [];
  let k = known.length;
  let t = width - 1;
  const better = (): boolean => at(deleting, k * width + t) < at(plain, k * width + t);
  let inRun = better();
  while (k > 0 || t > 0) {
    const above = (k - 1) * width + t;
    const item = known[k - 1];
    if (inRun) {
      k--;
      if (item?.kind === 'gap') {
        steps.push({ kind: 'close', known: k });
        continue;
      }
      steps.push({ kind: 'missing', known: k });
      if (t === 0) inRun = at(deleting, above) < Number.POSITIVE_INFINITY;
      else inRun = at(deleting, above) <= at(plain, above) + DELETED_RUN * COST;
      continue;
    }
    const cell = k * width + t;
    switch (how[cell]) {
      case CLOSE:
        k--;
        steps.push({ kind: 'close', known: k });
        continue; // stays in the plain layer
      case UNTOLD:
        for (const from = coveredFrom[cell] ?? 0; k > from; ) steps.push({ kind: 'untold', known: --k });
        break;
      case HOLE:
        t--;
        steps.push({ kind: 'hole', told: t, open: k === known.length || known[k]?.kind === 'gap' });
        break;
      case NEW:
        t--;
        // A memory takes no test into its middle: it may be a known one that was told wrongly.
        steps.push({ kind: 'new', told: t, repeat: k < known.length && known[k]?.kind !== 'gap' });
        break;
      default: {
        k--;
        t--;
        const told = sightings[t];
        const claimant = item?.kind === 'place' && told && how[cell] === MATCH ? claimantOf(item, told) : -1;
        if (claimant >= 0) steps.push({ kind: 'match', known: k, claimant, told: t });
        else steps.push({ kind: 'conflict', known: k, told: t });
      }
    }
    inRun = better();
  }
  return steps.reverse();
}
