/** The work of `tallydock outlet add`: settings and filter are checked before anything is stored. */
import { resolve } from 'node:path';
import { Fault } from '../core/fault.ts';
import type { ReadingKind } from '../core/reading.ts';
import { OutletFilter } from '../outlets/filter.ts';
import { kindOf } from '../outlets/kinds.ts';
import { markOf } from '../outlets/open-outlet.ts';
import { makeSecretFile, readSecret, type SecretSource } from '../outlets/secret.ts';
import { audit } from '../record/context.ts';
import { dataFolderOf } from './common-options.ts';
import { readConfig } from './config.ts';
import { gatewayOf } from './outlet-gateway.ts';
import { note, printJson } from './output.ts';
import { type RecordOptions, withRecord } from './with-record.ts';

/** The options of one call. */
export interface AddCall extends RecordOptions {
  readonly set?: readonly string[];
  readonly kinds?: string;
  readonly meters?: string;
  readonly onlySettled?: boolean;
  readonly deIdentified?: boolean;
  readonly keyFile?: string;
  readonly keyEnv?: string;
  readonly fromNow?: boolean;
}

/** Adds an outlet. Throws OUTLET_INVALID, NOT_POSSIBLE or CALL_WRONG. */
export function addOutlet(name: string, kindName: string, options: AddCall): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    if (!/^[^\p{Cc}"]{1,60}$/u.test(name))
      throw new Fault('CALL_WRONG', `"${name}" cannot be a name`, 'Write 1 to 60 characters without quotes');
    if (store.outlets.find(name))
      throw new Fault(
        'NOT_POSSIBLE',
        `There is an outlet "${name}" already`,
        'Take another name, or remove that one first',
      );
    const settings = settingsOf(options.set ?? []);
    kindOf(kindName).check(settings, gatewayOf(store, readConfig(dataFolderOf(options))));
    const filter = filterOf(options);
    const cursor = options.fromNow ? store.outgoing.lastSeq() : 0;
    store.db.write(() => {
      const setup = { name, kind: kindName, settings: JSON.stringify(settings), filter: JSON.stringify(filter) };
      store.outlets.add(setup, cursor, context.by, context.now);
      audit(store, context, 'outlet-added', name, { kind: kindName, deIdentified: filter.deIdentified !== undefined });
    });
    if (options.json) await printJson({ name, kind: kindName, waiting: store.outgoing.lastSeq() - cursor });
    else if (!options.quiet)
      note(
        `Outlet "${name}" is added. Next: tallydock outlet try "${name}". The daemon feeds it, or "tallydock outlet send".`,
      );
  });
}

/** Settings that name a place on this PC; the daemon does not run where the person stands who adds the outlet. */
const PATHS: ReadonlySet<string> = new Set(['folder', 'password-file', 'token-file', 'tls-ca', 'ca-file']);

function settingsOf(given: readonly string[]): Record<string, string> {
  return Object.fromEntries(
    given.map((text) => {
      const [, key, value] = /^([a-z][a-z-]*)=(.*)$/s.exec(text) ?? [];
      if (key === undefined || value === undefined)
        throw new Fault(
          'CALL_WRONG',
          `--set: "${text}" is not NAME=VALUE`,
          'Write for instance --set folder=/srv/table',
        );
      return [key, PATHS.has(key) ? resolve(value) : value];
    }),
  );
}

function filterOf(options: AddCall): OutletFilter {
  const list = (text: string): string[] => text.split(',').map((part) => part.trim());
  const parsed = OutletFilter.safeParse({
    ...(options.kinds === undefined ? {} : { kinds: list(options.kinds) as ReadingKind[] }),
    ...(options.meters === undefined ? {} : { meters: list(options.meters) }),
    ...(options.onlySettled ? { onlySettled: true } : {}),
    ...(options.deIdentified ? { deIdentified: keyOf(options) } : {}),
  });
  if (parsed.success) return parsed.data;
  throw new Fault(
    'CALL_WRONG',
    `--${String(parsed.error.issues[0]?.path[0] ?? 'kinds')} has a part that is not possible`,
    'Kinds are patient, control and error; parts are separated by commas',
  );
}

/** Where the key is, and its mark. A file that is not there is made with a new key. */
function keyOf({ keyFile, keyEnv }: AddCall): { secret: SecretSource; mark: string } {
  if (keyFile === undefined && keyEnv === undefined)
    throw new Fault(
      'CALL_WRONG',
      '--de-identified needs a key for the pseudonyms',
      'Add --key-file FILE or --key-env NAME',
    );
  const secret = keyEnv === undefined ? { file: resolve(keyFile ?? '') } : { env: keyEnv };
  if ('file' in secret) makeSecretFile(secret.file);
  return { secret, mark: markOf(readSecret(secret)) };
}
