/**
 * Sealed backups: a file encrypted under a passphrase with Node's own crypto. Streams, so that a store of any size
 * fits; every chunk is authenticated with its place, so that a chunk that is changed, moved, left out or cut off at
 * the end is noticed. Knows nothing of what is in the file.
 *
 * Form, big-endian: a header of 39 bytes, then chunks of AES-256-GCM ciphertext, each followed by its 16-byte tag.
 *   0  8 bytes  the letters TDKSEAL1 (the digit is the version of this form)
 *   8  1 byte   binary logarithm of scrypt's N
 *   9  1 byte   scrypt's r
 *  10  1 byte   scrypt's p
 *  11  1 byte   0
 *  12  4 bytes  plain bytes in a chunk; the last chunk has that many or fewer, also none
 *  16 16 bytes  salt
 *  32  7 bytes  random start of every nonce
 * Nonce of chunk n: those 7 bytes, n as 4 bytes, 1 byte that is 1 for the last chunk and else 0. The header is the
 * additional data of every chunk. The key is scrypt (RFC 7914) of the passphrase in UTF-8, normalised to NFC. Chunks
 * with a counter and a mark on the last one are the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizár
 * (CRYPTO 2015; from memory).
 */
import { createCipheriv, createDecipheriv, randomBytes, type ScryptOptions, scrypt } from 'node:crypto';
import type { FileHandle } from 'node:fs/promises';
import { open } from 'node:fs/promises';
import { Fault } from '../core/fault.ts';

const MAGIC = Buffer.from('TDKSEAL1', 'latin1');
const HEADER_BYTES = 39;
const TAG_BYTES = 16;
const SALT_AT = 16;
const NONCE_AT = 32;

/** How dear a guess at the passphrase is, and how much is authenticated at a time. */
export interface SealCost {
  /** Binary logarithm of scrypt's N. */
  readonly logN: number;
  readonly r: number;
  readonly p: number;
  /** Plain bytes in a chunk. */
  readonly chunkBytes: number;
}

/** About half a second and 128 MB for each guess: N = 2^17, r = 8, p = 1, as OWASP's password storage page advises (from memory). */
const USUAL_COST: SealCost = { logN: 17, r: 8, p: 1, chunkBytes: 65_536 };

/** What a header may ask for at most: a file from outside must not use up the memory of this PC. */
const MOST_MEMORY = 512 * 1024 * 1024;
const MOST_CHUNK = 1024 * 1024;

/** True where a file begins as a sealed one does. Rejects with the system's error where it cannot be read. */
export async function isSealed(path: string): Promise<boolean> {
  const file = await open(path, 'r');
  try {
    const start = await readFully(file, MAGIC.length);
    return start.equals(MAGIC);
  } finally {
    await file.close();
  }
}

/** Seals `from` into the new file `to`, readable by its owner only. Rejects with the system's error; `to` may be there then. */
export async function sealFile(
  from: string,
  to: string,
  passphrase: string,
  cost: SealCost = USUAL_COST,
): Promise<void> {
  const header = Buffer.alloc(HEADER_BYTES);
  MAGIC.copy(header);
  header.set([cost.logN, cost.r, cost.p, 0], 8);
  header.writeUInt32BE(cost.chunkBytes, 12);
  randomBytes(16).copy(header, SALT_AT);
  randomBytes(7).copy(header, NONCE_AT);
  const key = await keyOf(passphrase, header, cost);
  await pipeChunks(from, to, 0, cost.chunkBytes, header, (chunk, n, isLast) => {
    const cipher = createCipheriv('aes-256-gcm', key, nonceOf(header, n, isLast), { authTagLength: TAG_BYTES });
    cipher.setAAD(header);
    return Buffer.concat([cipher.update(chunk), cipher.final(), cipher.getAuthTag()]);
  });
}

/**
 * Opens the sealed file `from` into the new file `to`, readable by its owner only. Rejects with PASSPHRASE_WRONG where
 * not even the first chunk opens, BACKUP_DAMAGED where a later one does not or the header makes no sense, else with the
 * system's error. What was written to `to` by then must be thrown away.
 */
export async function unsealFile(from: string, to: string, passphrase: string): Promise<void> {
  const file = await open(from, 'r');
  const header = await readFully(file, HEADER_BYTES).finally(() => file.close());
  const cost = costOf(header, from);
  const key = await keyOf(passphrase, header, cost);
  await pipeChunks(from, to, HEADER_BYTES, cost.chunkBytes + TAG_BYTES, undefined, (chunk, n, isLast) => {
    try {
      const decipher = createDecipheriv('aes-256-gcm', key, nonceOf(header, n, isLast), { authTagLength: TAG_BYTES });
      decipher.setAAD(header);
      decipher.setAuthTag(chunk.subarray(Math.max(0, chunk.length - TAG_BYTES)));
      const cipherText = chunk.subarray(0, Math.max(0, chunk.length - TAG_BYTES));
      return Buffer.concat([decipher.update(cipherText), decipher.final()]);
    } catch (cause) {
      throw n === 0 ? wrongPassphrase(from, cause) : damaged(from, `it was changed or cut off in part ${n + 1}`, cause);
    }
  });
}

const wrongPassphrase = (file: string, cause: unknown): Fault =>
  new Fault(
    'PASSPHRASE_WRONG',
    `${file} does not open: the passphrase is wrong, or the beginning of the file is damaged`,
    'Try the passphrase again; if it is surely right, take another backup.',
    { cause },
  );

const damaged = (file: string, why: string, cause?: unknown): Fault =>
  new Fault('BACKUP_DAMAGED', `${file} is not a whole backup: ${why}`, 'Take another backup.', { cause });

function costOf(header: Buffer, file: string): SealCost {
  if (header.length < HEADER_BYTES || !header.subarray(0, MAGIC.length).equals(MAGIC))
    throw damaged(file, 'it does not begin as a sealed backup does');
  const [logN = 0, r = 0, p = 0] = header.subarray(8, 11);
  const chunkBytes = header.readUInt32BE(12);
  const isSane =
    logN >= 1 && logN <= 24 && r >= 1 && p >= 1 && p <= 16 && 128 * 2 ** logN * r <= MOST_MEMORY && chunkBytes >= 1;
  if (!isSane || chunkBytes > MOST_CHUNK) throw damaged(file, 'its header asks for what no backup needs');
  return { logN, r, p, chunkBytes };
}

function keyOf(passphrase: string, header: Buffer, { logN, r, p }: SealCost): Promise<Buffer> {
  const N = 2 ** logN;
  // Twice what scrypt needs: the library counts a little more than the 128 N r of the standard.
  const options: ScryptOptions = { N, r, p, maxmem: 256 * N * r + 1024 * 1024 };
  const salt = header.subarray(SALT_AT, NONCE_AT);
  return new Promise((resolve, reject) => {
    scrypt(passphrase.normalize('NFC'), salt, 32, options, (error, key) => (error ? reject(error) : resolve(key)));
  });
}

function nonceOf(header: Buffer, n: number, isLast: boolean): Buffer {
  const nonce = Buffer.alloc(12);
  header.copy(nonce, 0, NONCE_AT, HEADER_BYTES);
  nonce.writeUInt32BE(n, 7);
  nonce[11] = isLast ? 1 : 0;
  return nonce;
}

/** Reads `from` behind `skip` bytes in pieces of `size`, turns each with `turn`, and writes the results. */
async function pipeChunks(
  from: string,
  to: string,
  skip: number,
  size: number,
  start: Buffer | undefined,
  turn: (chunk: Buffer, n: number, isLast: boolean) => Buffer,
): Promise<void> {
  const source = await open(from, 'r');
  try {
    const target = await open(to, 'wx', 0o600);
    try {
      if (start) await target.writeFile(start);
      await readFully(source, skip);
      // One piece is always held back: only when nothing follows is it known to be the last.
      let held = await readFully(source, size);
      for (let n = 0; ; n++) {
        const next = held.length < size ? Buffer.alloc(0) : await readFully(source, size);
        const isLast = next.length === 0;
        await target.writeFile(turn(held, n, isLast));
        if (isLast) break;
        held = next;
      }
      await target.sync();
    } finally {
      await target.close();
    }
  } finally {
    await source.close();
  }
}

/** The next `size` bytes; fewer only at the end of the file. */
async function readFully(file: FileHandle, size: number): Promise<Buffer> {
  const buffer = Buffer.alloc(size);
  let length = 0;
  while (length < size) {
    const { bytesRead } = await file.read(buffer, length, size - length, null);
    if (bytesRead === 0) break;
    length += bytesRead;
  }
  return buffer.subarray(0, length);
}
