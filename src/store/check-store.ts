/**
 * Looks a store over from the inside: the file's own structure, the rows that point to others, the audit chain, and
 * every conversation's bytes against their fingerprint. Changes nothing and repairs nothing.
 */
import { asFault } from '../core/fault.ts';
import { fingerprint } from './capture-pack.ts';
import type { Store } from './store.ts';

/** Which promise of the store was looked at. */
export type StorePart = 'structure' | 'references' | 'audit' | 'raw bytes';

/** Something that is not as it must be, in one plain sentence without its full stop. */
export interface StoreProblem {
  readonly part: StorePart;
  readonly message: string;
}

/** What was found. No problems: everything that can be known from inside is in order. */
export interface StoreCheck {
  readonly problems: readonly StoreProblem[];
  readonly tally: StoreTally;
}

/** How much is in a store, and the last link of its audit chain: two copies with the same tally hold the same. */
export interface StoreTally {
  /** Rows of every table, by name. */
  readonly rows: Readonly<Record<string, number>>;
  /** SHA-256 of the newest audit row; empty where there is none. */
  readonly auditHead: string;
}

/** At most this many complaints of one kind: a broken disk would give thousands. */
const MOST = 10;

/** Looks the whole store over. Throws only where not even reading is possible. */
export function checkStore(store: Store): StoreCheck {
  const problems = [...structureOf(store), ...referencesOf(store), ...auditOf(store), ...rawBytesOf(store)];
  return { problems, tally: tallyOf(store) };
}

/** Counts what is in a store. */
export function tallyOf({ db }: Store): StoreTally {
  const tables = db
    .statement<{ name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name",
    )
    .all();
  const count = (table: string): number =>
    db.statement<{ n: number }>(`SELECT count(*) AS n FROM "${table}"`).get()?.n ?? 0;
  const head = db.statement<{ sha256: string }>('SELECT sha256 FROM audit ORDER BY n DESC LIMIT 1').get();
  return {
    rows: Object.fromEntries(tables.map(({ name }) => [name, count(name)])),
    auditHead: head?.sha256 ?? '',
  };
}

/** How two tallies differ, in plain words; empty where they do not. */
export function tallyDifferences(before: StoreTally, after: StoreTally): string[] {
  const tables = [...new Set([...Object.keys(before.rows), ...Object.keys(after.rows)])].sort();
  const rows = tables
    .filter((table) => before.rows[table] !== after.rows[table])
    .map((table) => `${after.rows[table] ?? 'no'} rows of ${table} instead of ${before.rows[table] ?? 'none'}`);
  return before.auditHead === after.auditHead ? rows : [...rows, 'the audit chain ends differently'];
}

function structureOf({ db }: Store): StoreProblem[] {
  return db
    .statement<{ integrity_check: string }>(`PRAGMA integrity_check(${MOST})`)
    .all()
    .filter((row) => row.integrity_check !== 'ok')
    .map((row) => ({ part: 'structure', message: row.integrity_check.replace(/\s+/g, ' ') }));
}

function referencesOf({ db }: Store): StoreProblem[] {
  const rows = db.statement<{ table: string; parent: string }>('PRAGMA foreign_key_check').all();
  const kinds = new Map<string, number>();
  for (const { table, parent } of rows) kinds.set(`${table} ${parent}`, (kinds.get(`${table} ${parent}`) ?? 0) + 1);
  return [...kinds].map(([kind, count]) => {
    const [table, parent] = kind.split(' ');
    return { part: 'references', message: `${count} rows of ${table} point to a ${parent} that is not there` };
  });
}

function auditOf({ audit }: Store): StoreProblem[] {
  const chain = audit.check();
  if (chain.intact) return [];
  return [
    { part: 'audit', message: `the audit chain is broken at row ${chain.brokenAt}: it was changed from outside` },
  ];
}

/** SQLite cannot see that a blob was changed on the disk; the fingerprint can. */
function rawBytesOf({ db, captures }: Store): StoreProblem[] {
  const sealed = db.statement<{ capture_no: number; sha256: string }>(
    'SELECT capture_no, sha256 FROM capture WHERE sha256 IS NOT NULL AND capture_no > ? ORDER BY capture_no LIMIT 1',
  );
  const problems: StoreProblem[] = [];
  for (let row = sealed.get(0); row && problems.length < MOST; row = sealed.get(row.capture_no)) {
    const what = `conversation ${row.capture_no}`;
    try {
      if (fingerprint(captures.load(row.capture_no).capture) === row.sha256) continue;
      problems.push({ part: 'raw bytes', message: `the bytes of ${what} are not those that were recorded` });
    } catch (thrown) {
      problems.push({ part: 'raw bytes', message: `${what}: ${asFault(thrown).message}` });
    }
  }
  return problems;
}
