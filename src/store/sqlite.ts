/**
 * Opens SQLite files, for the store and for locks: the only place that makes a connection. What the library's native part
 * makes is kept as long as the process lives. From Node 24.19 on the process is aborted where the garbage collector takes
 * such an object outside of a call (its base class, ObjectWrap, then asks for an environment that is not there); the
 * library's next major version is free of it, but does not run on Node 20. Closing a connection frees all that is large:
 * what is kept of it afterwards is a few hundred bytes for each statement, and statements are prepared once.
 */
import BetterSqlite from 'better-sqlite3';

/** An open connection. */
export type SqliteConnection = BetterSqlite.Database;
/** A prepared statement that takes any number of values. */
export type SqliteStatement = BetterSqlite.Statement<unknown[]>;

/** What the library's own object makes its native objects with. */
interface NativePart {
  prepare(...args: unknown[]): object;
  backup(...args: unknown[]): object;
}

const kept = new Set<object>();

/** How many native objects are kept; for tests. */
export const keptObjects = (): number => kept.size;

function keep<T extends object>(made: T): T {
  kept.add(made);
  return made;
}

/** Opens a file. Throws what the library throws. */
export function openSqlite(path: string, options?: BetterSqlite.Options): SqliteConnection {
  const db = new BetterSqlite(path, options);
  const native = keep(nativePartOf(db));
  // Statements, pragmas and transactions all come from the one, copies from the other.
  const { prepare, backup } = native;
  native.prepare = (...args) => keep(prepare.apply(native, args));
  native.backup = (...args) => keep(backup.apply(native, args));
  return db;
}

function nativePartOf(db: SqliteConnection): NativePart {
  for (const symbol of Object.getOwnPropertySymbols(db)) {
    const part: unknown = Reflect.get(db, symbol);
    if (isNativePart(part)) return part;
  }
  throw new Error('better-sqlite3 is made otherwise than this version expects');
}

const isNativePart = (part: unknown): part is NativePart =>
  typeof part === 'object' && part !== null && 'prepare' in part && 'backup' in part;
