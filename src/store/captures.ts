/**
 * Captures in the store: opened, filled chunk by chunk while a conversation runs, sealed when it ends, and marked
 * when they have been taken in. Nothing here knows what the bytes mean.
 */
import type { Capture, CaptureChunk } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { fingerprint, packChunks, unpackChunks } from './capture-pack.ts';
import type { Database } from './database.ts';
import type { ProcessMark } from './process-mark.ts';

/** What is known of a capture before its first byte. */
export type CaptureHeader = Omit<Capture, 'chunks' | 'closedAt'>;

/** A capture that no process has finished yet. */
export interface UnfinishedCapture {
  readonly captureNo: number;
  readonly owner: ProcessMark;
  /** True where all its bytes are there and only the taking in is missing. */
  readonly sealed: boolean;
}

/** Where a capture stands. */
export interface StoredCapture {
  readonly capture: Capture;
  readonly source: 'live' | 'file';
  /** Place in the order in which captures were taken in, from 1; absent until then. */
  readonly arrival?: number;
}

export interface Captures {
  /** Makes a live capture that `owner` records; gives its number. */
  open(header: CaptureHeader, owner: ProcessMark): number;
  /** Adds chunks to an open capture. */
  append(captureNo: number, chunks: readonly CaptureChunk[]): void;
  /** Notes that the PC's clock was changed while an open capture was recorded; the latest note counts. */
  noteClockStep(captureNo: number, stepS: number): void;
  /**
   * Ends an open capture: packs its bytes. `closedAt` is absent where the program died. Gives the fingerprint; throws
   * nothing if the capture was sealed already.
   */
  seal(captureNo: number, closedAt?: Instant): string;
  /** Stores a whole capture from a file under its fingerprint, which must not be there yet; gives its number. */
  add(capture: Capture, sha256: string, owner: ProcessMark): number;
  /** The number of the capture with this fingerprint. */
  find(sha256: string): number | undefined;
  /** Throws INTERNAL for a number that was never given. */
  load(captureNo: number): StoredCapture;
  /** True where the capture has been taken in. */
  isTakenIn(captureNo: number): boolean;
  /** Live captures and files that were not taken in to the end, oldest first. */
  unfinished(): UnfinishedCapture[];
  /** Notes that a sealed capture has been taken in, as the next in the order of arrival; gives its place. */
  markTakenIn(captureNo: number): number;
  /** Numbers of all captures that were taken in, in the order of arrival. */
  taken(): number[];
}

interface CaptureRow {
  capture_no: number;
  source: 'live' | 'file';
  port: string;
  profile: string;
  zone: string;
  opened_at: number;
  closed_at: number | null;
  owner_pid: number | null;
  owner_start: string | null;
  packed: Uint8Array | null;
  sha256: string | null;
  arrival: number | null;
  step_s: number | null;
}

/** The captures of a store. */
export function makeCaptures(db: Database): Captures {
  const insert = db.statement<{ capture_no: number }>(`INSERT INTO capture
    (source, port, profile, zone, opened_at, closed_at, owner_pid, owner_start, packed, sha256)
    VALUES (:source, :port, :profile, :zone, :opened, :closed, :pid, :start, :packed, :sha256) RETURNING capture_no`);
  const addChunk = db.statement(`INSERT INTO capture_chunk (capture_no, n, at, dir, data)
    SELECT :no, coalesce(max(n) + 1, 0), :at, :dir, :data FROM capture_chunk WHERE capture_no = :no`);
  const chunksOf = db.statement<{ at: number; dir: 'in' | 'out'; data: Uint8Array }>(
    'SELECT at, dir, data FROM capture_chunk WHERE capture_no = ? ORDER BY n',
  );
  const row = db.statement<CaptureRow>(
    'SELECT * FROM capture LEFT JOIN capture_clock_step USING (capture_no) WHERE capture_no = ?',
  );
  const keepStep = db.statement(`INSERT INTO capture_clock_step VALUES (:no, :step)
    ON CONFLICT DO UPDATE SET step_s = excluded.step_s`);

  const rowOf = (captureNo: number): CaptureRow => {
    const found = row.get(captureNo);
    if (!found) throw new Fault('INTERNAL', `There is no capture ${captureNo}`, 'Please report this.');
    return found;
  };
  const captureOf = (r: CaptureRow): Capture => ({
    port: r.port,
    profile: r.profile,
    zone: r.zone,
    openedAt: instant(r.opened_at),
    ...(r.step_s === null ? {} : { clockStepS: r.step_s }),
    chunks: r.packed
      ? unpackChunks(r.packed)
      : chunksOf.all(r.capture_no).map((c) => ({ at: instant(c.at), dir: c.dir, data: new Uint8Array(c.data) })),
    ...(r.closed_at === null ? {} : { closedAt: instant(r.closed_at) }),
  });
  const insertRow = (
    source: 'live' | 'file',
    header: CaptureHeader,
    owner: ProcessMark,
    sealed?: { closed: Instant | undefined; packed: Uint8Array; sha256: string },
  ): number => {
    const made = insert.get({
      source,
      port: header.port,
      profile: header.profile,
      zone: header.zone,
      opened: header.openedAt,
      closed: sealed?.closed ?? null,
      pid: owner.pid,
      start: owner.start ?? null,
      packed: sealed?.packed ?? null,
      sha256: sealed?.sha256 ?? null,
    });
    if (!made) throw new Fault('INTERNAL', 'The store gave no number to a capture', 'Please report this.');
    if (header.clockStepS !== undefined) keepStep.run({ no: made.capture_no, step: header.clockStepS });
    return made.capture_no;
  };

  return {
    open: (header, owner) => db.write(() => insertRow('live', header, owner)),
    append: (captureNo, chunks) =>
      db.write(() => {
        for (const { at, dir, data } of chunks) addChunk.run({ no: captureNo, at, dir, data });
      }),
    noteClockStep: (captureNo, stepS) => void keepStep.run({ no: captureNo, step: stepS }),
    seal: (captureNo, closedAt) =>
      db.write(() => {
        const found = rowOf(captureNo);
        if (found.sha256 !== null) return found.sha256;
        const capture = captureOf(found);
        const sha256 = fingerprint(capture);
        db.statement('UPDATE capture SET closed_at = ?, packed = ?, sha256 = ? WHERE capture_no = ?').run(
          closedAt ?? null,
          packChunks(capture.chunks),
          sha256,
          captureNo,
        );
        db.statement('DELETE FROM capture_chunk WHERE capture_no = ?').run(captureNo);
        return sha256;
      }),
    add: (capture, sha256, owner) =>
      db.write(() =>
        insertRow('file', capture, owner, {
          closed: capture.closedAt,
          packed: packChunks(capture.chunks),
          sha256,
        }),
      ),
    find: (sha256) =>
      db.statement<{ capture_no: number }>('SELECT capture_no FROM capture WHERE sha256 = ?').get(sha256)?.capture_no,
    load(captureNo) {
      const r = rowOf(captureNo);
      return { capture: captureOf(r), source: r.source, ...(r.arrival === null ? {} : { arrival: r.arrival }) };
    },
    isTakenIn: (captureNo) =>
      db.statement('SELECT 1 FROM capture WHERE capture_no = ? AND arrival IS NOT NULL').get(captureNo) !== undefined,
    unfinished: () =>
      db
        .statement<CaptureRow>(
          `SELECT capture_no, owner_pid, owner_start, sha256 FROM capture WHERE arrival IS NULL ORDER BY capture_no`,
        )
        .all()
        .map((r) => ({
          captureNo: r.capture_no,
          owner: { pid: r.owner_pid ?? 0, ...(r.owner_start === null ? {} : { start: r.owner_start }) },
          sealed: r.sha256 !== null,
        })),
    markTakenIn: (captureNo) => {
      const marked = db
        .statement<{ arrival: number }>(`UPDATE capture SET owner_pid = NULL, owner_start = NULL,
          arrival = (SELECT coalesce(max(arrival), 0) + 1 FROM capture)
          WHERE capture_no = ? AND arrival IS NULL AND sha256 IS NOT NULL RETURNING arrival`)
        .get(captureNo);
      if (!marked) throw new Fault('INTERNAL', `Capture ${captureNo} cannot be taken in now`, 'Please report this.');
      return marked.arrival;
    },
    taken: () =>
      db
        .statement<{ capture_no: number }>('SELECT capture_no FROM capture WHERE arrival IS NOT NULL ORDER BY arrival')
        .all()
        .map((r) => r.capture_no),
  };
}
