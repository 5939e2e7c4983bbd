/**
 * The audit chain: who did what and when, in rows that are only ever added. Each row holds the SHA-256 of the row
 * before it, so that a row changed or taken out behind the program's back breaks every later one.
 */
import { createHash } from 'node:crypto';
import { type Instant, instant } from '../core/instant.ts';
import type { Database } from './database.ts';

export interface AuditEntry {
  readonly at: Instant;
  /** Who: the account and program, or a person's sign-in. */
  readonly actor: string;
  /** Stable word for what was done. */
  readonly action: string;
  /** Id of what it was done to. */
  readonly subject: string;
  readonly detail: Readonly<Record<string, string | number | boolean | null>>;
}

/** How the chain was found. `brokenAt` is the number of the first row that does not fit. */
export type AuditCheck =
  | { readonly intact: true; readonly rows: number }
  | { readonly intact: false; readonly brokenAt: number };

export interface Audit {
  /** Adds a row; gives its number. */
  append(entry: AuditEntry): number;
  /** All rows as they stand, oldest first. `detail` is the JSON text. */
  list(): (Omit<AuditEntry, 'detail'> & { readonly n: number; readonly detail: string })[];
  /** Walks the whole chain. Rows cut off at its end cannot be noticed from inside the store. */
  check(): AuditCheck;
}

interface AuditRow {
  n: number;
  at: number;
  actor: string;
  action: string;
  subject: string;
  detail: string;
  before: string;
  sha256: string;
}

const START = '0'.repeat(64);

const hashOf = (r: Omit<AuditRow, 'sha256'>): string =>
  createHash('sha256')
    .update(JSON.stringify([r.before, r.n, r.at, r.actor, r.action, r.subject, r.detail]))
    .digest('hex');

/** The audit chain of a store. */
export function makeAudit(db: Database): Audit {
  const all = (): AuditRow[] => db.statement<AuditRow>('SELECT * FROM audit ORDER BY n').all();
  return {
    append: (entry) =>
      db.write(() => {
        const last = db.statement<AuditRow>('SELECT * FROM audit ORDER BY n DESC LIMIT 1').get();
        const row = {
          n: (last?.n ?? 0) + 1,
          at: entry.at,
          actor: entry.actor,
          action: entry.action,
          subject: entry.subject,
          detail: JSON.stringify(entry.detail),
          before: last?.sha256 ?? START,
        };
        db.statement('INSERT INTO audit VALUES (:n, :at, :actor, :action, :subject, :detail, :before, :sha256)').run({
          ...row,
          sha256: hashOf(row),
        });
        return row.n;
      }),
    list: () => all().map(({ before: _before, sha256: _sha256, at, ...row }) => ({ ...row, at: instant(at) })),
    check() {
      let before = START;
      const rows = all();
      for (const [i, row] of rows.entries()) {
        if (row.n !== i + 1 || row.before !== before || row.sha256 !== hashOf(row))
          return { intact: false, brokenAt: i + 1 };
        before = row.sha256;
      }
      return { intact: true, rows: rows.length };
    },
  };
}
