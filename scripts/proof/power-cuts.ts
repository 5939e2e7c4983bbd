/**
 * Cuts the power in front of every single write of one download: the first into a new store, and a later one of a
 * memory that has overwritten tests since; then in front of some of the writes of a large one. After each cut the store
 * is sound and holds all of the download or nothing, and the next run comes to what an undisturbed one comes to.
 * `npm run proof power-cuts -- --large=30 --at-once=2 --seed=1`
 */
import { chanceFrom } from '../../src/virtual/chance.ts';
import { type CutRun, type CutSceneOptions, cutScene } from '../../tests/faults/power-cut-scene.ts';
import { seedOr } from '../../tests/support/seed.ts';

const option = (name: string, usual: number): number =>
  Number(process.argv.find((arg) => arg.startsWith(`--${name}=`))?.slice(name.length + 3) ?? usual);
const seed = option('seed', seedOr(20260301));
const large = option('large', 30);
/** Scenes side by side; each has a meter and a store of its own. */
const atOnce = option('at-once', 2);
let failed = false;

/** How the conversation falls into chunks is the machine's: no run has more writes than so many that ended by themselves. */
const ENDS = 3;

/** Cuts in front of the writes that `choose` names, one after the other until all ends are reached, several scenes sharing the work. */
async function cutAll(
  name: string,
  options: CutSceneOptions,
  choose: (turn: number, writes: number) => number | undefined,
): Promise<void> {
  const begun = performance.now();
  const scenes = await Promise.all(Array.from({ length: atOnce }, () => cutScene(options)));
  const [first] = scenes;
  if (!first) throw new Error('--at-once must be 1 or more');
  const runs: CutRun[] = [];
  let turn = 0;
  await Promise.all(
    scenes.map(async (scene) => {
      for (;;) {
        const write = choose(++turn, first.writes);
        if (write === undefined || runs.filter(({ isCut }) => !isCut).length >= ENDS) break;
        runs.push(await scene.cutAt(write));
      }
      await scene.close();
    }),
  );
  const count = (left: CutRun['left']): number => runs.filter((run) => run.isCut && run.left === left).length;
  const cuts = runs.filter(({ isCut }) => isCut).length;
  const problems = runs.flatMap((run) => run.problems);
  console.log(
    `  ${name}: ${first.writes} writes, ${first.readings} readings; ${cuts} cuts: ${count('nothing')} left nothing of it, ${count('open')} an open conversation, ${count('sealed')} a sealed one, ${count('taken in')} all; ${problems.length} problems, ${((performance.now() - begun) / 1000).toFixed(0)} s`,
  );
  for (const problem of problems.slice(0, 20)) console.error(`  ${problem}`);
  if (problems.length > 0 || cuts < 0.7 * Math.min(turn, first.writes)) failed = true;
}

const every = (turn: number): number => turn;
console.log(`  seed ${seed}`);
await cutAll('the first download into a new store', { tests: 6, newTests: 0 }, every);
await cutAll('a later download', { tests: 6, newTests: 3 }, every);
const chance = chanceFrom(seed);
await cutAll('a large later download', { tests: 180, newTests: 20 }, (turn, writes) =>
  turn > large ? undefined : chance.whole(1, Math.floor(0.9 * writes)),
);
process.exitCode = failed ? 1 : 0;
