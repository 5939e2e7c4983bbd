/**
 * `config.toml` in the data folder: what this dock wants different from the defaults. Read strictly, so that a
 * misspelt key is an error that names its line instead of a setting that silently does nothing.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse, TomlError } from 'smol-toml';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { zoneOf } from '../core/zone.ts';

const ConfigFile = z.strictObject({
  /** IANA zone of the dock; the meters' clocks are expected to show its local time. */
  zone: z.string().min(1).optional(),
});
/** The settings of one dock. */
export type Config = z.infer<typeof ConfigFile>;

const HINT = 'Correct the file, or remove it to use the defaults';

/** Reads the config of a data folder; no file means no settings. Throws CONFIG_INVALID with file, line and key. */
export function readConfig(folder: string): Config {
  const file = join(folder, 'config.toml');
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (cause) {
    if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') return {};
    throw new Fault('CONFIG_INVALID', `${file} cannot be read`, 'Make the file readable for this user', { cause });
  }
  return parseConfig(text, file);
}

/** The config in a text; `file` is for messages. */
export function parseConfig(text: string, file: string): Config {
  let raw: unknown;
  try {
    raw = parse(text);
  } catch (cause) {
    if (!(cause instanceof TomlError)) throw cause;
    const what = cause.message.split('\n')[0]?.replace(/^Invalid TOML document: /, '') ?? 'not TOML';
    throw new Fault('CONFIG_INVALID', `${file} line ${cause.line}: ${what}`, HINT, { cause });
  }
  const parsed = ConfigFile.safeParse(raw);
  if (parsed.success) {
    checkZone(parsed.data, text, file);
    return parsed.data;
  }
  const issue = parsed.error.issues[0];
  const key = issue?.code === 'unrecognized_keys' ? (issue.keys[0] ?? '') : String(issue?.path[0] ?? '');
  const what = issue?.code === 'unrecognized_keys' ? 'is not a setting' : (issue?.message ?? 'is wrong');
  throw new Fault('CONFIG_INVALID', `${file} line ${lineOf(text, key)}: "${key}" ${what}`, HINT);
}

function checkZone(config: Config, text: string, file: string): void {
  if (config.zone === undefined) return;
  try {
    zoneOf(config.zone);
  } catch (cause) {
    const where = `${file} line ${lineOf(text, 'zone')}: "zone"`;
    throw new Fault('CONFIG_INVALID', `${where} names no time zone: "${config.zone}"`, HINT, { cause });
  }
}

/** The line, from 1, on which a key of the top level stands: bare or quoted, as a key or as the name of a table. */
function lineOf(text: string, key: string): number {
  const bare = (line: string) =>
    line
      .split('=')[0]
      ?.split('.')[0]
      ?.replace(/[[\]"'\s]/g, '');
  return (
    Math.max(
      text.split('\n').findIndex((line) => bare(line) === key),
      0,
    ) + 1
  );
}

/** The zone of a dock: the option if given, else the config's, else the computer's own. Throws ZONE_UNKNOWN. */
export function dockZone(option: string | undefined, config: Config): string {
  return zoneOf(option ?? config.zone ?? new Intl.DateTimeFormat().resolvedOptions().timeZone).name;
}
