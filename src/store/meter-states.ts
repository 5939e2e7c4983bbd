/**
 * What the intake needs to know of each meter to go on where it stopped: its memory (for settling) and its clock (for
 * placing). The JSON is the intake's: the store does not look into it.
 */
import type { Database } from './database.ts';

export interface MeterStates {
  /** The JSON last put for a meter. */
  get(meterNo: number): string | undefined;
  put(meterNo: number, json: string): void;
}

const makeStates = (db: Database, table: 'memory_state' | 'clock_state'): MeterStates => ({
  get: (meterNo) =>
    db.statement<{ state: string }>(`SELECT state FROM ${table} WHERE meter_no = ?`).get(meterNo)?.state,
  put: (meterNo, json) =>
    void db
      .statement(`INSERT INTO ${table} VALUES (?, ?) ON CONFLICT (meter_no) DO UPDATE SET state = excluded.state`)
      .run(meterNo, json),
});

/** The memory states of a store. */
export const makeMemoryStates = (db: Database): MeterStates => makeStates(db, 'memory_state');
/** The clock states of a store. */
export const makeClockStates = (db: Database): MeterStates => makeStates(db, 'clock_state');
