/**
 * What the intake needs to know of each meter to go on where it stopped: its memory (for settling) and its clock (for
 * placing). The JSON is the intake's: the store does not look into it.
 */
import type { Database } from './database.ts';

/** A memory state as it is kept: the large part apart from the small one, so that it is written only where it changed. */
export interface StoredMemory {
  readonly standing: string;
  readonly sequence: string;
  readonly seal: string;
}

export interface MemoryStates {
  /** What was last put for a meter. */
  get(meterNo: number): StoredMemory | undefined;
  put(meterNo: number, memory: StoredMemory): void;
}

/** The memory states of a store. */
export function makeMemoryStates(db: Database): MemoryStates {
  return {
    get: (meterNo) =>
      db.statement<StoredMemory>('SELECT standing, sequence, seal FROM memory_state WHERE meter_no = ?').get(meterNo),
    put(meterNo, { standing, sequence, seal }) {
      const isSame = db
        .statement('UPDATE memory_state SET standing = ? WHERE meter_no = ? AND seal = ?')
        .run(standing, meterNo, seal);
      if (isSame > 0) return;
      db.statement(
        `INSERT INTO memory_state VALUES (?, ?, ?, ?) ON CONFLICT (meter_no)
          DO UPDATE SET standing = excluded.standing, sequence = excluded.sequence, seal = excluded.seal`,
      ).run(meterNo, standing, sequence, seal);
    },
  };
}

export interface ClockStates {
  /** The JSON last put for a meter. */
  get(meterNo: number): string | undefined;
  put(meterNo: number, json: string): void;
}

/** The clock states of a store. */
export function makeClockStates(db: Database): ClockStates {
  return {
    get: (meterNo) =>
      db.statement<{ state: string }>('SELECT state FROM clock_state WHERE meter_no = ?').get(meterNo)?.state,
    put: (meterNo, json) =>
      void db
        .statement('INSERT INTO clock_state VALUES (?, ?) ON CONFLICT (meter_no) DO UPDATE SET state = excluded.state')
        .run(meterNo, json),
  };
}
