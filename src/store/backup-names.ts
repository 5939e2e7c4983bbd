/** The dated names of backups in a folder, and which of them are to go. Pure. */
import { formatInstant, type Instant, parseInstant } from '../core/instant.ts';

/** The name of a backup made at a moment (UTC, to the second; without colons, for Windows). `sealed`: encrypted. */
export const backupName = (at: Instant, sealed: boolean): string =>
  `tallydock-${formatInstant(at).slice(0, 19).replaceAll(':', '-')}Z.${sealed ? 'sealed' : 'db'}`;

const NAME = /^tallydock-(\d{4}-\d{2}-\d{2}T)(\d{2})-(\d{2})-(\d{2}Z)\.(?:db|sealed)$/;

/** When the backup of this name was made; undefined for any other file. */
export function backupTime(name: string): Instant | undefined {
  const [, day, hour, minute, second] = NAME.exec(name) ?? [];
  if (day === undefined) return undefined;
  const at = parseInstant(`${day}${hour}:${minute}:${second}`);
  return at.ok ? at.value : undefined;
}

/** A backup by its name. */
export interface NamedBackup {
  readonly name: string;
  readonly at: Instant;
  /** Encrypted. */
  readonly sealed: boolean;
}

/** The backups among these names, newest first. */
export function backupsAmong(names: readonly string[]): NamedBackup[] {
  const found = names.flatMap((name): NamedBackup[] => {
    const at = backupTime(name);
    return at === undefined ? [] : [{ name, at, sealed: name.endsWith('.sealed') }];
  });
  return found.sort((a, b) => b.at - a.at);
}

/** The newest moment among these names; undefined where none is a backup's. */
export const newestBackup = (names: readonly string[]): Instant | undefined => backupsAmong(names)[0]?.at;

/**
 * The backups beyond the `keep` newest, oldest first. Never the one that was `justMade`, even where the PC's clock has
 * gone back since, and never a file of another name.
 */
export function beyondKeep(names: readonly string[], keep: number, justMade: string): string[] {
  const others = names.filter((name) => name !== justMade && backupTime(name) !== undefined).sort();
  return others.slice(0, Math.max(0, others.length - Math.max(0, keep - 1)));
}
