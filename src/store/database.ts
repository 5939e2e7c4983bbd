/**
 * A thin coat over the SQLite library: every statement is prepared once, and whatever SQLite throws comes out as a
 * Fault. Repositories see only this.
 */
import type { SqliteConnection, SqliteStatement } from './sqlite.ts';
import { isBusy, storeFault } from './store-faults.ts';

/** What may be bound. Truth values and absent facts are turned into these by the repositories. */
export type Bindable = string | number | bigint | Uint8Array | null;
/** Positional parameters, or one object of named ones. */
export type Binding = readonly Bindable[] | readonly [Readonly<Record<string, Bindable>>];

/** A prepared statement. All three throw Faults of the store. */
export interface Statement<Row> {
  /** Runs it and tells how many rows it changed. */
  run(...binding: Binding): number;
  get(...binding: Binding): Row | undefined;
  all(...binding: Binding): Row[];
}

/** An open database. */
export interface Database {
  /** Where the file is, for messages. */
  readonly path: string;
  /** The statement of this SQL text, prepared at its first use. */
  statement<Row = unknown>(sql: string): Statement<Row>;
  /** Runs a script of several statements. */
  script(sql: string): void;
  /** Runs `work` in one transaction that holds the write lock from the start; a throw undoes everything. Nests. */
  write<T>(work: () => T): T;
  /** Runs `work` on one unchanging view of the store: others may write meanwhile, and it sees nothing of it. Nests. */
  read<T>(work: () => T): T;
  /** Runs `work` like `write`, then undoes everything it did; gives what it gave. Does not nest. */
  rehearse<T>(work: () => T): T;
  /**
   * Copies the whole database into another file, as this connection sees it; others may write meanwhile. Inside a read
   * transaction the copy is exactly what that transaction sees. Rejects with a Fault that names the other file.
   */
  copyTo(file: string): Promise<void>;
  /** Closes the file. Later use throws. */
  close(): void;
}

/** How long to wait for another writer, milliseconds: long enough for another process to take in a large capture. */
export const BUSY_MS = 5000;

/** So long SQLite waits by itself before it is asked again, milliseconds. */
const ASK_AGAIN_MS = 25;

/** Wraps an open connection that waits `busyMs` for another writer. */
export function makeDatabase(db: SqliteConnection, path: string, busyMs = BUSY_MS): Database {
  const guard = <T>(work: () => T): T => {
    try {
      return work();
    } catch (thrown) {
      throw storeFault(thrown, path);
    }
  };
  const prepared = new Map<string, Statement<unknown>>();
  const prepare = (sql: string): Statement<unknown> => {
    let inner: SqliteStatement | undefined;
    const made = (): SqliteStatement => {
      inner ??= db.prepare<unknown[]>(sql);
      return inner;
    };
    return {
      run: (...binding) => guard(() => made().run(...binding).changes),
      get: (...binding) => guard(() => made().get(...binding)),
      all: (...binding) => guard(() => made().all(...binding)),
    };
  };
  const transaction = db.transaction((work: () => unknown) => work());
  const askOften = prepare(`PRAGMA busy_timeout = ${ASK_AGAIN_MS}`);
  const askSeldom = prepare(`PRAGMA busy_timeout = ${busyMs}`);

  /**
   * Waits for the write lock, which `begin` takes. The longer SQLite waits, the less often it looks: after a third of a
   * second ten times a second. Beside a program that writes one capture after the other that is not often enough. So it
   * is asked anew, and then looks every few milliseconds. What fails after it `hasBegun` is no waiting.
   */
  const waitToWrite = <T>(begin: () => T, hasBegun: () => boolean): T => {
    const until = performance.now() + busyMs;
    askOften.get();
    try {
      for (;;) {
        try {
          return begin();
        } catch (thrown) {
          if (hasBegun() || !isBusy(thrown) || performance.now() >= until) throw thrown;
        }
      }
    } finally {
      askSeldom.get();
    }
  };

  return {
    path,
    statement<Row>(sql: string) {
      const known = prepared.get(sql) ?? prepare(sql);
      prepared.set(sql, known);
      return known as Statement<Row>;
    },
    script: (sql) => void guard(() => db.exec(sql)),
    write: <T>(work: () => T) =>
      guard(() => {
        if (db.inTransaction) return transaction.immediate(work) as T;
        let hasBegun = false;
        const begun = (): T => {
          hasBegun = true;
          return work();
        };
        return waitToWrite(
          () => transaction.immediate(begun) as T,
          () => hasBegun,
        );
      }),
    read: <T>(work: () => T) => guard(() => transaction.deferred(work) as T),
    rehearse: (work) =>
      guard(() => {
        waitToWrite(
          () => db.exec('BEGIN IMMEDIATE'),
          () => db.inTransaction,
        );
        try {
          return work();
        } finally {
          if (db.inTransaction) db.exec('ROLLBACK');
        }
      }),
    async copyTo(file) {
      try {
        await db.backup(file);
      } catch (thrown) {
        throw storeFault(thrown, file);
      }
    },
    close: () => void guard(() => db.close()),
  };
}
