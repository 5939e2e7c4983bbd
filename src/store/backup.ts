/**
 * Backups: a consistent copy of the store while others write it, verified before it gets its name, sealed on wish; and
 * the way back into an empty data folder, verified before and after. A backup is one file: the store itself in
 * SQLite's form, or that sealed under a passphrase.
 */

import { createHash } from 'node:crypto';
import {
  closeSync,
  copyFileSync,
  createReadStream,
  existsSync,
  fsyncSync,
  linkSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { systemCode } from '../core/system-code.ts';
import { backupName, beyondKeep } from './backup-names.ts';
import { checkStore, type StoreTally, tallyDifferences, tallyOf } from './check-store.ts';
import { makeDatabase } from './database.ts';
import { APPLICATION_ID, MIGRATIONS } from './migrations.ts';
import { migrate, openStore } from './open-store.ts';
import { isAlive } from './process-mark.ts';
import { isSealed, sealFile, unsealFile } from './seal-backup.ts';
import { openSqlite, type SqliteConnection } from './sqlite.ts';
import { makeStore, type Store } from './store.ts';
import { storeFault } from './store-faults.ts';
import { STORE_FILE } from './store-file.ts';

/** Who makes a backup, of what, and when. */
export interface BackupOrder {
  /** The data folder. */
  readonly dir: string;
  readonly now: Instant;
  /** The account and command, for the audit chain. */
  readonly actor: string;
  /** Seal the backup under it; absent: not encrypted. */
  readonly passphrase?: string;
}

/** A backup that is there and was verified. */
export interface BackupMade {
  readonly file: string;
  readonly bytes: number;
  readonly sealed: boolean;
  readonly tally: StoreTally;
  /** Older backups that went because there were more than were to be kept. */
  readonly removed: readonly string[];
}

/**
 * Makes a verified backup in a new file, readable by its owner only. Rejects with FILE_UNWRITABLE where the file is
 * there already or cannot be written, with BACKUP_DAMAGED where what was written is not what it must be, or with a
 * Fault of the store. On a fault no file of that name is left.
 */
export async function makeBackup(order: BackupOrder, target: string): Promise<BackupMade> {
  if (existsSync(target)) throw alreadyThere(target);
  const folder = dirname(resolve(target));
  sweepDrafts(folder);
  sweepDrafts(order.dir);
  const sealed = order.passphrase !== undefined;
  // The plain copy of a backup that is to be sealed never leaves the data folder.
  const plain = draftName(sealed ? order.dir : folder);
  const finished = sealed ? draftName(folder) : plain;
  const opened = draftName(order.dir);
  const store = openStore({ dir: order.dir, now: order.now, mustExist: true });
  try {
    const tally = await copyStore(store, plain, target, order.now);
    if (order.passphrase !== undefined) await sealAndProve(plain, finished, opened, order.passphrase, target);
    const { size: bytes } = statSync(finished);
    publish(finished, target);
    store.audit.append({
      at: order.now,
      actor: order.actor,
      action: 'backed-up',
      subject: target,
      detail: { bytes, sealed, captures: tally.rows['capture'] ?? 0, readings: tally.rows['reading'] ?? 0 },
    });
    return { file: target, bytes, sealed, tally, removed: [] };
  } finally {
    store.close();
    for (const draft of [plain, finished, opened]) discard(draft);
  }
}

/** Makes a backup with a dated name in a folder and removes those beyond the `keep` newest. Rejects like `makeBackup`. */
export async function makeDatedBackup(order: BackupOrder, folder: string, keep: number): Promise<BackupMade> {
  const name = backupName(order.now, order.passphrase !== undefined);
  try {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
  } catch (cause) {
    throw unwritable(folder, 'the folder cannot be made', cause);
  }
  const made = await makeBackup(order, join(folder, name));
  const old = beyondKeep(readdirSync(folder), keep, name).map((each) => join(folder, each));
  for (const file of old) rmSync(file, { force: true });
  return { ...made, removed: old };
}

/** What is to be restored, and where. */
export interface RestoreOrder {
  readonly file: string;
  /** The data folder; there must be no store in it. */
  readonly dir: string;
  readonly now: Instant;
  readonly actor: string;
  /** Asked only where the backup is sealed. */
  readonly passphrase: () => Promise<string>;
}

/**
 * Restores a backup into a data folder without a store. Rejects with STORE_EXISTS where there is one, FILE_MISSING,
 * FILE_UNREADABLE, BACKUP_DAMAGED, PASSPHRASE_WRONG, STORE_NEWER or a Fault of the store; the folder is as before then.
 */
export async function restoreBackup(order: RestoreOrder): Promise<StoreTally> {
  const { file, dir } = order;
  refuseStore(dir);
  const draft = draftName(dir);
  try {
    const sealed = await bringIn(file, draft, order.passphrase);
    const tally = withCopy(draft, file, order.now, (copy) => {
      const found = provenTally(copy, file);
      copy.audit.append({
        at: order.now,
        actor: order.actor,
        action: 'restored',
        subject: file,
        detail: { sealed, auditHead: found.auditHead },
      });
      return tallyOf(copy);
    });
    refuseStore(dir);
    publish(draft, join(dir, STORE_FILE));
    const store = openStore({ dir, now: order.now, mustExist: true });
    try {
      const problems = [
        ...checkStore(store).problems.map((p) => p.message),
        ...tallyDifferences(tally, tallyOf(store)),
      ];
      if (problems[0] !== undefined)
        throw new Fault(
          'STORE_DAMAGED',
          `What was restored is not whole: ${problems[0]}`,
          'Check the disk of this PC.',
        );
      return tally;
    } finally {
      store.close();
    }
  } finally {
    discard(draft);
  }
}

/** What is to be proved: a restore into nothing. */
export type ProofOrder = Omit<RestoreOrder, 'actor'>;

/**
 * Proves that a backup could be restored, by doing so into a draft in the data folder, which goes again. Rejects with
 * FILE_MISSING, FILE_UNREADABLE, BACKUP_DAMAGED, PASSPHRASE_WRONG, STORE_NEWER or a Fault of the store.
 */
export async function proveBackup({ file, dir, now, passphrase }: ProofOrder): Promise<StoreTally> {
  const draft = draftName(dir);
  try {
    await bringIn(file, draft, passphrase);
    return withCopy(draft, file, now, (copy) => provenTally(copy, file));
  } finally {
    discard(draft);
  }
}

/** Brings a backup into a draft as a plain store, not looked at yet; `passphrase` is asked where it is sealed. True if it was. */
async function bringIn(file: string, draft: string, passphrase: () => Promise<string>): Promise<boolean> {
  const sealed = await isSealed(file).catch((thrown: unknown) => Promise.reject(unreadable(file, thrown)));
  const under = sealed ? await passphrase() : undefined;
  try {
    const dir = dirname(draft);
    mkdirSync(dir, { recursive: true, mode: 0o700 });
    sweepDrafts(dir);
    if (under === undefined) copyInto(file, draft);
    else await unsealFile(file, draft, under);
  } catch (thrown) {
    throw storeFault(thrown, draft);
  }
  return sealed;
}

/** Copies what the store holds at one moment into `draft` and proves the copy. */
async function copyStore(store: Store, draft: string, target: string, now: Instant): Promise<StoreTally> {
  claim(draft, target);
  // One unchanging view: what others write meanwhile is not part of it, and does not make the copy begin again.
  store.db.script('BEGIN');
  let before: StoreTally;
  try {
    before = tallyOf(store);
    await store.db.copyTo(draft);
  } catch (thrown) {
    const fault = asFault(thrown);
    throw fault.code === 'STORE_FULL' || fault.code === 'STORE_DENIED'
      ? unwritable(target, 'there is no room, or no right to write', thrown)
      : fault;
  }
  store.db.script('COMMIT');
  const after = withCopy(draft, target, now, (copy) => provenTally(copy, target));
  const [difference] = tallyDifferences(before, after);
  if (difference !== undefined) throw damaged(target, difference);
  return before;
}

/** Runs `work` on a copy that nobody else uses, as one file without companions. */
function withCopy<T>(path: string, named: string, now: Instant, work: (copy: Store) => T): T {
  let db: SqliteConnection;
  try {
    db = openSqlite(path, { fileMustExist: true });
  } catch (thrown) {
    throw damaged(named, 'it cannot be opened', thrown);
  }
  try {
    if (Number(db.pragma('application_id', { simple: true })) !== APPLICATION_ID)
      throw damaged(named, 'it is not a backup of tallydock');
    if (Number(db.pragma('user_version', { simple: true })) > MIGRATIONS.length)
      throw new Fault('STORE_NEWER', `${named} was written by a newer tallydock`, 'Install the newer version first.');
    db.pragma('journal_mode = DELETE');
    db.pragma('synchronous = FULL');
    db.pragma('foreign_keys = ON');
    migrate(db, now); // one of an older program is looked at as what it will become
    return work(makeStore(makeDatabase(db, path)));
  } catch (thrown) {
    const fault = storeFault(thrown, named);
    throw fault.code === 'STORE_DAMAGED' ? damaged(named, 'its content is damaged', fault) : fault;
  } finally {
    db.close();
  }
}

/** The tally of a copy that holds every promise of a store; throws BACKUP_DAMAGED with the first that it breaks. */
function provenTally(copy: Store, named: string): StoreTally {
  const { problems, tally } = checkStore(copy);
  if (problems[0]) throw damaged(named, problems[0].message);
  return tally;
}

/** Seals a copy and reads the sealed file back: it must open to the very same bytes. */
async function sealAndProve(
  plain: string,
  sealed: string,
  opened: string,
  passphrase: string,
  target: string,
): Promise<void> {
  try {
    await sealFile(plain, sealed, passphrase);
    await unsealFile(sealed, opened, passphrase);
    if ((await sha256Of(plain)) !== (await sha256Of(opened)))
      throw damaged(target, 'it does not open to what was sealed');
  } catch (thrown) {
    throw thrown instanceof Fault ? thrown : unwritable(target, 'the sealed copy cannot be written', thrown);
  }
}

async function sha256Of(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const chunk of createReadStream(path)) hash.update(chunk);
  return hash.digest('hex');
}

let drafts = 0;
/** The name of an unfinished file, which says whose it is. */
const draftName = (folder: string): string => join(folder, `.tallydock-copy.${process.pid}.${++drafts}.draft`);
const DRAFT = /^\.tallydock-copy\.(\d+)\.\d+\.draft(?:-journal|-wal|-shm)?$/;

/** Removes what backups that were killed have left: it holds people's results. */
function sweepDrafts(folder: string): void {
  if (!existsSync(folder)) return;
  for (const name of readdirSync(folder)) {
    const pid = Number(DRAFT.exec(name)?.[1] ?? Number.NaN);
    if (Number.isInteger(pid) && !isAlive({ pid })) rmSync(join(folder, name), { force: true });
  }
}

/** Makes the draft as an empty file that only its owner may read, before anything is in it. */
function claim(draft: string, target: string): void {
  try {
    closeSync(openSync(draft, 'wx', 0o600));
  } catch (cause) {
    throw unwritable(target, 'the folder is not there or may not be written', cause);
  }
}

function copyInto(file: string, draft: string): void {
  closeSync(openSync(draft, 'wx', 0o600));
  copyFileSync(file, draft);
}

/** Gives a finished draft its name, which nothing may have yet. After it returns the file survives a power cut. */
function publish(draft: string, target: string): void {
  try {
    syncPath(draft);
    try {
      linkSync(draft, target);
    } catch (thrown) {
      if (systemCode(thrown) === 'EEXIST') throw thrown;
      // A file system without hard links, such as that of many memory sticks.
      if (existsSync(target)) throw thrown;
      renameSync(draft, target);
    }
    if (process.platform !== 'win32') syncPath(dirname(target));
  } catch (cause) {
    throw existsSync(target) ? alreadyThere(target, cause) : unwritable(target, 'it cannot be written', cause);
  }
}

function syncPath(path: string): void {
  const file = openSync(path, statSync(path).isDirectory() ? 'r' : 'r+');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

function discard(draft: string): void {
  for (const end of ['', '-journal', '-wal', '-shm']) rmSync(draft + end, { force: true });
}

function refuseStore(dir: string): void {
  const found = ['', '-wal', '-shm', '-journal']
    .map((end) => join(dir, STORE_FILE + end))
    .find((file) => existsSync(file));
  if (found === undefined) return;
  throw new Fault(
    'STORE_EXISTS',
    `There is a store already: ${found}`,
    'A restore never overwrites: name an empty folder with --data, or move the old folder away first.',
  );
}

const damaged = (file: string, why: string, cause?: unknown): Fault =>
  new Fault('BACKUP_DAMAGED', `${file} is not a whole backup: ${why}`, 'Do not rely on it: take another one.', {
    cause,
  });

const alreadyThere = (file: string, cause?: unknown): Fault =>
  new Fault('FILE_UNWRITABLE', `${file} is there already`, 'Name a new file, or a folder together with --keep.', {
    cause,
  });

const unwritable = (file: string, why: string, cause: unknown): Fault =>
  new Fault(
    'FILE_UNWRITABLE',
    `${file} cannot be written: ${why}`,
    'Check the folder, its rights and the room there.',
    {
      cause,
    },
  );

function unreadable(file: string, cause: unknown): Fault {
  const isMissing = systemCode(cause) === 'ENOENT';
  return isMissing
    ? new Fault('FILE_MISSING', `There is no file ${file}`, 'Check the name and the folder.', { cause })
    : new Fault('FILE_UNREADABLE', `${file} cannot be read`, 'Check that it is a file and may be read.', { cause });
}
