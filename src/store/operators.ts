/** The operators of the desk. What is stored of a passphrase is handed in and out as one text; nothing here reads it. */
import { type Instant, instant } from '../core/instant.ts';
import type { Database } from './database.ts';

/** What an operator may do. look: see everything; work: decide, lend, enter; manage: also operators, docks and outlets. */
export type OperatorRole = 'look' | 'work' | 'manage';

export interface StoredOperator {
  readonly name: string;
  readonly role: OperatorRole;
  /** A stored form of the passphrase, with all that is needed to check one. */
  readonly passphrase: string;
  readonly addedAt: Instant;
  readonly retiredAt?: Instant;
}

export interface Operators {
  /** Adds one. Throws STORE_DAMAGED where the name is taken: look before. */
  add(operator: StoredOperator): void;
  /** Letters may be small or capital. */
  find(name: string): StoredOperator | undefined;
  /** All, by name; retired ones too. */
  list(): StoredOperator[];
  /** Replaces what is known of an operator. */
  change(operator: StoredOperator): void;
  /** How many were ever added. */
  count(): number;
}

interface OperatorTableRow {
  name: string;
  role: OperatorRole;
  passphrase: string;
  added_at: number;
  retired_at: number | null;
}

const operatorOf = (r: OperatorTableRow): StoredOperator => ({
  name: r.name,
  role: r.role,
  passphrase: r.passphrase,
  addedAt: instant(r.added_at),
  ...(r.retired_at === null ? {} : { retiredAt: instant(r.retired_at) }),
});

/** The operators of a store. */
export function makeOperators(db: Database): Operators {
  return {
    add: ({ name, role, passphrase, addedAt }) =>
      void db
        .statement('INSERT INTO operator (name, role, passphrase, added_at) VALUES (?, ?, ?, ?)')
        .run(name, role, passphrase, addedAt),
    find(name) {
      const row = db.statement<OperatorTableRow>('SELECT * FROM operator WHERE name = ?').get(name);
      return row && operatorOf(row);
    },
    list: () => db.statement<OperatorTableRow>('SELECT * FROM operator ORDER BY name').all().map(operatorOf),
    change: ({ name, role, passphrase, retiredAt }) =>
      void db
        .statement('UPDATE operator SET role = ?, passphrase = ?, retired_at = ? WHERE name = ?')
        .run(role, passphrase, retiredAt ?? null, name),
    count: () => db.statement<{ n: number }>('SELECT count(*) AS n FROM operator').get()?.n ?? 0,
  };
}
