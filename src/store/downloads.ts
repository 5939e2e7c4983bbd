/** Downloads: what one meter told in one conversation, what settling made of it, and what it proved of the clock. */
import type { ClockEvent, CutReason, Download } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import { meterTimeOf, type Wall, wall } from '../core/meter-time.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import type { Database } from './database.ts';
import { truth } from './row-values.ts';

/** What settling says of a download. Made again for every download of a meter when an older one comes late. */
export interface SettlingFacts {
  readonly new: number;
  readonly known: number;
  readonly vanished: number;
  readonly possiblyLost: boolean;
  readonly runRestarted: boolean;
  readonly doubtful: boolean;
  /** The newest test surely made before the download. */
  readonly after?: ReadingId;
  /** How many of the tests that follow it may also have been made before; absent: unknown. */
  readonly mayPrecede?: number;
  /** Number of the memory that it told, where several were told under the meter's name; absent: 0, the first. */
  readonly memory?: number;
}

/** Where a download stands in time: by its beginning, then by the number of its capture, then within the capture. */
export interface DownloadMoment {
  readonly at: Instant;
  readonly captureNo: number;
  readonly ordinal: number;
}

/** A download without its memory image, which can be decoded from its capture. */
export interface StoredDownload extends DownloadMoment, SettlingFacts {
  readonly id: DownloadId;
  readonly meterNo: number;
  readonly meterId: string;
  readonly meterModel: string;
  readonly until: Instant;
  readonly protocol: Download['protocol'];
  readonly profile: string;
  readonly zone: string;
  readonly port: string;
  readonly held?: number;
  readonly lossCount?: number;
  readonly resetStamp?: Wall;
  readonly complete: boolean;
  readonly cut?: CutReason;
  readonly bytes: number;
  readonly damagedLines: number;
  readonly retries: number;
  readonly durationMs: number;
  /** Meter's clock minus true local time in whole seconds; absent where the clock was not seen. */
  readonly clockOffS?: number;
  readonly clockSet: boolean;
}

export interface Downloads {
  /** Stores a download of a meter with its clock events. */
  add(id: DownloadId, moment: DownloadMoment, meterNo: number, download: Download, facts: SettlingFacts): void;
  /** Replaces what settling said of a download. */
  resettle(id: DownloadId, facts: SettlingFacts): void;
  /** Says that a download told another memory than was thought. */
  relabel(id: DownloadId, memory: number): void;
  /** The moment of the meter's newest download in time. */
  newestMoment(meterNo: number): DownloadMoment | undefined;
  /** Of one meter, or of all; of one meter also only those from a download on. Oldest first. */
  list(meterNo?: number, from?: DownloadId): StoredDownload[];
  /** The downloads made of one capture. */
  ofCapture(captureNo: number): StoredDownload[];
  get(id: DownloadId): StoredDownload | undefined;
  /** What a download proved of the clock, in the order in which it happened. */
  clockEvents(id: DownloadId): ClockEvent[];
}

interface DownloadRow {
  download_id: DownloadId;
  capture_no: number;
  ordinal: number;
  meter_no: number;
  meter_id: string;
  model: string;
  at: number;
  until: number;
  protocol: Download['protocol'];
  profile: string;
  zone: string;
  port: string;
  held: number | null;
  loss_count: number | null;
  reset_wall: number | null;
  complete: number;
  cut: CutReason | null;
  bytes: number;
  damaged_lines: number;
  retries: number;
  duration_ms: number;
  clock_off_s: number | null;
  clock_set: number;
  new_count: number;
  known_count: number;
  vanished: number;
  possibly_lost: number;
  run_restarted: number;
  doubtful: number;
  after_reading: ReadingId | null;
  may_precede: number | null;
  memory: number;
}

interface EventRow {
  kind: ClockEvent['kind'];
  from_ms: number;
  to_ms: number;
  wall: number | null;
  resolution_ms: number | null;
  outcome: 'confirmed' | 'refused' | 'unknown' | null;
}

const downloadOf = (r: DownloadRow): StoredDownload => ({
  id: r.download_id,
  captureNo: r.capture_no,
  ordinal: r.ordinal,
  meterNo: r.meter_no,
  meterId: r.meter_id,
  meterModel: r.model,
  at: instant(r.at),
  until: instant(r.until),
  protocol: r.protocol,
  profile: r.profile,
  zone: r.zone,
  port: r.port,
  ...(r.held === null ? {} : { held: r.held }),
  ...(r.loss_count === null ? {} : { lossCount: r.loss_count }),
  ...(r.reset_wall === null ? {} : { resetStamp: wall(r.reset_wall) }),
  complete: r.complete === 1,
  ...(r.cut === null ? {} : { cut: r.cut }),
  bytes: r.bytes,
  damagedLines: r.damaged_lines,
  retries: r.retries,
  durationMs: r.duration_ms,
  ...(r.clock_off_s === null ? {} : { clockOffS: r.clock_off_s }),
  clockSet: r.clock_set === 1,
  new: r.new_count,
  known: r.known_count,
  vanished: r.vanished,
  possiblyLost: r.possibly_lost === 1,
  runRestarted: r.run_restarted === 1,
  doubtful: r.doubtful === 1,
  ...(r.after_reading === null ? {} : { after: r.after_reading }),
  ...(r.may_precede === null ? {} : { mayPrecede: r.may_precede }),
  ...(r.memory === 0 ? {} : { memory: r.memory }),
});

const eventOf = (r: EventRow): ClockEvent => {
  const span = { from: instant(r.from_ms), to: instant(r.to_ms) };
  const shown = wall(r.wall ?? 0);
  if (r.kind === 'anchor') return { kind: 'anchor', shown: meterTimeOf(shown, r.resolution_ms ?? 1000), ...span };
  if (r.kind === 'set') return { kind: 'set', asked: shown, ...span, outcome: r.outcome ?? 'unknown' };
  return { kind: 'unset', ...span };
};

/**
 * The meter's clock minus true local time at the download's first anchor, in whole seconds: the middle of what the
 * clock may have shown (it cuts digits off) against the middle of the time in which it was asked. Absent without one.
 */
export function clockOffSeconds(download: Pick<Download, 'clock' | 'zone'>): number | undefined {
  const anchor = download.clock.find((event) => event.kind === 'anchor');
  if (!anchor) return undefined;
  const middle = instant(Math.round((anchor.from + anchor.to) / 2));
  const shown = anchor.shown.wall + anchor.shown.resolutionMs / 2;
  // Half a second rounds towards the earlier: a clock of whole seconds that is right to the millisecond is off by 0.
  const off = Math.ceil((shown - zoneOf(download.zone).wallAt(middle)) / 1000 - 0.5);
  return off === 0 ? 0 : off; // never -0
}

const factsBinding = (facts: SettlingFacts) => ({
  new: facts.new,
  known: facts.known,
  vanished: facts.vanished,
  lost: truth(facts.possiblyLost),
  restarted: truth(facts.runRestarted),
  doubtful: truth(facts.doubtful),
  after: facts.after ?? null,
  precede: facts.mayPrecede ?? null,
});

const SELECT = `SELECT d.*, m.meter_id, m.model, coalesce(dm.memory, 0) AS memory
  FROM download d JOIN meter m USING (meter_no) LEFT JOIN download_memory dm USING (download_id)`;

/** The downloads of a store. */
export function makeDownloads(db: Database): Downloads {
  const insert = db.statement(`INSERT INTO download VALUES (:id, :capture, :ordinal, :meter, :at, :until, :protocol,
    :profile, :zone, :port, :held, :loss, :reset, :complete, :cut, :bytes, :damaged, :retries, :duration, :off, :set,
    :new, :known, :vanished, :lost, :restarted, :doubtful, :after, :precede)`);
  const insertEvent = db.statement(
    'INSERT INTO clock_event VALUES (:id, :n, :kind, :from, :to, :wall, :resolution, :outcome)',
  );
  const relabel = (id: DownloadId, memory: number): void => {
    db.statement('DELETE FROM download_memory WHERE download_id = ?').run(id);
    if (memory > 0) db.statement('INSERT INTO download_memory VALUES (?, ?)').run(id, memory);
  };
  return {
    add(id, moment, meterNo, download, facts) {
      insert.run({
        id,
        capture: moment.captureNo,
        ordinal: moment.ordinal,
        meter: meterNo,
        at: download.at,
        until: download.until,
        protocol: download.protocol,
        profile: download.profile,
        zone: download.zone,
        port: download.port,
        held: download.held ?? null,
        loss: download.lossCount ?? null,
        reset: download.resetStamp ?? null,
        complete: truth(download.complete),
        cut: download.cut ?? null,
        bytes: download.stats.bytes,
        damaged: download.stats.damagedLines,
        retries: download.stats.retries,
        duration: download.stats.durationMs,
        off: clockOffSeconds(download) ?? null,
        set: truth(download.clock.some((event) => event.kind === 'set' && event.outcome === 'confirmed')),
        ...factsBinding(facts),
      });
      if (facts.memory !== undefined) relabel(id, facts.memory);
      for (const [n, event] of download.clock.entries())
        insertEvent.run({
          id,
          n,
          kind: event.kind,
          from: event.from,
          to: event.to,
          wall: event.kind === 'anchor' ? event.shown.wall : event.kind === 'set' ? event.asked : null,
          resolution: event.kind === 'anchor' ? event.shown.resolutionMs : null,
          outcome: event.kind === 'set' ? event.outcome : null,
        });
    },
    resettle(id, facts) {
      db.statement(
        `UPDATE download SET new_count = :new, known_count = :known, vanished = :vanished, possibly_lost = :lost,
          run_restarted = :restarted, doubtful = :doubtful, after_reading = :after, may_precede = :precede
          WHERE download_id = :id`,
      ).run({ id, ...factsBinding(facts) });
      relabel(id, facts.memory ?? 0);
    },
    relabel,
    newestMoment(meterNo) {
      const row = db
        .statement<Pick<DownloadRow, 'at' | 'capture_no' | 'ordinal'>>(
          `SELECT at, capture_no, ordinal FROM download WHERE meter_no = ?
            ORDER BY at DESC, capture_no DESC, ordinal DESC LIMIT 1`,
        )
        .get(meterNo);
      return row && { at: instant(row.at), captureNo: row.capture_no, ordinal: row.ordinal };
    },
    list: (meterNo, from) =>
      (meterNo === undefined
        ? db.statement<DownloadRow>(`${SELECT} ORDER BY at, capture_no, ordinal`).all()
        : from === undefined
          ? db.statement<DownloadRow>(`${SELECT} WHERE meter_no = ? ORDER BY at, capture_no, ordinal`).all(meterNo)
          : db
              .statement<DownloadRow>(
                `${SELECT} WHERE meter_no = ? AND (at, capture_no, ordinal) >=
                  (SELECT at, capture_no, ordinal FROM download WHERE download_id = ?) ORDER BY at, capture_no, ordinal`,
              )
              .all(meterNo, from)
      ).map(downloadOf),
    ofCapture: (captureNo) =>
      db.statement<DownloadRow>(`${SELECT} WHERE capture_no = ? ORDER BY ordinal`).all(captureNo).map(downloadOf),
    get(id) {
      const row = db.statement<DownloadRow>(`${SELECT} WHERE download_id = ?`).get(id);
      return row && downloadOf(row);
    },
    clockEvents: (id) =>
      db
        .statement<EventRow>(
          `SELECT kind, from_ms, to_ms, wall, resolution_ms, outcome FROM clock_event WHERE download_id = ? ORDER BY n`,
        )
        .all(id)
        .map(eventOf),
  };
}
