/**
 * SQLite's own command line reads the store, while it is open and when it is closed, and finds it sound.
 * Source: `integrity_check` and `foreign_key_check` as in https://www.sqlite.org/pragma.html; the shell as in
 * https://www.sqlite.org/cli.html. Where no shell is installed, the sqlite3 module of Python's standard library does.
 */
import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { openStore } from '../../src/store/open-store.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { lifeOf, shuffled } from '../intake/told-meter.ts';
import { tempFolder } from '../store/temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const PYTHON =
  'import sqlite3,sys\nfor r in sqlite3.connect(sys.argv[1]).execute(sys.argv[2]): print("|".join("" if c is None else str(c) for c in r))';

/** The lines that an outside SQLite answers. */
function ask(file: string, sql: string): string[] {
  const hasShell = spawnSync('sqlite3', ['--version']).status === 0;
  const run = hasShell
    ? spawnSync('sqlite3', ['-batch', file, sql], { encoding: 'utf8' })
    : spawnSync('python3', ['-c', PYTHON, file, sql], { encoding: 'utf8' });
  if (run.status !== 0) throw new Error(`no outside SQLite answered: ${run.stderr}`);
  return run.stdout.split('\n').filter((line) => line !== '');
}

describe('an outside SQLite', () => {
  it(`reads every reading with its value and finds the file sound (SEED=${SEED})`, () => {
    const dir = tempFolder();
    const file = join(dir, STORE_FILE);
    const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
    const store = openStore({ dir, now: context.now });
    const { captures, told } = lifeOf(SEED, 8, { runs: true });
    for (const capture of shuffled(captures, SEED)) replayCapture(store, capture, loadProfiles(dir), context);
    const ours = [...store.readings.pages({})].flat().map((r) => `${r.id}|${r.record.values[0]?.value}`);
    expect(ours).toHaveLength(told.length);
    const readings =
      'SELECT r.reading_id, v.value FROM reading r JOIN reading_value v USING (reading_id) ORDER BY position';
    expect(ask(file, readings)).toEqual(ours);
    store.close();
    expect(ask(file, readings)).toEqual(ours);
    expect(ask(file, 'PRAGMA integrity_check')).toEqual(['ok']);
    expect(ask(file, 'PRAGMA foreign_key_check')).toEqual([]);
  });
});
