/**
 * Rounds of new readings and corrections in which the gateway that feeds an outlet, or its receiver, is killed without
 * warning somewhere in its work. In the end the receiver must have everything once and in order.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import type { ReadingId } from '../../src/core/reading.ts';
import { type Chance, chanceFrom } from '../../src/virtual/chance.ts';
import { addOutlet, workOffAll } from './driven.ts';
import { type MadeStore, madeStore } from './made-store.ts';
import type { Rig } from './rigs.ts';
import { problemsOf } from './verdict.ts';

/** What a gateway of its own is told. */
export interface Feeding {
  readonly dir: string;
  readonly outletNo: number;
  readonly setup: Rig['setup'];
  /** Readings in a batch. */
  readonly batch: number;
}

export interface KillPlan {
  readonly rig: Rig;
  /** An empty folder for the store. */
  readonly dir: string;
  readonly victim: 'gateway' | 'receiver';
  readonly rounds: number;
  readonly seed: number;
  /** Told after each round, for progress. */
  readonly onRound?: (round: number) => void;
}

export interface KillOutcome {
  /** What is wrong in the end, in sentences. */
  readonly problems: readonly string[];
  /** Versions that the receiver has. */
  readonly versions: number;
  /** Rounds in which the victim was killed with work still to do. */
  readonly hit: number;
}

const BATCH = 7;
const CHILD = fileURLToPath(
  new URL(import.meta.url.endsWith('.ts') ? './feeder-child.ts' : './feeder-child.js', import.meta.url),
);
const LOADER = import.meta.url.endsWith('.ts') ? ['--import', 'tsx'] : [];

/** Plays the rounds. */
export async function killRounds({ rig, dir, victim, rounds, seed, onRound }: KillPlan): Promise<KillOutcome> {
  const chance = chanceFrom(seed);
  const ids: ReadingId[] = [];
  let hit = 0;
  const first = madeStore(dir);
  const outletNo = addOutlet(first.store);
  first.store.close();
  for (let round = 1; round <= rounds; round++) {
    const made = madeStore(dir);
    newsOf(made, ids, chance);
    if (victim === 'receiver') {
      if (await killReceiver(made, outletNo, rig, chance)) hit++;
    }
    made.store.close();
    if (victim === 'gateway') {
      if (await killGateway({ dir, outletNo, setup: rig.setup, batch: BATCH }, chance)) hit++;
    }
    onRound?.(round);
  }
  const made = madeStore(dir);
  try {
    const outlet = await rig.open();
    await workOffAll(made.store, outletNo, outlet);
    await outlet.close();
    const received = await rig.received();
    return { problems: problemsOf(received, made.store, ids), versions: received.length, hit };
  } finally {
    made.store.close();
  }
}

/** New readings of a meter of this round, and changes of some that there are. */
function newsOf({ add, change, people }: MadeStore, ids: ReadingId[], chance: Chance): void {
  ids.push(...add(chance.whole(10, 40)));
  for (let i = chance.whole(0, 4); i > 0; i--) {
    const id = ids[chance.whole(0, ids.length - 1)];
    if (!id) continue;
    if (chance.happens(0.5)) change(id, { status: chance.happens(0.5) ? 'held' : 'settled' });
    else change(id, { patientNo: people[chance.whole(0, people.length - 1)] ?? 0 });
  }
}

/** Starts a gateway and kills it some dots and moments later. True where it had not finished. */
async function killGateway(feeding: Feeding, chance: Chance): Promise<boolean> {
  const child: ChildProcess = spawn(process.execPath, [...LOADER, CHILD, JSON.stringify(feeding)], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const dots = chance.whole(1, 5);
  const afterMs = chance.between(0, 12);
  let said = '';
  let complaint = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    complaint += chunk.toString();
  });
  child.stdout?.on('data', (chunk: Buffer) => {
    const before = said.length;
    said += chunk.toString();
    if (before < dots && said.length >= dots) setTimeout(() => child.kill('SIGKILL'), afterMs);
  });
  const [code, signal] = await once(child, 'close');
  if (code !== 0 && signal !== 'SIGKILL') throw new Error(`the gateway ended with ${code}: ${complaint}`);
  return !said.endsWith('done');
}

/** Feeds the outlet from here and kills the receiver meanwhile. True where something was left to do. */
async function killReceiver({ store }: MadeStore, outletNo: number, rig: Rig, chance: Chance): Promise<boolean> {
  const real = await rig.open();
  const outlet = { ...real, batchSize: BATCH };
  const feeding = workOffAll(store, outletNo, outlet).catch((thrown: unknown) => {
    if (!(thrown instanceof Error && 'code' in thrown && thrown.code === 'OUTLET_DOWN')) throw thrown;
  });
  await sleep(chance.between(0, 40));
  await rig.takeAway();
  await feeding;
  await real.close();
  await rig.bringBack();
  return store.outlets.lag(store.outlets.get(outletNo) ?? missing()).waiting > 0;
}

const missing = (): never => {
  throw new Error('the outlet is gone');
};
