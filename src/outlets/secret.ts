/**
 * Secrets of outlets: a password or key comes from an environment variable or from a file that only its owner may read.
 * The store and the log know only where it is.
 */

import { randomBytes } from 'node:crypto';
import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';

/** Where a secret is. */
export const SecretSource = z.union([
  z.strictObject({ env: z.string().regex(/^[A-Za-z_][A-Za-z0-9_]*$/, 'must be the name of an environment variable') }),
  z.strictObject({ file: z.string().min(1) }),
]);
export type SecretSource = z.infer<typeof SecretSource>;

/** Reads a secret. Throws OUTLET_INVALID where it is missing, or where others may read its file. */
export function readSecret(source: SecretSource, env: NodeJS.ProcessEnv = process.env): string {
  if ('env' in source) {
    const value = env[source.env];
    if (value) return value;
    throw new Fault(
      'OUTLET_INVALID',
      `The environment variable ${source.env} is not set`,
      'Set it for the account that runs tallydock, or name a file instead',
    );
  }
  return readSecretFile(source.file);
}

function readSecretFile(file: string): string {
  try {
    if (process.platform !== 'win32' && (statSync(file).mode & 0o077) !== 0)
      throw new Fault('OUTLET_INVALID', `Others may read the secret in ${file}`, `Run "chmod 600 ${file}"`);
    const [line = ''] = readFileSync(file, 'utf8').split(/\r?\n/);
    if (line === '') throw new Fault('OUTLET_INVALID', `${file} holds no secret`, 'Write it into its first line');
    return line;
  } catch (cause) {
    if (cause instanceof Fault) throw cause;
    throw new Fault(
      'OUTLET_INVALID',
      `The secret in ${file} cannot be read`,
      'Check that the file is there and yours',
      {
        cause,
      },
    );
  }
}

/** Makes a file with a new random secret that only its owner may read, unless the file is there already. */
export function makeSecretFile(file: string): void {
  try {
    writeFileSync(file, `${randomBytes(32).toString('base64url')}\n`, { mode: 0o600, flag: 'wx' });
  } catch (cause) {
    if (systemCode(cause) === 'EEXIST') return;
    throw new Fault('OUTLET_INVALID', `${file} cannot be written`, 'Check that its folder exists and is yours', {
      cause,
    });
  }
}
