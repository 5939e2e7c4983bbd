import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { libraryOf, loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild, rebuildFault } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { describeDifference } from '../../src/store/derived.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { lifeOf, shuffled } from './told-meter.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const TABLES = [
  'meter',
  'download',
  'clock_event',
  'reading',
  'reading_value',
  'placement',
  'incident',
  'memory_state',
  'capture',
  'audit',
];

/** Every row of every table. */
const dump = (store: Store) => TABLES.map((t) => store.db.statement(`SELECT * FROM ${t}`).all());

function filled(captures: readonly Capture[]): Store {
  const store = tempStore();
  for (const capture of captures) replayCapture(store, capture, profiles, context);
  return store;
}

const lives = [1, 2, 3, 4].map((n) => ({
  n,
  captures: shuffled(
    [...lifeOf(SEED + n, 7, { runs: true }).captures, ...lifeOf(SEED - n, 7, { runs: false, id: 'PA00077' }).captures],
    SEED + n,
  ),
}));

describe(`rebuilding (SEED=${SEED})`, () => {
  it.each(lives)(
    'life $n of two meters, captures in any order: identical, and nothing in the store is touched',
    ({ captures }) => {
      const store = filled(captures);
      const before = dump(store);
      const rebuilt = rebuild(store, profiles, context, { accept: true });
      expect(rebuilt).toEqual({ captures: captures.length, differences: [], accepted: false });
      expect(rebuildFault(rebuilt)).toBeUndefined();
      expect(dump(store)).toEqual(before);
    },
  );

  it('can be done again and again, and more captures can be taken in afterwards', () => {
    const { captures } = lives[0] ?? { captures: [] };
    const store = filled(captures.slice(0, 6));
    rebuild(store, profiles, context, { accept: false });
    for (const capture of captures.slice(6)) replayCapture(store, capture, profiles, context);
    expect(rebuild(store, profiles, context, { accept: false }).differences).toEqual([]);
  });

  it('finds a value that was changed behind its back, says so in one line, and changes nothing', () => {
    const store = filled(lives[0]?.captures ?? []);
    const victim = [...store.readings.pages({})].flat()[3];
    const value = victim?.record.values[0]?.value;
    store.db.script(`UPDATE reading_value SET value = '9.9' WHERE reading_id = '${victim?.id}'`);
    const before = dump(store);
    const rebuilt = rebuild(store, profiles, context, { accept: false });
    expect(rebuilt.differences.map(describeDifference)).toEqual([
      `reading_value ${victim?.id} 0: value 9.9 -> ${value}`,
    ]);
    expect(rebuildFault(rebuilt)).toMatchObject({ code: 'REBUILD_DIFFERS', exitCode: 1 });
    expect(dump(store)).toEqual(before);
  });

  it('finds rows that are missing and rows that are too many', () => {
    const store = filled(lives[1]?.captures ?? []);
    const [first, second] = [...store.readings.pages({})].flat();
    store.db.script(`DELETE FROM reading_value WHERE reading_id = '${first?.id}'`);
    store.db.script(`INSERT INTO reading_value VALUES ('${second?.id}', 7, 'GLU', '5.0', 'mmol/L')`);
    expect(rebuild(store, profiles, context, { accept: false }).differences.map(describeDifference).sort()).toEqual(
      [`reading_value ${first?.id} 0: is new`, `reading_value ${second?.id} 7: is gone`].sort(),
    );
  });

  it('keeps the new rows when told to, and writes that into the audit chain', () => {
    const store = filled(lives[2]?.captures ?? []);
    const good = dump(store).slice(0, -1);
    store.db.script("UPDATE reading SET lot = '0000000'");
    const rebuilt = rebuild(store, profiles, context, { accept: true });
    expect(rebuilt.accepted).toBe(true);
    expect(rebuilt.differences.length).toBeGreaterThan(0);
    expect(rebuildFault(rebuilt)).toBeUndefined();
    expect(dump(store).slice(0, -1)).toEqual(good);
    expect(store.audit.list().at(-1)).toMatchObject({ action: 'rebuilt', actor: 'test' });
    expect(store.audit.check().intact).toBe(true);
  });

  it('changes nothing where a profile is gone', () => {
    const store = filled(lives[3]?.captures ?? []);
    const before = dump(store);
    expect(() => rebuild(store, libraryOf([]), context, { accept: true })).toThrow(/no meter profile/);
    expect(dump(store)).toEqual(before);
  });

  it('leaves rows of other tables that point to readings alone', () => {
    const store = filled(lives[0]?.captures ?? []);
    const id = [...store.readings.pages({})].flat()[0]?.id;
    store.db.script('CREATE TABLE note (reading_id TEXT REFERENCES reading, text TEXT)');
    store.db.script(`INSERT INTO note VALUES ('${id}', 'asked the patient')`);
    store.db.script("UPDATE reading SET lot = '0000000'");
    expect(rebuild(store, profiles, context, { accept: true }).accepted).toBe(true);
    expect(store.db.statement('SELECT * FROM note').all()).toEqual([{ reading_id: id, text: 'asked the patient' }]);
  });
});
