/** The way back from a backup into an empty data folder, verified before and after; and the proof that it would work. */
import { existsSync, mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { systemCode } from '../core/system-code.ts';
import { provenTally, withCopy } from './backup-copy.ts';
import { checkStore, type StoreTally, tallyDifferences, tallyOf } from './check-store.ts';
import { copyInto, discard, draftName, publish, sweepDrafts } from './draft-file.ts';
import { openStore } from './open-store.ts';
import { isSealed, unsealFile } from './seal-backup.ts';
import { storeFault } from './store-faults.ts';
import { STORE_FILE } from './store-file.ts';

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

function unreadable(file: string, cause: unknown): Fault {
  const isMissing = systemCode(cause) === 'ENOENT';
  return isMissing
    ? new Fault('FILE_MISSING', `There is no file ${file}`, 'Check the name and the folder.', { cause })
    : new Fault('FILE_UNREADABLE', `${file} cannot be read`, 'Check that it is a file and may be read.', { cause });
}
