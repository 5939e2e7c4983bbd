/**
 * Generated lives of 400 days through the whole main job, byte for byte: every test that reached the line is a reading
 * once, in order; and how the times fare against the truth. Options: --meters N (default 20000), --from SEED,
 * --world NAME, --times (also place, which takes longer). Ends with an error where anything was lost or doubled.
 */
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { WORLDS, type World } from '../../src/virtual/life.ts';
import { type JudgedTime, judgeHistory } from '../../tests/support/judge-history.ts';

const { values } = parseArgs({
  options: {
    meters: { type: 'string', default: '20000' },
    from: { type: 'string', default: '1' },
    world: { type: 'string' },
    times: { type: 'boolean', default: false },
  },
});
const count = Number(values.meters);
const from = Number(values.from);
const worlds = values.world ? [values.world as World] : WORLDS;
const profiles = loadProfiles(join(import.meta.dirname, 'no-such-folder'));
const quantile = (sorted: readonly number[], share: number): number =>
  sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
const sort = (values: number[]): number[] => values.sort((a, b) => a - b);

let failed = 0;
for (const world of worlds) {
  const meters = Math.ceil(count / worlds.length);
  let told = 0;
  const sums = { lost: 0, surplus: 0, disorder: 0, complete: 0, untold: 0, needless: 0, conflicts: 0 };
  const seeds: string[] = [];
  const times: JudgedTime[] = [];
  for (let seed = from; seed < from + meters; seed++) {
    const judged = judgeHistory(generateHistory({ seed, world }), profiles, values.times);
    told += judged.told;
    sums.lost += judged.lost.length;
    sums.surplus += judged.surplus.length;
    sums.disorder += judged.inOrder ? 0 : 1;
    sums.complete += judged.wronglyComplete;
    sums.untold += judged.untoldLosses;
    sums.needless += judged.needlessAlarms;
    sums.conflicts += judged.conflicts;
    const isWrong =
      judged.lost.length + judged.surplus.length + judged.wronglyComplete + judged.untoldLosses > 0 || !judged.inOrder;
    if (isWrong && seeds.length < 20) {
      seeds.push(
        `${seed} (lost ${judged.lost.length}, surplus ${judged.surplus.length}${judged.inOrder ? '' : ', order'}, completeness ${judged.wronglyComplete}, untold ${judged.untoldLosses})`,
      );
    }
    for (const t of judged.times) times.push(t);
  }
  console.log(
    `${world}: seeds ${from} to ${from + meters - 1}, ${told} tests told; lost ${sums.lost}, doubled or strange ${sums.surplus}, meters out of order ${sums.disorder}, completeness misjudged ${sums.complete}, overwritten unread and not said ${sums.untold}, said though none were ${sums.needless}, in conflict ${sums.conflicts}`,
  );
  for (const s of seeds) console.log(`  seed ${s}`);
  if (sums.lost + sums.surplus + sums.disorder > 0) failed++;
  if (times.length > 0) {
    const share = (limit: number): string =>
      ((100 * times.filter((t) => t.outside <= limit).length) / times.length).toFixed(3);
    const widths = sort(times.flatMap((t) => (t.width === undefined ? [] : [t.width / 60_000])));
    console.log(
      `  inside ${share(0)} %, within 5 min ${share(300_000)} %, width median ${quantile(widths, 0.5).toFixed(2)} min, 90th percentile ${quantile(widths, 0.9).toFixed(1)} min, without bounds ${times.length - widths.length}`,
    );
    for (const basis of new Set(times.map((t) => t.basis))) {
      const errors = sort(
        times.flatMap((t) => (t.basis === basis && t.error !== undefined ? [Math.abs(t.error) / 1000] : [])),
      );
      console.log(
        `    ${basis}: ${errors.length}, error median ${quantile(errors, 0.5).toFixed(1)} s, 99th percentile ${quantile(errors, 0.99).toFixed(1)} s`,
      );
    }
  }
}
process.exit(failed > 0 ? 1 : 0);
