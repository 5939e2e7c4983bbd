/**
 * What `check` finds of the automatic backups: is there a new one, does the passphrase file of config.toml serve, and
 * could the newest be restored? It is opened into a draft in the data folder, which goes again.
 */
import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { CONFIG_FILE, type Config } from '../dock/config.ts';
import { freeBytes } from '../dock/guards/disk-space.ts';
import { backupsAmong, type NamedBackup } from '../store/backup-names.ts';
import { proveBackup } from '../store/restore-backup.ts';
import { type BackupProof, backupFinding, backupProofFinding, type Finding, faultFinding } from './check-findings.ts';
import { readPassphraseFile } from './passphrase.ts';

type Wanted = NonNullable<Config['backup']>;

/** A backup is only opened where it leaves this many times its size free. */
const ROOM = 2;

/** Everything about the backups that the config asks for, or that it asks for none. */
export async function lookAtBackups(wanted: Wanted | undefined, dir: string, now: Instant): Promise<Finding[]> {
  if (!wanted) return [backupFinding(undefined, undefined, now)];
  const found = backupsIn(wanted.folder);
  const [newest] = found;
  const passphrase = passphraseOf(wanted);
  return [
    backupFinding(wanted, newest?.at, now),
    ...(passphrase instanceof Fault ? [faultFinding('backup', passphrase)] : []),
    ...(newest
      ? [backupProofFinding(await proofOf(join(wanted.folder, newest.name), newest, passphrase, dir, now))]
      : []),
    ...(wanted.passphraseFile === undefined ? [] : openFindings(found)),
  ];
}

/** The backups in a folder, newest first; none where there is no such folder. */
function backupsIn(folder: string): NamedBackup[] {
  try {
    return backupsAmong(readdirSync(folder));
  } catch {
    return [];
  }
}

/** The passphrase of the config; undefined where it names none; a fault that names file and key where it cannot be read. */
function passphraseOf({ passphraseFile }: Wanted): string | undefined | Fault {
  if (passphraseFile === undefined) return undefined;
  try {
    return readPassphraseFile(passphraseFile);
  } catch (thrown) {
    const { code, message, hint } = asFault(thrown);
    return new Fault(code, `${CONFIG_FILE}, "passphrase-file" of [backup]: ${message}`, hint, { cause: thrown });
  }
}

async function proofOf(
  file: string,
  { sealed }: NamedBackup,
  passphrase: string | undefined | Fault,
  dir: string,
  now: Instant,
): Promise<BackupProof> {
  const notOpened = (why: string): BackupProof => ({ kind: 'not opened', why });
  const under = typeof passphrase === 'string' ? passphrase : undefined;
  if (sealed && under === undefined)
    return notOpened('it is sealed, and config.toml names no passphrase that can be read');
  try {
    if (!existsSync(dir)) return notOpened('there is no data folder to open it in');
    const free = await freeBytes(dir);
    if (free !== undefined && free < ROOM * statSync(file).size) return notOpened('there is no room to open it');
    const { rows } = await proveBackup({ file, dir, now, passphrase: async () => under ?? '' });
    return { kind: 'whole', readings: rows['reading'] ?? 0 };
  } catch (thrown) {
    return { kind: 'broken', fault: asFault(thrown) };
  }
}

/** Backups from before the sealing began lie open until newer ones take their places. */
function openFindings(found: readonly NamedBackup[]): Finding[] {
  const open = found.filter(({ sealed }) => !sealed).length;
  if (open === 0) return [];
  return [
    {
      state: 'note',
      about: 'backup',
      message: `${open === 1 ? 'one older backup there is' : `${open} older backups there are`} not encrypted`,
      next: 'They go as newer ones come; delete them sooner where others can get at the folder',
    },
  ];
}
