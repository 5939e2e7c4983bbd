/**
 * Passphrases as they are stored: scrypt (RFC 7914) with N = 2^15, r = 8, p = 3, one of the settings that OWASP's Password
 * Storage Cheat Sheet names (from memory), and a salt of 16 random bytes. Text form: `scrypt$15$8$3$SALT$KEY`.
 */
import { randomBytes, type ScryptOptions, scrypt, timingSafeEqual } from 'node:crypto';
import { Fault } from '../core/fault.ts';
import { SHORTEST_PASSPHRASE } from './api/limits.ts';

const LOG_N = 15;
const R = 8;
const P = 3;
const SALT_BYTES = 16;
const KEY_BYTES = 32;

/** What is tried first by whoever guesses. */
const OBVIOUS = /^(.)\1*$|^(1234567890|0123456789|passphrase|password|passwort|qwertyuiop|qwertzuiop|tallydock)/i;

/** The stored form of a passphrase. Throws REQUEST_WRONG for one that is too short or obvious. */
export async function storedForm(passphrase: string, name: string): Promise<string> {
  const plain = passphrase.normalize('NFC');
  if ([...plain].length < SHORTEST_PASSPHRASE)
    throw new Fault(
      'REQUEST_WRONG',
      `A passphrase has at least ${SHORTEST_PASSPHRASE} characters`,
      'Three or four words are good.',
    );
  if (OBVIOUS.test(plain) || plain.toLowerCase().includes(name.toLowerCase()))
    throw new Fault('REQUEST_WRONG', 'This passphrase is too easy to guess', 'Take three or four words of your own.');
  const salt = randomBytes(SALT_BYTES);
  const key = await derive(plain, salt, LOG_N, R, P);
  return ['scrypt', LOG_N, R, P, salt.toString('base64url'), key.toString('base64url')].join('$');
}

/** A form that no passphrase fits: checking it takes as long as any. */
const NOBODY = ['scrypt', LOG_N, R, P, 'AAAAAAAAAAAAAAAAAAAAAA', Buffer.alloc(KEY_BYTES).toString('base64url')].join(
  '$',
);

/** True where the passphrase is that of the stored form; without a form it takes as long and is false. */
export async function isPassphrase(passphrase: string, stored: string | undefined): Promise<boolean> {
  const [kind, logN, r, p, salt, key] = (stored ?? NOBODY).split('$');
  if (kind !== 'scrypt' || !salt || !key) return false;
  const known = Buffer.from(key, 'base64url');
  const made = await derive(
    passphrase.normalize('NFC'),
    Buffer.from(salt, 'base64url'),
    Number(logN),
    Number(r),
    Number(p),
  );
  return made.length === known.length && timingSafeEqual(made, known) && stored !== undefined;
}

function derive(passphrase: string, salt: Buffer, logN: number, r: number, p: number): Promise<Buffer> {
  const options: ScryptOptions = { N: 2 ** logN, r, p, maxmem: 2 ** (logN + 8) * r };
  return new Promise((resolve, reject) =>
    scrypt(passphrase, salt, KEY_BYTES, options, (error, key) => (error ? reject(error) : resolve(key))),
  );
}
