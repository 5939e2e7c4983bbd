/**
 * Finds the cheapest explanation of an image: a dynamic programme over what is known and what is told, both in the
 * order of the tests. Ties go to the explanation with more matches, then to the one that loses fewer known tests and
 * keeps stamps in order. Where one with fewer matches costs the same, the choice is doubtful and the readings are kept.
 */
import { DELETED_RUN } from './costs.ts';
import { at, CLOSE, COST, fillGrid, type Grid, HOLE, LAYERS, type Layer } from './grid.ts';
import { claimantOf, isAlike, type Relations, relate, SAME } from './relations.ts';
import type { Explanation, Question, Step } from './steps.ts';

/** What a match weighs where cost is even and more of them are wanted, or fewer. */
const MORE_MATCHES = -1e5;
const FEWER_MATCHES = 1e5;

/** The cheapest explanation. */
export function align(question: Question): Explanation {
  const relations = relate(question);
  const best = search(question, relations, MORE_MATCHES);
  const mayTie = question.sightings.some((s, t) => s && relations.repeatCost(t) > 0 && question.clock.mayRepeat(s));
  const other = mayTie ? search(question, relations, FEWER_MATCHES) : best;
  // Both are cheapest.
  const isEven = countMatches(other.steps) < countMatches(best.steps);
  const known = new Set(best.steps.flatMap((s) => (s.kind === 'match' ? [s.told] : [])));
  const kept = other.steps.map((s) => (s.kind === 'new' && known.has(s.told) ? { ...s, repeat: true } : s));
  const steps = markRepeats(question, relations, isEven ? kept : best.steps);
  return { steps, doubtful: steps.some((s) => s.kind === 'new' && s.repeat), cost: best.cost };
}

const countMatches = (steps: readonly Step[]): number => steps.filter((s) => s.kind === 'match').length;

/**
 * Marks new tests that may be known ones told again: a known test that is the same, or one that is missing and the same
 * but for a damaged character, is not accounted for, and the stamp does not show that the told one was made since.
 */
function markRepeats({ sightings, clock }: Question, relations: Relations, steps: readonly Step[]): readonly Step[] {
  const unaccounted = steps.filter((s) => s.kind === 'missing' || s.kind === 'untold');
  return steps.map((step) => {
    if (step.kind !== 'new') return step;
    const told = sightings[step.told];
    if (!told || clock.stampedWhen(told) === 'since') return step;
    const repeat = unaccounted.some(({ kind, known }) => {
      const relation = relations.at(known, step.told);
      return relation === SAME || (kind === 'missing' && isAlike(relation));
    });
    return repeat ? { ...step, repeat } : step;
  });
}

function search(question: Question, relations: Relations, match: number): { steps: Step[]; cost: number } {
  const grid = fillGrid(question, relations, match);
  const last = grid.how.length - 1;
  const score = at(grid.scores[bestLayer(grid, last, LAYERS)], last);
  return { steps: trace(question, grid), cost: Math.round(score / COST) };
}

/** The layer with the best score; the first of equals. */
function bestLayer({ scores }: Grid, cell: number, layers: readonly Layer[]): Layer {
  let best: Layer = layers[0] ?? 'plain';
  for (const layer of layers) if (at(scores[layer], cell) < at(scores[best], cell)) best = layer;
  return best;
}

const NOT_GONE: readonly Layer[] = ['plain', 'filled', 'covered'];
const BEFORE_FILLED: readonly Layer[] = ['plain', 'gone'];
const BEFORE_COVERED: readonly Layer[] = ['plain', 'gone', 'filled'];

/** Walks back from the last cell and tells the steps that led there. */
function trace(question: Question, grid: Grid): Step[] {
  const { known, sightings } = question;
  const { width, scores } = grid;
  const steps: Step[] = [];
  let k = known.length;
  let t = width - 1;
  let layer = bestLayer(grid, k * width + t, LAYERS);
  while (k > 0 || t > 0) {
    const cell = k * width + t;
    const item = known[k - 1];
    let layers: readonly Layer[] = LAYERS;
    if (layer === 'filled') {
      // A memory takes no test into its middle: there it may be a known one that was told wrongly.
      const repeat = k < known.length && known[k]?.kind !== 'gap';
      for (const start = grid.filledFrom[cell] ?? 0; t > start; ) steps.push({ kind: 'new', told: --t, repeat });
      if (grid.isBounded(k)) layers = BEFORE_FILLED;
    } else if (layer === 'covered') {
      for (const start = grid.coveredFrom[cell] ?? 0; k > start; ) steps.push({ kind: 'untold', known: --k });
      layers = BEFORE_COVERED;
    } else if (layer === 'gone') {
      const above = cell - width;
      k--;
      steps.push({ kind: item?.kind === 'gap' ? 'close' : 'missing', known: k });
      const open = at(scores[bestLayer(grid, above, NOT_GONE)], above) + DELETED_RUN * COST;
      // A run of missing places begins where it was cheapest to open it.
      const goesOn = item?.kind === 'gap' || at(scores.gone, above) <= open;
      layers = goesOn ? ['gone'] : NOT_GONE;
    } else if (grid.how[cell] === HOLE) {
      t--;
      steps.push({ kind: 'hole', told: t, open: k === known.length || known[k]?.kind === 'gap' });
    } else if (grid.how[cell] === CLOSE) {
      k--;
      steps.push({ kind: 'close', known: k });
      layers = NOT_GONE;
    } else {
      k--;
      t--;
      const told = sightings[t];
      const claimant = item?.kind === 'place' && told ? claimantOf(item, told) : -1;
      if (claimant >= 0) steps.push({ kind: 'match', known: k, claimant, told: t });
      else steps.push({ kind: 'conflict', known: k, told: t });
    }
    layer = bestLayer(grid, k * width + t, layers);
  }
  return steps.reverse();
}
