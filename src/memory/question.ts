/** Puts the question of one download to one memory: what it is known to hold, what was told, and what bears on both. */
import type { Download, ImageItem } from '../core/download.ts';
import type { TestRecord } from '../core/reading.ts';
import { align } from './align.ts';
import { overwritableIn } from './departures.ts';
import { explainOrdinary } from './fast.ts';
import { clockEvidence } from './last-clock.ts';
import type { Sighting } from './same.ts';
import { type MayBorrow, standingOf } from './standing.ts';
import type { LastTold, MemoryState } from './state.ts';
import type { Explanation, Question } from './steps.ts';

/** A memory to which the question is put. */
export interface AskedMemory {
  readonly memory: number;
  readonly highestRun?: number;
  readonly last?: LastTold;
  /** Tests of other memories that it may hold. */
  readonly mayBorrow?: MayBorrow;
}

/** The question that a download puts to one of the memories of a meter. */
export function askOf({ sequence }: Pick<MemoryState, 'sequence'>, asked: AskedMemory, download: Download): Question {
  const known = standingOf({ sequence }, asked.memory, asked.mayBorrow);
  const told = imageOf(download);
  const sightings = told.map((item) => (item.kind === 'test' ? sightingOf(item.test, download) : undefined));
  const overwritable = overwritableIn(download, { known, sightings });
  return {
    known,
    told,
    sightings,
    weak: download.protocol === 'astm',
    ...(overwritable === undefined ? {} : { overwritable }),
    ...(asked.highestRun === undefined ? {} : { highestRun: asked.highestRun }),
    clock: clockEvidence(download, asked.last?.clock),
  };
}

/** The cheapest explanation. */
export const explain = (question: Question): Explanation => explainOrdinary(question) ?? align(question);

/** A download that broke off before it told anything says nothing of the memory: all of it is a hole. */
const imageOf = ({ complete, image }: Download): readonly ImageItem[] =>
  complete || image.length > 0 ? image : [{ kind: 'hole' }];

/** A told test with its ring slot, where it keeps one. */
export const sightingOf = (record: TestRecord, { order, protocol }: Pick<Download, 'order' | 'protocol'>): Sighting =>
  order === 'ring' && protocol === 'line' && record.slot !== undefined ? { record, ringSlot: record.slot } : { record };
