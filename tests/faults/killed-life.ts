/**
 * Kills a gateway again and again while it records and takes in, and looks at the store after every kill. Used by a
 * test with a dozen kills and by the long proof with hundreds.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { instant } from '../../src/core/instant.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { numbersFrom } from '../support/numbers.ts';

const CHILD = fileURLToPath(new URL('./store-child.ts', import.meta.url));

/** So many steps the gateway may go on behind the one at which its kill was decided: about a visit. */
const STEPS_BEHIND = 20;

export interface KilledLife {
  /** Kills that hit the process while it worked. */
  readonly kills: number;
  /** Captures that were open, and sealed but not taken in, when a kill came. */
  readonly leftOpen: number;
  readonly leftSealed: number;
  /** What was wrong, in plain words; empty where all held. */
  readonly problems: readonly string[];
}

export interface KilledLifeOptions {
  /** An empty data folder. */
  readonly dir: string;
  readonly seed: number;
  readonly visits: number;
  /** How often to kill, at most; fewer where the visits run out first. */
  readonly kills: number;
  /** A kill comes after a step drawn from 1 to this (a visit has about 20), and a moment later still. */
  readonly steps: number;
}

/** Runs one meter's visits to their end through many kills. */
export async function killedLife(options: KilledLifeOptions): Promise<KilledLife> {
  const { dir, seed, visits } = options;
  const chance = numbersFrom(seed);
  const problems: string[] = [];
  const told = lifeOf(seed, visits, { runs: false, cuts: false }).told.map((t) => `${t.stamp} ${t.inr}`);
  let kills = 0;
  let leftOpen = 0;
  let leftSealed = 0;
  let before: string[] = [];
  for (let attempt = 0; ; attempt++) {
    const kill = {
      atStep: 1 + Math.floor(chance() * options.steps),
      laterMs: chance() < 0.5 ? chance() * 4 : chance() * 40,
    };
    const isToKill = kills < options.kills;
    const standStill = isToKill ? kill.atStep + STEPS_BEHIND : 0;
    const args = [dir, String(seed), String(visits), String(attempt), String(standStill)];
    const finished = await runChild(args, isToKill ? kill : undefined);
    if (!finished) kills++;
    const store = openStore({ dir, now: instant(0) });
    const found = readingsIn(store);
    const unfinished = store.captures.unfinished();
    leftOpen += unfinished.filter((capture) => !capture.sealed).length;
    leftSealed += unfinished.filter((capture) => capture.sealed).length;
    for (const problem of [...soundness(store), ...kept(before, found), ...order(found, told)])
      problems.push(`after ${finished ? 'the end' : `kill ${kills}`}: ${problem}`);
    store.close();
    before = found;
    if (!finished) continue;
    if (found.join() !== told.join()) problems.push(`at the end ${found.length} readings instead of ${told.length}`);
    return { kills, leftOpen, leftSealed, problems };
  }
}

/** Runs the gateway; true where it came to its end before it was killed. */
async function runChild(args: readonly string[], kill?: { atStep: number; laterMs: number }): Promise<boolean> {
  const child = spawn(process.execPath, ['--import', 'tsx', CHILD, ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  let complained = '';
  let isKilling = false;
  child.stdout.on('data', (data: Buffer) => {
    said += data;
    if (!kill || isKilling || said.length < kill.atStep) return;
    isKilling = true;
    setTimeout(() => child.kill('SIGKILL'), kill.laterMs);
  });
  child.stderr.on('data', (data: Buffer) => {
    complained += data;
  });
  await once(child, 'close');
  if (complained) throw new Error(`the gateway failed: ${complained}`);
  return said.endsWith('done');
}

const readingsIn = (store: Store): string[] =>
  [...store.readings.pages({})].flat().map((r) => `${r.record.meterTimeText} ${r.record.values[0]?.value}`);

/** What SQLite finds wrong with the file. */
function soundness(store: Store): string[] {
  const integrity = store.db.statement<{ integrity_check: string }>('PRAGMA integrity_check').all();
  const orphans = store.db.statement('PRAGMA foreign_key_check').all();
  const audit = store.audit.check();
  return [
    ...integrity.map((row) => row.integrity_check).filter((text) => text !== 'ok'),
    ...(orphans.length > 0 ? [`${orphans.length} rows point to nothing`] : []),
    ...(audit.intact ? [] : [`the audit chain is broken at ${audit.brokenAt}`]),
  ];
}

/** Readings that were there before and are not now. */
const kept = (before: readonly string[], now: readonly string[]): string[] =>
  before.filter((reading) => !now.includes(reading)).map((reading) => `lost ${reading}`);

/** Readings that stand twice, were never made, or stand in the wrong order. */
function order(found: readonly string[], told: readonly string[]): string[] {
  const places = found.map((reading) => told.indexOf(reading));
  return places.flatMap((place, i) => {
    if (place < 0) return [`invented ${found[i]}`];
    return i > 0 && place <= (places[i - 1] ?? -1) ? [`out of order or twice: ${found[i]}`] : [];
  });
}
