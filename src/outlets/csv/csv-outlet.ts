/**
 * The CSV outlet: every version of a reading as rows at the end of a file, one file for each day or one that grows. Whole
 * batches are on the disk before they count as taken. After a crash the rows that had come through are recognised, a torn
 * one is cut off, and only what is missing is written. A file that somebody has locked is waited for.
 */

import { type FileHandle, mkdir, open, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { Fault } from '../../core/fault.ts';
import { formatWall } from '../../core/meter-time.ts';
import { systemCode } from '../../core/system-code.ts';
import { zoneOf } from '../../core/zone.ts';
import type { Delivery, Outlet, SendResult } from '../outlet.ts';
import { syncFolder } from '../sync-folder.ts';
import { writeBehind } from '../write-behind.ts';
import { countFile, countRows, type KnownRows, rowKey } from './known-rows.ts';
import { OUTLET_HEADER, outgoingRows } from './outgoing-row.ts';
import { type Progress, readProgress, writeProgress } from './progress.ts';
import type { CsvDeps, CsvSettings } from './settings.ts';

const BATCH = 1000;
/** A reading has no more rows than this. */
const MOST_VALUES = 4;
const OURS = /^readings(-\d{4}-\d{2}-\d{2})?\.csv$/;

/** Makes the outlet. `send` rejects with OUTLET_DOWN where the files cannot be written, OUTLET_INVALID where they are not ours. */
export function csvOutlet(settings: CsvSettings, deps: CsvDeps): Outlet {
  const { folder } = settings;
  const zone = zoneOf(deps.zone);
  const nameNow = (): string =>
    settings.files === 'one' ? 'readings.csv' : `readings-${formatWall(zone.wallAt(deps.now()), 86_400_000)}.csv`;

  /** What is known of the files; nothing at the start and after a failure. */
  let known: Known | undefined;

  /** What the files hold behind the noted progress; without a note, all that they hold. */
  async function lookUp(): Promise<Known> {
    await mkdir(folder, { recursive: true });
    const progress = await readProgress(folder);
    const names = (await readdir(folder)).filter((name) => OURS.test(name));
    const rows: KnownRows = new Map();
    for (const name of progress ? names.filter((n) => n >= progress.file) : names)
      await countFile(join(folder, name), name === progress?.file ? progress.size : 0, rows);
    if (progress) return { progress, rows };
    const nothing = { file: '', size: 0, seq: 0 };
    // No rows at all: then no note is missing.
    if (rows.size === 0) return { progress: nothing, rows };
    return { progress: nothing, rows: new Map(), all: rows, isNoted: false };
  }

  /** Every row of every file. */
  async function countAll(): Promise<KnownRows> {
    const rows: KnownRows = new Map();
    for (const name of (await readdir(folder)).filter((n) => OURS.test(n)))
      await countFile(join(folder, name), 0, rows);
    return rows;
  }

  async function append(batch: readonly Delivery[]): Promise<void> {
    known ??= await lookUp();
    const { progress, rows, isNoted } = known;
    const isReplayed = batch.some((d) => d.seq <= progress.seq);
    const all = isReplayed || isNoted === false ? (known.all ?? (await countAll())) : undefined;
    const file = nameNow();
    const handle = await openFile(join(folder, file));
    try {
      const size = await wholeSize(handle, join(folder, file), progress.file === file ? progress.size : undefined);
      const text = batch.map((delivery) => missingRows(delivery, rows, all)).join('');
      // While rows of an unfinished batch stand behind the noted place, the note stays where it is.
      if (rows.size === 0) await writeProgress(folder, { file, size, seq: progress.seq });
      const bytes = Buffer.from(`${size === 0 ? OUTLET_HEADER : ''}${text}`, 'utf8');
      await writeBehind(handle, bytes, size);
      if (size === 0) await syncFolder(folder);
      for (const d of all ? batch : []) all?.set(rowKey(d.reading.id, d.reading.version), MOST_VALUES);
      const seq = batch.reduce((most, d) => Math.max(most, d.seq), progress.seq);
      known = {
        progress: { file, size: size + bytes.length, seq },
        rows: new Map(),
        ...(all ? { all } : {}),
        ...(isNoted === false ? { isNoted } : {}),
      };
    } catch (thrown) {
      known = undefined;
      throw thrown;
    } finally {
      await handle.close();
    }
  }

  return {
    batchSize: BATCH,
    async send(batch): Promise<readonly SendResult[]> {
      try {
        await append(batch);
      } catch (cause) {
        throw outletFault(cause, folder);
      }
      return batch.map(() => ({ kind: 'taken' }));
    },
    close: () => Promise.resolve(),
  };
}

/** What an open outlet knows of its files. */
interface Known {
  /** How far it had come, as the note in the folder says or will say next. */
  readonly progress: Progress;
  /** The rows behind the noted place: what a batch that was not finished has left. */
  readonly rows: KnownRows;
  /** Every row of every file: looked into while readings come that may have been written long ago. */
  readonly all?: KnownRows;
  /** False where there was no note: then anything may have been written before. */
  readonly isNoted?: false;
}

/** The rows of a delivery that no file holds yet. A crash leaves the first rows of a reading: the others follow. */
function missingRows(delivery: Delivery, rows: KnownRows, all: KnownRows | undefined): string {
  const key = rowKey(delivery.reading.id, delivery.reading.version);
  return outgoingRows(delivery)
    .slice(Math.max(rows.get(key) ?? 0, all?.get(key) ?? 0))
    .join('');
}

/** Not for appending: on Windows such a file cannot be cut back. */
async function openFile(path: string): Promise<FileHandle> {
  try {
    return await open(path, 'r+');
  } catch (thrown) {
    if (systemCode(thrown) !== 'ENOENT') throw thrown;
    return await open(path, 'wx+', 0o600);
  }
}

/**
 * The size of a file without a row that a crash has torn; cuts that row off. `from` is where a row is known to begin.
 * Throws OUTLET_INVALID for a file with other columns.
 */
async function wholeSize(handle: FileHandle, path: string, from: number | undefined): Promise<number> {
  const { size } = await handle.stat();
  if (size === from) return size;
  const head = Buffer.alloc(OUTLET_HEADER.length);
  const { bytesRead } = await handle.read(head, 0, head.length, 0);
  if (!OUTLET_HEADER.startsWith(head.toString('utf8', 0, bytesRead)))
    throw new Fault('OUTLET_INVALID', `${path} has other columns than these rows`, 'Move the file away');
  const isKnown = from !== undefined && from <= size;
  const whole =
    bytesRead < head.length ? 0 : isKnown ? await countRows(handle, from, new Map()) : await lastLineEnd(handle, size);
  if (whole < size) {
    await handle.truncate(whole);
    await handle.sync();
  }
  return whole;
}

/** The byte behind the last line end of a file. */
async function lastLineEnd(handle: FileHandle, size: number): Promise<number> {
  const PIECE = 65_536;
  const piece = Buffer.alloc(PIECE);
  for (let end = size; end > 0; end -= PIECE) {
    const from = Math.max(0, end - PIECE);
    const { bytesRead } = await handle.read(piece, 0, end - from, from);
    const at = piece.subarray(0, bytesRead).lastIndexOf(10);
    if (at >= 0) return from + at + 1;
  }
  return 0;
}

function outletFault(cause: unknown, folder: string): Fault {
  if (cause instanceof Fault) return cause;
  const code = systemCode(cause);
  if (code === 'ENOSPC' || code === 'EDQUOT')
    return new Fault(
      'OUTLET_DOWN',
      `No room left to write in ${folder}`,
      'Free some disk space: the readings wait and go on by themselves',
      { cause },
    );
  if (code === 'EBUSY' || code === 'EPERM' || code === 'EACCES')
    return new Fault(
      'OUTLET_DOWN',
      `A file in ${folder} is held by another program, or may not be written`,
      'Close it there, or give this account the right to write: the readings wait and go on by themselves',
      { cause },
    );
  return new Fault(
    'OUTLET_DOWN',
    `The files in ${folder} cannot be written (${code || 'unknown reason'})`,
    'Check that the disk is there and may be written',
    { cause },
  );
}
