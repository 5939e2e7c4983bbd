/**
 * Which rows a CSV file of ours holds already, by reading and version, so that a reading that comes a second time is not
 * written a second time. Reads a file in pieces; a row may hold quoted line ends.
 */

import { type FileHandle, open } from 'node:fs/promises';
import { systemCode } from '../../core/system-code.ts';
import { VERSION_CELL } from './outgoing-row.ts';

/** How many rows there are of each version of each reading. */
export type KnownRows = Map<string, number>;

/** How `KnownRows` names a version of a reading. */
export const rowKey = (reading: string, version: number | string): string => `${reading} ${version}`;

const PIECE = 1 << 20;

/**
 * Counts the rows of a file from byte `from`, where a row begins, and adds them to `known`. Gives the byte behind the
 * last whole row: what follows was cut off by a crash.
 */
export async function countRows(handle: FileHandle, from: number, known: KnownRows): Promise<number> {
  const piece = Buffer.alloc(PIECE);
  let rest = Buffer.alloc(0);
  let end = from;
  for (let at = from; ; ) {
    const { bytesRead } = await handle.read(piece, 0, PIECE, at);
    if (bytesRead === 0) return end;
    at += bytesRead;
    const bytes = Buffer.concat([rest, piece.subarray(0, bytesRead)]);
    const used = eachRow(bytes, (row) => {
      const key = keyOf(row);
      if (key !== undefined) known.set(key, (known.get(key) ?? 0) + 1);
    });
    end += used;
    rest = bytes.subarray(used);
  }
}

/** The same for a file that is only read; a file that is not there holds nothing. */
export async function countFile(path: string, from: number, known: KnownRows): Promise<void> {
  let handle: FileHandle;
  try {
    handle = await open(path, 'r');
  } catch (thrown) {
    if (systemCode(thrown) === 'ENOENT') return;
    throw thrown;
  }
  try {
    await countRows(handle, from, known);
  } finally {
    await handle.close();
  }
}

const [QUOTE, NEWLINE] = [34, 10];

/** Calls back for each whole row without its line end; gives how many bytes they took. */
function eachRow(bytes: Buffer, take: (row: string) => void): number {
  const next = (byte: number, from: number): number => {
    const at = bytes.indexOf(byte, from);
    return at < 0 ? bytes.length : at;
  };
  let start = 0;
  let quote = next(QUOTE, 0);
  let isQuoted = false;
  for (let from = 0; ; ) {
    const lineEnd = next(NEWLINE, from);
    for (; quote < lineEnd; quote = next(QUOTE, quote + 1)) isQuoted = !isQuoted;
    if (lineEnd === bytes.length) return start;
    from = lineEnd + 1;
    if (isQuoted) continue; // this line end belongs to a cell
    take(bytes.toString('utf8', start, lineEnd).replace(/\r$/, ''));
    start = from;
  }
}

/** The reading and version of a row; nothing for the header and for rows that are not ours. */
function keyOf(row: string): string | undefined {
  const cells = row.includes('"') ? quotedCells(row) : row.split(',');
  const version = cells[VERSION_CELL] ?? '';
  return /^\d+$/.test(version) ? rowKey(cells[0] ?? '', version) : undefined;
}

const quotedCells = (row: string): string[] =>
  [...row.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^",]*))/g)].map((m) => m[1]?.replaceAll('""', '"') ?? m[2] ?? '');
