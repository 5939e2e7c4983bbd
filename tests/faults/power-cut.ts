/**
 * A module that is loaded before the built program and cuts the power between two writes of its store: it counts what
 * the SQLite library is told to write, and kills the whole process group in front of the n-th. The program itself is
 * unchanged and knows nothing of it.
 */
import { createRequire } from 'node:module';

/**
 * The module as an option for Node. `atWrite`: in front of which write the power goes, from 1; 0: never, and the
 * number of writes is written to standard error at the end, behind `writes `.
 */
export function powerCutOption(atWrite: number): string {
  if (!Number.isInteger(atWrite)) throw new Error(`there is no write ${atWrite}`);
  const library = createRequire(import.meta.url).resolve('better-sqlite3');
  return `--import=data:text/javascript,${encodeURIComponent(moduleText(library, atWrite))}`;
}

/** How many writes a run that was not cut has told of on standard error; undefined where it said nothing. */
export function writesTold(stderr: string): number | undefined {
  const told = /^writes (\d+)$/m.exec(stderr)?.[1];
  return told === undefined ? undefined : Number(told);
}

/**
 * Statements that only read are left alone. COMMIT and its kin count as reading for SQLite (sqlite3_stmt_readonly), but
 * are the writes that matter most. Every pragma and script counts: some of them write.
 */
const moduleText = (library: string, atWrite: number): string => `
import { writeSync } from 'node:fs';
import { createRequire } from 'node:module';
const Database = createRequire(${JSON.stringify(library)})(${JSON.stringify(library)});
const writesAnything = (statement) => !statement.readonly || /^\\s*(BEGIN|COMMIT|ROLLBACK|SAVEPOINT|RELEASE)/i.test(statement.source);
let writes = 0;
const count = () => {
  if (++writes === ${atWrite}) process.kill(process.platform === 'win32' ? process.pid : -process.pid, 'SIGKILL');
};
const wrap = (prototype, name, isWrite) => {
  const plain = prototype[name];
  prototype[name] = function (...given) {
    if (isWrite(this)) count();
    return plain.apply(this, given);
  };
};
const db = new Database(':memory:');
const statements = Object.getPrototypeOf(db.prepare('SELECT 1'));
db.close();
for (const name of ['run', 'get', 'all', 'iterate']) wrap(statements, name, writesAnything);
for (const name of ['exec', 'pragma', 'close']) wrap(Database.prototype, name, () => true);
if (${atWrite} === 0) process.on('exit', () => writeSync(2, 'writes ' + writes + '\\n'));
`;
