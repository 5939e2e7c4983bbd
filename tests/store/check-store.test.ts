/** Looking a store over: what is in order is called so, and every kind of damage is found and named. */
import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { checkStore, tallyDifferences, tallyOf } from '../../src/store/check-store.ts';
import type { Store } from '../../src/store/store.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder, tempStore } from './temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const profiles = loadProfiles('/nowhere');

function filled(): { dir: string; store: Store } {
  const dir = tempFolder();
  const store = tempStore(dir);
  for (const capture of lifeOf(SEED, 4, { runs: false }).captures) replayCapture(store, capture, profiles, context);
  return { dir, store };
}
const partsOf = (store: Store): string[] => [...new Set(checkStore(store).problems.map(({ part }) => part))];

describe('a look over the store', () => {
  it('finds nothing where nothing is wrong, and counts what is there', () => {
    const { store } = filled();
    const { problems, tally } = checkStore(store);
    expect(problems).toEqual([]);
    expect(tally.rows).toMatchObject({ capture: 4, audit: 4, download: 4 });
    expect(tally.rows['reading']).toBeGreaterThan(4);
    expect(tally.auditHead).toMatch(/^[0-9a-f]{64}$/);
    expect(checkStore(tempStore()).problems).toEqual([]);
  });

  it('finds bytes of a conversation that were exchanged for others', () => {
    const { store } = filled();
    store.db.script(
      'UPDATE capture SET packed = (SELECT packed FROM capture WHERE capture_no = 1) WHERE capture_no = 3',
    );
    expect(checkStore(store).problems).toEqual([
      { part: 'raw bytes', message: 'the bytes of conversation 3 are not those that were recorded' },
    ]);
  });

  it('finds bytes of a conversation that cannot be unpacked, and a header that was changed', () => {
    const { store } = filled();
    store.db.script("UPDATE capture SET packed = x'00' WHERE capture_no = 2");
    store.db.script("UPDATE capture SET zone = 'Europe/Berlin' WHERE capture_no = 4");
    const { problems } = checkStore(store);
    expect(problems.map(({ part }) => part)).toEqual(['raw bytes', 'raw bytes']);
    expect(problems.map(({ message }) => /conversation (\d)/.exec(message)?.[1])).toEqual(['2', '4']);
  });

  it('finds an audit row that was changed or taken out behind the program’s back', () => {
    for (const sql of ["UPDATE audit SET actor = 'nobody' WHERE n = 2", 'DELETE FROM audit WHERE n = 2']) {
      const { store } = filled();
      store.db.script('DROP TRIGGER audit_keeps_rows; DROP TRIGGER audit_keeps_length');
      store.db.script(sql);
      const [problem] = checkStore(store).problems;
      expect(problem).toMatchObject({ part: 'audit', message: expect.stringContaining('row 2') });
    }
  });

  it('finds rows that point to nothing', () => {
    const { store } = filled();
    store.db.script('PRAGMA foreign_keys = OFF; DELETE FROM meter; PRAGMA foreign_keys = ON');
    expect(partsOf(store)).toEqual(['references']);
    expect(checkStore(store).problems.map(({ message }) => message)).toContainEqual(
      expect.stringMatching(/^\d+ rows of download point to a meter that is not there$/),
    );
  });

  it('finds a page of an index that was overwritten on the disk', () => {
    const { dir, store } = filled();
    const root = store.db
      .statement<{ rootpage: number }>("SELECT rootpage FROM sqlite_schema WHERE name = 'reading_by_meter'")
      .get()?.rootpage;
    store.db.script('PRAGMA wal_checkpoint(TRUNCATE)');
    store.close();
    const path = join(dir, 'tallydock.db');
    const page = ((root ?? 1) - 1) * 4096;
    const file = openSync(path, 'r+');
    const bent = readFileSync(path).subarray(page, page + 4096);
    bent[4090] = (bent[4090] ?? 0) ^ 1;
    writeSync(file, bent, 0, 4096, page);
    closeSync(file);
    expect(partsOf(tempStore(dir))).toEqual(['structure']);
  });
});

describe('two tallies', () => {
  it('agree for the same content, and tell in words where they do not', () => {
    const { store } = filled();
    const before = tallyOf(store);
    expect(tallyDifferences(before, tallyOf(store))).toEqual([]);
    store.audit.append({ at: context.now, actor: 'a', action: 'b', subject: 'c', detail: {} });
    expect(tallyDifferences(before, tallyOf(store))).toEqual([
      '5 rows of audit instead of 4',
      'the audit chain ends differently',
    ]);
  });
});
