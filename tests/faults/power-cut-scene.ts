/**
 * One download of the built program, with the power cut in front of any of its writes: what the store is like then,
 * and whether the next run brings it to where a run that was never disturbed would have brought it.
 */
import { once } from 'node:events';
import { cpSync } from 'node:fs';
import { serveTcp } from '../../src/virtual/serve.ts';
import { linePort, meterWith } from '../support/meters.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { contentOf, type FoundStore, findStore, lostFrom, rebuildDifferences } from './found-store.ts';
import { powerCutOption, writesTold } from './power-cut.ts';

export interface CutScene {
  /** Writes of a run that is not disturbed. */
  readonly writes: number;
  /** Readings after it. */
  readonly readings: number;
  /** Cuts the power of a fresh run in front of this write, from 1, and lets the next run finish. */
  cutAt(write: number): Promise<CutRun>;
  close(): Promise<void>;
}

export interface CutRun {
  /** False where the run had fewer writes, and ended by itself. */
  readonly isCut: boolean;
  /** What the cut left of this download. */
  readonly left: 'nothing' | 'open' | 'sealed' | 'taken in';
  /** What was wrong, in plain words; empty where all held. */
  readonly problems: readonly string[];
}

export interface CutSceneOptions {
  /** Tests in the meter's memory when it comes first; that download is taken in undisturbed if `newTests` is given. */
  readonly tests: number;
  /** Tests made since; all but one of them overwrite an older one. 0: the first download, into a store that is not there yet. */
  readonly newTests: number;
}

/** Sets the scene: a meter on TCP, the store before, and the store after a run that is not disturbed. */
export async function cutScene({ tests, newTests }: CutSceneOptions): Promise<CutScene> {
  const served = await serveTcp(linePort(meterWith({ tests, capacity: tests + 1 })), 0);
  const call = ['collect', served.where, '--zone', 'UTC', '--quiet'];
  const plain = makeProgram();
  /** A fresh folder with the store as it was before, and a program that loses its power in front of a write. */
  const fresh = (write: number): Program => {
    const program = makeProgram({ NODE_OPTIONS: powerCutOption(write) });
    cpSync(plain.data, program.data, { recursive: true });
    return program;
  };
  if (newTests > 0) await collectWhole(plain, call);
  for (let i = 0; i < newTests; i++)
    served.test({ kind: 'patient', values: [{ analyte: 'INR', value: `2.${i}`, unit: '{INR}' }] });
  const before = findStore(plain.data);
  const counting = fresh(0);
  const writes = writesTold(await collectWhole(counting, call));
  if (writes === undefined) throw new Error('the module that counts writes was not loaded');
  const wanted = findStore(counting.data);
  counting.dispose();

  return {
    writes,
    readings: wanted.readings.length,
    async cutAt(write) {
      const program = fresh(write);
      try {
        const child = program.startGroup(...call);
        const [code, signal] = await once(child, 'close');
        const isCut = signal === 'SIGKILL';
        const problems = isCut || code === 0 ? [] : [`the run ended with ${code}`];
        const cut = findStore(program.data);
        problems.push(...cut.problems, ...lostFrom(before, cut).map((reading) => `the cut lost ${reading}`));
        if (![before, wanted].some((whole) => contents(whole) === contents(cut)))
          problems.push(`the cut left a download half taken in: ${cut.readings.length} readings`);
        await collectWhole(plain, [...call, '--data', program.data]);
        const after = findStore(program.data);
        problems.push(...after.problems);
        if (contents(after) !== contents(wanted))
          problems.push(`the next run came to other readings:\n${contents(after)}\ninstead of\n${contents(wanted)}`);
        if (after.unfinished.length > 0) problems.push('the next run left a conversation that is not taken in');
        const differences = rebuildDifferences(program.data);
        if (differences > 0) problems.push(`a rebuild gives ${differences} other rows`);
        return { isCut, left: leftOf(before, cut), problems: problems.map((text) => `cut at write ${write}: ${text}`) };
      } finally {
        program.dispose();
      }
    },
    async close() {
      plain.dispose();
      await served.close();
    },
  };
}

/** Collects to the end; gives what was said on standard error. */
async function collectWhole(program: Program, call: readonly string[]): Promise<string> {
  const { code, stderr } = await program.run(...call);
  if (code !== 0) throw new Error(`collect ended with ${code}: ${stderr}`);
  return stderr;
}

/** Every reading with its status, in the meter's own order. */
const contents = (found: FoundStore): string =>
  found.readings.map((reading) => `${contentOf(reading)} ${reading.status}`).join('\n');

function leftOf(before: FoundStore, cut: FoundStore): CutRun['left'] {
  if (cut.complete > before.complete) return 'taken in';
  const [unfinished] = cut.unfinished;
  return unfinished ? (unfinished.sealed ? 'sealed' : 'open') : 'nothing';
}
