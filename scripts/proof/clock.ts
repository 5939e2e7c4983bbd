/**
 * Placing against known truth: thousands of generated lives of meters for each of four worlds (tests/clock/worlds.ts).
 * Prints how many true times lie inside the bounds, how far the estimates are off and how wide the bounds are, with the
 * aims beside. Ends with an error where drift or power losses alone miss what the model itself promises.
 *
 * `npm run proof clock -- --meters 5000 --seed 1`
 */
import { parseArgs } from 'node:util';
import { place } from '../../src/clock/place.ts';
import { addScore, makeWorld, noScore, quantile, type Score, type WorldKind } from '../../tests/clock/worlds.ts';

interface Aim {
  readonly world: WorldKind;
  readonly what: string;
  /** Shares of true times inside the bounds, strictly and within 5 minutes, per cent. */
  readonly inside: number;
  readonly nearly: number;
  /** Missing it is an error, not only a figure to look at. */
  readonly isPromise: boolean;
}

const AIMS: readonly Aim[] = [
  { world: 'drift', what: 'drift only', inside: 100, nearly: 100, isPromise: true },
  { world: 'loss', what: 'power losses, never corrected', inside: 99.95, nearly: 99.95, isPromise: true },
  { world: 'human', what: 'losses corrected by hand, with slips', inside: 99.6, nearly: 99.9, isPromise: false },
  { world: 'mixed', what: 'all mixed, with deletions and cut downloads', inside: 99.0, nearly: 99.5, isPromise: false },
];

const { values } = parseArgs({
  options: { meters: { type: 'string', default: '5000' }, seed: { type: 'string', default: '1' } },
});
const meters = Number(values.meters);
const firstSeed = Number(values.seed);
if (!Number.isSafeInteger(meters) || meters < 1 || !Number.isSafeInteger(firstSeed)) {
  throw new Error('--meters takes a count from 1, --seed a whole number');
}

const percent = (part: number, whole: number): number => (100 * part) / whole;
const shown = (share: number, aim: number): string =>
  `${share.toFixed(3)} % (aim ${aim} %: ${share >= aim ? 'met' : 'MISSED'})`;
const seconds = (ms: number): string => `${(ms / 1000).toFixed(1)} s`;
const minutes = (ms: number): string => `${(ms / 60_000).toFixed(1)} min`;

function tell(aim: Aim, score: Score, overflows: number): boolean {
  const inside = percent(score.inside, score.tests);
  const nearly = percent(score.nearly, score.tests);
  console.log(`\n  ${aim.what}: ${meters} meters, ${score.tests} tests`);
  console.log(`    inside the bounds       ${shown(inside, aim.inside)}`);
  console.log(`    or by less than 5 min   ${shown(nearly, aim.nearly)}`);
  console.log(
    `    width of the bounds     median ${minutes(quantile(score.widths, 0.5))}, 90 % below ${minutes(quantile(score.widths, 0.9))}`,
  );
  console.log(`    without bounds          ${percent(score.open, score.tests).toFixed(3)} %`);
  console.log(`    gaps beyond the limit of stories: ${overflows}`);
  for (const [basis, errors] of [...score.errors].sort(([a], [b]) => a.localeCompare(b))) {
    const median = quantile(errors, 0.5);
    // Half the resolution and 2 s.
    const most = basis.endsWith('minute') ? 32_000 : 2500;
    const verdict = basis.startsWith('interpolated')
      ? ` (aim ${seconds(most)}: ${median <= most ? 'met' : 'MISSED'})`
      : '';
    console.log(
      `    error, ${basis.padEnd(28)} ${String(errors.length).padStart(7)} tests, median ${seconds(median)}${verdict}, 99 % below ${seconds(quantile(errors, 0.99))}`,
    );
  }
  if (aim.isPromise && score.misses.length > 0) console.log(`    outside: ${score.misses.slice(0, 10).join('; ')}`);
  return !aim.isPromise || (inside >= aim.inside && nearly >= aim.nearly);
}

console.log(`  seeds ${firstSeed} to ${firstSeed + meters - 1}`);
let broken = 0;
for (const aim of AIMS) {
  const score = noScore();
  let overflows = 0;
  for (let seed = firstSeed; seed < firstSeed + meters; seed++) {
    const world = makeWorld(aim.world, seed);
    const result = place(world.history);
    overflows += result.gaps.filter((g) => g.times.overflow).length;
    addScore(score, `seed ${seed}`, world, result.tests);
  }
  if (score.astray > 0) console.log(`    ${score.astray} estimates lie outside their own bounds`);
  if (!tell(aim, score, overflows) || score.astray > 0) broken++;
}
if (broken > 0) console.error(`\n${broken} worlds break what the model promises.`);
process.exitCode = broken > 0 ? 1 : 0;
