/**
 * Backups: a consistent copy of the store while others write it, verified before it gets its name, sealed on wish. A
 * backup is one file: the store itself in SQLite's form, or that sealed under a passphrase. restore-backup.ts is the way
 * back.
 */
import { createHash } from 'node:crypto';
import { createReadStream, existsSync, mkdirSync, readdirSync, rmSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { damaged, provenTally, withCopy } from './backup-copy.ts';
import { backupName, beyondKeep } from './backup-names.ts';
import { type StoreTally, tallyDifferences, tallyOf } from './check-store.ts';
import { alreadyThere, claim, discard, draftName, publish, sweepDrafts, unwritable } from './draft-file.ts';
import { openStore } from './open-store.ts';
import { sealFile, unsealFile } from './seal-backup.ts';
import type { Store } from './store.ts';

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
 * Fault of the store. On a fault no file of that name is left, but for one: a backup that
 * is whole and could not be noted in the audit chain stays.
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
