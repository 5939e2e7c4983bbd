/**
 * Kills the daemon without warning at random moments of days with 40 downloads at eight docks, and looks the store over
 * after every kill. Nothing may be lost, doubled or out of order, and a rebuild from the stored bytes must be identical.
 * `npm run proof daemon-kills -- --kills=1000 --a-day=100 --at-once=3 --seed=1`
 */
import { type DaemonDay, daemonDay } from '../../tests/faults/daemon-day.ts';
import { seedOr } from '../../tests/support/seed.ts';

const option = (name: string, usual: number): number =>
  Number(process.argv.find((arg) => arg.startsWith(`--${name}=`))?.slice(name.length + 3) ?? usual);
const seed = option('seed', seedOr(20260301));
const kills = option('kills', 1000);
const aDay = option('a-day', 100);
/** Days that go on side by side, each with a daemon and a store of its own. */
const atOnce = option('at-once', 3);
const VISITS = 40;
const DOCKS = 8;

const shares = Array.from({ length: Math.ceil(kills / aDay) }, (_, day) => Math.min(aDay, kills - day * aDay));
console.log(`  seed ${seed}, ${kills} kills in ${shares.length} days of ${VISITS} downloads at ${DOCKS} docks`);
const begun = performance.now();
let done = 0;
const onKill = (): void => {
  if (++done % 100 === 0) console.log(`  ${done} kills, ${((performance.now() - begun) / 1000).toFixed(0)} s`);
};

const days: DaemonDay[] = [];
const problems: string[] = [];
const waiting = shares.map((share, day) => ({ share, day }));
const live = async (): Promise<void> => {
  for (let next = waiting.shift(); next; next = waiting.shift()) {
    const { share, day } = next;
    const lived = await daemonDay({ seed: seed + day, docks: DOCKS, visits: VISITS, kills: share, onKill });
    days.push(lived);
    problems.push(...lived.problems.map((problem) => `day ${day + 1} (seed ${seed + day}): ${problem}`));
  }
};
await Promise.all(Array.from({ length: atOnce }, live));

const sum = (of: (day: DaemonDay) => number): number => days.reduce((total, day) => total + of(day), 0);
const stages = [...new Set(days.flatMap((day) => Object.keys(day.kills)))] as (keyof DaemonDay['kills'])[];
console.log(`  kills by stage: ${stages.map((stage) => `${sum((day) => day.kills[stage])} ${stage}`).join(', ')}`);
console.log(`  ${sum((day) => day.cutConversations)} conversations were being recorded when a kill came`);
console.log(
  `  ${sum((day) => day.visits)} visits, ${sum((day) => day.complete)} whole downloads, ${sum((day) => day.cut)} cut off`,
);
console.log(
  `  ${sum((day) => day.readings)} readings stored, ${sum((day) => day.owed)} owed, ${sum((day) => day.lost)} lost, ${sum((day) => day.doubled)} doubled, ${problems.length} problems`,
);
console.log(`  ${((performance.now() - begun) / 1000).toFixed(0)} s`);
for (const problem of problems.slice(0, 50)) console.error(`  ${problem}`);
const isGood =
  problems.length === 0 && sum((day) => day.lost) === 0 && sum((day) => day.doubled) === 0 && done === kills;
process.exitCode = isGood ? 0 : 1;
