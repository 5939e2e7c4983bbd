/**
 * Recorded conversations with what must come of them: each folder holds the captures of one meter, in the order of
 * time, and `expected.csv`, the export that they must give. A bug in wire, memory or clock ends as a folder here.
 * After a change that is meant: `npx vitest run tests/replay -u`, and a sentence in the commit that says why.
 */
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { csvHeader, csvRows } from '../../src/outlets/csv/csv-row.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { parseCapture } from '../../src/wire/capture-file.ts';

const here = import.meta.dirname;
const folders = readdirSync(here, { withFileTypes: true }).flatMap((entry) =>
  entry.isDirectory() ? [entry.name] : [],
);
const context = { now: instant(Date.UTC(2026, 2, 2)), actor: 'replay test' };

function withStore(work: (store: Store) => void): void {
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-replay-'));
  const store = openStore({ dir, now: context.now });
  try {
    work(store);
  } finally {
    store.close();
    rmSync(dir, { recursive: true, force: true });
  }
}

function replayFolder(store: Store, folder: string): void {
  const files = readdirSync(join(here, folder)).filter((file) => file.endsWith('.capture.jsonl'));
  expect(files.length).toBeGreaterThan(0);
  for (const file of files.sort()) {
    replayCapture(store, parseCapture(readFileSync(join(here, folder, file), 'utf8'), file), profiles, context);
  }
}

const profiles = loadProfiles(join(here, 'no-profiles-of-its-own'));
const csvOf = (store: Store): string =>
  csvHeader() + [...store.readings.pages({})].map((page) => page.map(csvRows).join('')).join('');

describe('the captures of', () => {
  it('at least the five kinds of lives are here', () => {
    expect(folders.length).toBeGreaterThanOrEqual(5);
  });

  it.each(folders)('%s give the export that stands beside them', async (folder) => {
    let csv = '';
    withStore((store) => {
      replayFolder(store, folder);
      csv = csvOf(store);
    });
    await expect(csv).toMatchFileSnapshot(join(here, folder, 'expected.csv'));
  });

  it.each(folders)('%s change nothing when they are given once more, nor when all is rebuilt', (folder) => {
    withStore((store) => {
      replayFolder(store, folder);
      const before = csvOf(store);
      replayFolder(store, folder);
      expect(csvOf(store)).toBe(before);
      expect(rebuild(store, profiles, context, { accept: false }).differences).toEqual([]);
      expect(csvOf(store)).toBe(before);
    });
  });
});
