/** Outlets: where readings are forwarded to, and how far each has worked through the log of changes. */
import { FAULT_CODES, type FaultCode } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import type { Database } from './database.ts';
import { truth } from './row-values.ts';

/** What an outlet is set up with. Settings and filter are JSON texts: their forms belong to the outlets' own room. */
export interface OutletSetup {
  /** As people call it. */
  readonly name: string;
  readonly kind: string;
  readonly settings: string;
  readonly filter: string;
}

/** Why an outlet cannot be reached. */
export interface OutletTrouble {
  readonly code: FaultCode;
  readonly message: string;
  readonly hint: string;
  /** Since when, for this reason. */
  readonly at: Instant;
}

export interface StoredOutlet extends OutletSetup {
  readonly outletNo: number;
  readonly state: 'running' | 'paused';
  /** Every row of the log up to this one is dealt with. */
  readonly cursor: number;
  /** The newest row that was ever handed over, or begun to be. */
  readonly offered: number;
  /** Tries in a row that it could not be reached. */
  readonly failures: number;
  /** Not tried again before. */
  readonly nextTryAt?: Instant;
  readonly trouble?: OutletTrouble;
  readonly sentAt?: Instant;
  readonly sentCount: number;
  readonly addedBy: string;
  readonly addedAt: Instant;
}

/** A version of a reading as a row of the log names it. */
export interface LoggedVersion {
  readonly seq: number;
  readonly reading: ReadingId;
  readonly version: number;
}

/** A reading that the receiver refused. */
export interface StoredSetAside extends LoggedVersion {
  readonly reason: string;
  readonly at: Instant;
  readonly tries: number;
  /** Somebody asked for another try. */
  readonly again: boolean;
}

/** What came of a batch: written in one transaction, so that a crash leaves all of it or nothing. */
export interface Settling {
  readonly outletNo: number;
  /** The cursor when the batch was read: where it has been moved since, by a replay say, it stays where it was moved to. */
  readonly from: number;
  readonly to: number;
  readonly taken: readonly LoggedVersion[];
  readonly refused: readonly (LoggedVersion & { readonly reason: string })[];
  /** Nothing is left of these that could be handed over. */
  readonly dropped: readonly LoggedVersion[];
  readonly at: Instant;
}

/** What waits at an outlet. */
export interface OutletLag {
  /** Rows of the log that are not dealt with yet; some of them may turn out to be nothing for this outlet. */
  readonly waiting: number;
  /** When the oldest of them came about. */
  readonly oldestAt?: Instant;
  readonly setAside: number;
}

export interface Outlets {
  /** Adds one; gives its number. The name must be free. It begins behind `cursor`. */
  add(setup: OutletSetup, cursor: number, by: string, at: Instant): number;
  /** Removes it with all that is known of its progress; what it was sent stays with its receiver. */
  remove(outletNo: number): void;
  /** All, by name. */
  list(): StoredOutlet[];
  find(name: string): StoredOutlet | undefined;
  get(outletNo: number): StoredOutlet | undefined;
  /** Pauses or goes on; going on, it is tried at once. */
  setState(outletNo: number, state: 'running' | 'paused'): void;
  /** Goes on behind this row, at once: everything after it is handed over again. */
  rewind(outletNo: number, cursor: number): void;
  /** Says before a batch is handed over how far it goes, and which versions were passed over because newer ones were there. */
  offer(outletNo: number, upTo: number, passedOver: readonly LoggedVersion[]): void;
  /** Notes what came of a batch. */
  settle(settling: Settling): void;
  /** Notes that it could not be reached. */
  fail(outletNo: number, trouble: OutletTrouble, nextTryAt: Instant): void;
  /** Those that were refused, oldest first. */
  setAside(outletNo: number): StoredSetAside[];
  /** Asks for another try of all that were refused; gives how many they are. */
  tryAgain(outletNo: number): number;
  /** Notes that it can be reached again. */
  recovered(outletNo: number): void;
  /** The versions of these readings that the outlet never had although they lie behind `offered`. */
  gaps(outletNo: number, readings: readonly ReadingId[]): Set<string>;
  lag(outlet: StoredOutlet): OutletLag;
  /** The day from which days are counted for a subject; `day` becomes it where there is none yet. */
  dayZero(outletNo: number, subject: string, day: number): number;
}

/** How `gaps` names a version. */
export const versionKey = (reading: ReadingId, version: number): string => `${reading} ${version}`;

interface Row {
  outlet_no: number;
  name: string;
  kind: string;
  settings: string;
  filter: string;
  state: 'running' | 'paused';
  cursor_seq: number;
  offered_seq: number;
  failures: number;
  next_try_at: number | null;
  error_code: string | null;
  error_message: string | null;
  error_hint: string | null;
  error_at: number | null;
  sent_at: number | null;
  sent_count: number;
  added_by: string;
  added_at: number;
}

const codeOf = (text: string): FaultCode => FAULT_CODES.find((code) => code === text) ?? 'INTERNAL';

const outletOf = (r: Row): StoredOutlet => ({
  outletNo: r.outlet_no,
  name: r.name,
  kind: r.kind,
  settings: r.settings,
  filter: r.filter,
  state: r.state,
  cursor: r.cursor_seq,
  offered: r.offered_seq,
  failures: r.failures,
  ...(r.next_try_at === null ? {} : { nextTryAt: instant(r.next_try_at) }),
  ...(r.error_code === null || r.error_at === null
    ? {}
    : {
        trouble: {
          code: codeOf(r.error_code),
          message: r.error_message ?? '',
          hint: r.error_hint ?? '',
          at: instant(r.error_at),
        },
      }),
  ...(r.sent_at === null ? {} : { sentAt: instant(r.sent_at) }),
  sentCount: r.sent_count,
  addedBy: r.added_by,
  addedAt: instant(r.added_at),
});

interface AsideRow {
  reading_id: ReadingId;
  seq: number;
  version: number;
  reason: string;
  at: number;
  tries: number;
  again: number;
}

/** The outlets of a store. */
export function makeOutlets(db: Database): Outlets {
  const one = (where: string, key: string | number): StoredOutlet | undefined => {
    const row = db.statement<Row>(`SELECT * FROM outlet WHERE ${where} = ?`).get(key);
    return row && outletOf(row);
  };
  const addGap = db.statement('INSERT INTO outlet_gap VALUES (?, ?, ?) ON CONFLICT DO NOTHING');
  const dropGap = db.statement('DELETE FROM outlet_gap WHERE outlet_no = ? AND reading_id = ? AND version = ?');
  const refuse = db.statement(
    `INSERT INTO set_aside VALUES (:no, :reading, :seq, :version, :reason, :at, 1, 0)
      ON CONFLICT (outlet_no, reading_id) DO UPDATE SET seq = :seq, version = :version, reason = :reason, at = :at,
        tries = CASE WHEN version = :version THEN tries + 1 ELSE 1 END, again = 0`,
  );
  const lastSeq = (): number =>
    db.statement<{ seq: number | null }>('SELECT max(seq) AS seq FROM outgoing').get()?.seq ?? 0;
  const asideRows = (outletNo: number): AsideRow[] =>
    db.statement<AsideRow>('SELECT * FROM set_aside WHERE outlet_no = ? ORDER BY seq').all(outletNo);
  const countAside = (outletNo: number): number =>
    db.statement<{ n: number }>('SELECT count(*) AS n FROM set_aside WHERE outlet_no = ?').get(outletNo)?.n ?? 0;
  const recovered = (outletNo: number): void =>
    void db
      .statement(
        `UPDATE outlet SET failures = 0, next_try_at = NULL, error_code = NULL, error_message = NULL,
          error_hint = NULL, error_at = NULL WHERE outlet_no = ? AND failures > 0`,
      )
      .run(outletNo);

  return {
    add: (setup, cursor, by, at) =>
      db
        .statement<{ outlet_no: number }>(
          `INSERT INTO outlet (name, kind, settings, filter, state, cursor_seq, offered_seq, failures, sent_count,
              added_by, added_at)
            VALUES (:name, :kind, :settings, :filter, 'running', :cursor, :cursor, 0, 0, :by, :at) RETURNING outlet_no`,
        )
        .get({ ...setup, cursor, by, at })?.outlet_no ?? 0,
    remove: (outletNo) => void db.statement('DELETE FROM outlet WHERE outlet_no = ?').run(outletNo),
    list: () => db.statement<Row>('SELECT * FROM outlet ORDER BY name').all().map(outletOf),
    find: (name) => one('name', name),
    get: (outletNo) => one('outlet_no', outletNo),
    setState: (outletNo, state) =>
      void db.statement('UPDATE outlet SET state = ?, next_try_at = NULL WHERE outlet_no = ?').run(state, outletNo),
    rewind: (outletNo, cursor) =>
      void db
        .statement('UPDATE outlet SET cursor_seq = ?, next_try_at = NULL WHERE outlet_no = ?')
        .run(cursor, outletNo),
    offer: (outletNo, upTo, passedOver) =>
      db.write(() => {
        for (const { reading, version } of passedOver) addGap.run(outletNo, reading, version);
        db.statement('UPDATE outlet SET offered_seq = :upTo WHERE outlet_no = :no AND offered_seq < :upTo').run({
          no: outletNo,
          upTo,
        });
      }),
    settle: ({ outletNo, from, to, taken, refused, dropped, at }) =>
      db.write(() => {
        const isThere = one('outlet_no', outletNo) !== undefined;
        if (!isThere) return;
        const hasAside = countAside(outletNo) > 0;
        for (const { reading, version } of hasAside ? [...taken, ...dropped] : []) {
          db.statement('DELETE FROM set_aside WHERE outlet_no = ? AND reading_id = ?').run(outletNo, reading);
          dropGap.run(outletNo, reading, version);
        }
        for (const { reading, version, seq, reason } of refused) {
          refuse.run({ no: outletNo, reading, seq, version, reason, at });
          addGap.run(outletNo, reading, version);
        }
        db.statement('UPDATE outlet SET cursor_seq = :to WHERE outlet_no = :no AND cursor_seq = :from').run({
          no: outletNo,
          from,
          to,
        });
        // A newer version has taken the place of one that was refused.
        if (hasAside)
          db.statement(
            `DELETE FROM set_aside WHERE outlet_no = :no AND EXISTS (SELECT 1 FROM outgoing o
              WHERE o.reading_id = set_aside.reading_id AND o.version > set_aside.version AND o.seq <= :to)`,
          ).run({ no: outletNo, to });
        recovered(outletNo);
        if (taken.length > 0)
          db.statement('UPDATE outlet SET sent_at = ?, sent_count = sent_count + ? WHERE outlet_no = ?').run(
            at,
            taken.length,
            outletNo,
          );
      }),
    fail: (outletNo, { code, message, hint, at }, nextTryAt) =>
      void db
        .statement(
          `UPDATE outlet SET failures = failures + 1, next_try_at = :next, error_hint = :hint, error_message = :message,
            error_at = CASE WHEN error_code = :code THEN error_at ELSE :at END, error_code = :code WHERE outlet_no = :no`,
        )
        .run({ no: outletNo, next: nextTryAt, code, message, hint, at }),
    setAside: (outletNo) =>
      asideRows(outletNo).map((r) => ({
        seq: r.seq,
        reading: r.reading_id,
        version: r.version,
        reason: r.reason,
        at: instant(r.at),
        tries: r.tries,
        again: r.again === 1,
      })),
    tryAgain: (outletNo) =>
      db.statement('UPDATE set_aside SET again = ? WHERE outlet_no = ?').run(truth(true), outletNo),
    recovered,
    gaps: (outletNo, readings) =>
      new Set(
        db
          .statement<{ reading_id: ReadingId; version: number }>(
            `SELECT g.reading_id, g.version FROM json_each(?) w
              JOIN outlet_gap g ON g.outlet_no = ? AND g.reading_id = w.value`,
          )
          .all(JSON.stringify(readings), outletNo)
          .map((r) => versionKey(r.reading_id, r.version)),
      ),
    lag(outlet) {
      const oldest = db
        .statement<{ at: number }>('SELECT at FROM outgoing WHERE seq > ? ORDER BY seq LIMIT 1')
        .get(outlet.cursor);
      return {
        waiting: Math.max(0, lastSeq() - outlet.cursor),
        ...(oldest === undefined ? {} : { oldestAt: instant(oldest.at) }),
        setAside: countAside(outlet.outletNo),
      };
    },
    dayZero(outletNo, subject, day) {
      const known = db
        .statement<{ day: number }>('SELECT day FROM outlet_day_zero WHERE outlet_no = ? AND subject = ?')
        .get(outletNo, subject);
      if (known) return known.day;
      db.statement('INSERT INTO outlet_day_zero VALUES (?, ?, ?)').run(outletNo, subject, day);
      return day;
    },
  };
}
