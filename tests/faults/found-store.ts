/** The store of a dead program as the next program would find it, looked over in a copy: nothing here helps or hides. */
import { copyFileSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { ListedReading } from '../../src/store/readings.ts';
import type { Store } from '../../src/store/store.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';

/** What was found. */
export interface FoundStore {
  /** What `check` complains of: structure, references, audit chain, raw bytes. */
  readonly problems: readonly string[];
  /** By meter, in the meter's own order of tests. */
  readonly readings: readonly ListedReading[];
  /** Conversations that were not taken in, and the process that recorded each. */
  readonly unfinished: readonly { readonly pid: number; readonly sealed: boolean }[];
  /** For each meter, the beginning of its newest whole download. */
  readonly wholeAt: ReadonlyMap<string, number>;
  readonly complete: number;
  readonly cut: number;
}

const NOTHING: FoundStore = {
  problems: [],
  readings: [],
  unfinished: [],
  wholeAt: new Map(),
  complete: 0,
  cut: 0,
};

/** Looks at the store in a data folder. The program that wrote it must be dead. A folder without a store has nothing. */
export const findStore = (dataDir: string): FoundStore => withCopy(dataDir, lookOver) ?? NOTHING;

/** How many rows a rebuild from the stored bytes would give otherwise. */
export const rebuildDifferences = (dataDir: string): number =>
  withCopy(dataDir, (store) => {
    const context = { now: instant(0), actor: 'test' };
    return rebuild(store, loadProfiles(dataDir), context, { accept: false }).differences.length;
  }) ?? 0;

/** Opens a copy of the store in a data folder; undefined where there is none. */
function withCopy<T>(dataDir: string, work: (store: Store) => T): T | undefined {
  if (!existsSync(join(dataDir, STORE_FILE))) return undefined;
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-found-'));
  try {
    for (const name of [STORE_FILE, `${STORE_FILE}-wal`])
      if (existsSync(join(dataDir, name))) copyFileSync(join(dataDir, name), join(dir, name));
    const store = openStore({ dir, now: instant(0) });
    try {
      return work(store);
    } finally {
      store.close();
    }
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

function lookOver(store: Store): FoundStore {
  const downloads = store.downloads.list();
  const whole = downloads.filter(({ complete }) => complete);
  return {
    problems: checkStore(store).problems.map(({ message }) => message),
    readings: [...store.readings.pages({})].flat(),
    unfinished: store.captures.unfinished().map(({ owner, sealed }) => ({ pid: owner.pid, sealed })),
    wholeAt: new Map(whole.map(({ meterId, at }) => [meterId, at])),
    complete: whole.length,
    cut: downloads.length - whole.length,
  };
}

/** The readings of one meter. */
export const readingsOf = (found: FoundStore, meterId: string): ListedReading[] =>
  found.readings.filter(({ meter }) => meter.id === meterId);

/** Readings that were there before and are not now, or say less or something else of their test than before. */
export function lostFrom(before: FoundStore, now: FoundStore): string[] {
  const after = new Map(now.readings.map((reading) => [reading.id, contentOf(reading)]));
  return before.readings.flatMap((reading) =>
    after.get(reading.id)?.startsWith(contentOf(withoutPlaceholder(reading)))
      ? []
      : [`${reading.id} (${contentOf(reading)})`],
  );
}

/**
 * E1394 tells of an error test first that it failed, `X`, and its code in a comment behind that. A telling that broke off
 * in between leaves the `X` on a reading that is not settled: the code that comes with the next telling stands in its place.
 */
function withoutPlaceholder(reading: ListedReading): ListedReading {
  const { record, status } = reading;
  if (status !== 'provisional' || record.kind !== 'error' || record.errorCode !== 'X') return reading;
  const { errorCode: _, ...rest } = record;
  return { ...reading, record: rest };
}

/** A test in one line. */
export const contentOf = ({ meter, record }: ListedReading): string =>
  [
    meter.id,
    record.meterTimeText,
    record.kind,
    record.errorCode ?? '',
    ...record.values.map(({ analyte, value, unit }) => `${analyte}=${value}${unit}`),
  ].join(' ');
