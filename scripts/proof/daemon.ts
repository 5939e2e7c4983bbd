/**
 * Three simulated days of a daemon with sixteen ports and some 1,100 downloads: what it keeps in memory after each
 * hour, the links and timers that it leaves, and whether any test was lost or doubled. Every hour it gives memory back
 * and the store keeps no more of its file than in `tallydock serve`; only the disk is not waited for, which is no part
 * of this. The last quarter must stay within 5 % of the second, both of what is in use and of what is resident. `npm run proof daemon -- --hours=72 --visits=500 --seed=1`
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { giveBackMemory } from '../../src/dock/guards/give-back.ts';
import { LEAN_CACHE_KIB, openStore } from '../../src/store/open-store.ts';
import { longRun } from '../../tests/dock/long-run.ts';
import { SIM_START } from '../../tests/dock/sim-ports.ts';

const option = (name: string, usual: number): number =>
  Number(process.argv.find((arg) => arg.startsWith(`--${name}=`))?.slice(name.length + 3) ?? usual);
const seed = option('seed', 20260301);
const hours = option('hours', 72);
const visits = option('visits', 500);

const dir = mkdtempSync(join(tmpdir(), 'tallydock-proof-'));
const store = openStore({ dir, now: SIM_START, cacheKib: LEAN_CACHE_KIB });
store.db.script('PRAGMA synchronous = OFF');
const heap: number[] = [];
const resident: number[] = [];
const begun = performance.now();
const run = await longRun({
  seed,
  hours,
  ports: 16,
  visits,
  store,
  async onHour() {
    await giveBackMemory();
    const { heapUsed, external, rss } = process.memoryUsage();
    heap.push(heapUsed + external);
    resident.push(rss);
  },
});
store.close();
rmSync(dir, { recursive: true, force: true });

const quarter = (values: readonly number[], which: number): number => {
  const part = values.slice((values.length * (which - 1)) / 4, (values.length * which) / 4);
  return part.reduce((sum, value) => sum + value, 0) / part.length;
};
const mb = (bytes: number): string => `${(bytes / 1e6).toFixed(1)} MB`;
const growth = (values: readonly number[]): number => (quarter(values, 4) / quarter(values, 2) - 1) * 100;
console.log(
  `  seed ${seed}, ${hours} simulated hours, 16 ports, ${((performance.now() - begun) / 1000).toFixed(0)} s of real time`,
);
console.log(`  ${run.downloads} downloads, ${run.complete} whole, ${run.cut} cut off; ${run.pulls} cables pulled`);
console.log(`  ${run.testsMade} tests made, ${run.readings} stored, ${run.lost} lost, ${run.doubled} doubled`);
console.log(`  at most ${run.mostOpen} links open; after the end ${run.openAfter} links and ${run.timersAfter} timers`);
for (const [name, values] of [
  ['in use after collection', heap],
  ['resident', resident],
] as const) {
  const grown = growth(values);
  console.log(
    `  ${name}, by quarter: ${[1, 2, 3, 4].map((which) => mb(quarter(values, which))).join(', ')}; ` +
      `last against the second: ${grown >= 0 ? '+' : ''}${grown.toFixed(1)} %`,
  );
}

const isFlat = [heap, resident].every((values) => Math.abs(growth(values)) <= 5);
const isGood = run.lost === 0 && run.doubled === 0 && run.openAfter === 0 && run.timersAfter === 0 && isFlat;
if (!isGood) {
  console.error('  This does not hold what the daemon promises.');
  process.exitCode = 1;
}
