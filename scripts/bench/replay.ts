/**
 * Readings a second through replay into the store, against a bare insert loop of the very rows that came out, one
 * transaction for each capture as in replay, with the same journal and the same care about the disk.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { instant } from '../../src/core/instant.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { openStore } from '../../src/store/open-store.ts';
import { openSqlite, type SqliteStatement } from '../../src/store/sqlite.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { download, fullMeter, profiles, SEED } from './lib/meters.ts';
import { median, report } from './lib/report.ts';

const METERS = 40;
const TESTS = 200;
const ROUNDS = 3;

const captures = Array.from({ length: METERS }, (_, i) => {
  const meter = { ...fullMeter(TESTS, 'line', SEED + i), id: `BENCH-${i}` };
  return download(meter, 'line', i);
});
console.log(`  seed ${SEED}, ${METERS} captures of ${TESTS} tests`);

/** Seconds for all captures, and the rows that came of them by capture. */
function replayOnce(): { seconds: number; groups: Group[] } {
  const folder = mkdtempSync(join(tmpdir(), 'tallydock-bench-'));
  const store = openStore({ dir: folder, now: instant(Date.now()) });
  try {
    const start = process.hrtime.bigint();
    for (const capture of captures)
      replayCapture(store, capture, profiles, { now: instant(Date.now()), actor: 'bench' });
    const seconds = Number(process.hrtime.bigint() - start) / 1e9;
    store.close();
    return { seconds, groups: rowsByCapture(join(folder, STORE_FILE)) };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

interface Group {
  readonly table: string;
  readonly rows: readonly unknown[][];
}

const READINGS = '(SELECT reading_id FROM reading JOIN download ON first_download = download_id WHERE capture_no = ?)';
const OF_CAPTURE: Readonly<Record<string, string>> = {
  capture: 'capture_no = ?',
  meter: 'meter_no IN (SELECT meter_no FROM download WHERE capture_no = ?)',
  download: 'capture_no = ?',
  clock_event: 'download_id IN (SELECT download_id FROM download WHERE capture_no = ?)',
  reading: 'first_download IN (SELECT download_id FROM download WHERE capture_no = ?)',
  reading_value: `reading_id IN ${READINGS}`,
  placement: 'made_by IN (SELECT download_id FROM download WHERE capture_no = ?)',
  judged: `reading_id IN ${READINGS}`,
  outgoing: `reading_id IN ${READINGS}`,
};

function rowsByCapture(file: string): Group[] {
  const db = openSqlite(file, { readonly: true });
  schema = db
    .prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'")
    .pluck()
    .all() as string[];
  const numbers = db.prepare('SELECT capture_no FROM capture ORDER BY arrival').pluck().all();
  const groups = numbers.flatMap((captureNo) => [
    ...Object.entries(OF_CAPTURE).map(([table, where]) => ({
      table,
      rows: db.prepare(`SELECT * FROM ${table} WHERE ${where}`).raw().all(captureNo) as unknown[][],
    })),
    { table: 'end of transaction', rows: [] },
  ]);
  db.close();
  return groups;
}

let schema: string[] = [];

/** Seconds to insert the rows into an empty database of the same schema. */
function insertOnce(groups: readonly Group[]): number {
  const folder = mkdtempSync(join(tmpdir(), 'tallydock-bench-'));
  const db = openSqlite(join(folder, 'bare.db'));
  try {
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    db.pragma('foreign_keys = OFF');
    for (const sql of schema) db.exec(sql);
    const statements = new Map<string, SqliteStatement>();
    const start = process.hrtime.bigint();
    db.exec('BEGIN IMMEDIATE');
    for (const { table, rows } of groups) {
      if (table === 'end of transaction') {
        db.exec('COMMIT; BEGIN IMMEDIATE');
        continue;
      }
      for (const row of rows) {
        const insert =
          statements.get(table) ?? db.prepare(`INSERT INTO ${table} VALUES (${row.map(() => '?').join(', ')})`);
        statements.set(table, insert);
        insert.run(...row);
      }
    }
    db.exec('COMMIT');
    return Number(process.hrtime.bigint() - start) / 1e9;
  } finally {
    db.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

const replayed: number[] = [];
const inserted: number[] = [];
for (let round = 0; round <= ROUNDS; round++) {
  const { seconds, groups } = replayOnce();
  const bare = insertOnce(groups);
  if (round === 0) {
    const total = groups
      .filter((group) => group.table === 'reading')
      .reduce((sum, group) => sum + group.rows.length, 0);
    if (total !== METERS * TESTS) throw new Error(`${total} readings instead of ${METERS * TESTS}`);
    continue; // the first round warms up
  }
  replayed.push(seconds);
  inserted.push(bare);
}
report({
  what: 'replay',
  against: 'bare inserts of the same rows',
  baseline: (METERS * TESTS) / median(inserted),
  figure: (METERS * TESTS) / median(replayed),
  unit: 'readings/s',
  aim: { kind: 'at-least', ratio: 0.3 },
});
