/** What settling needs to know of each meter's memory. The JSON is the intake's: the store does not look into it. */
import type { Database } from './database.ts';

export interface MemoryStates {
  /** The JSON last put for a meter. */
  get(meterNo: number): string | undefined;
  put(meterNo: number, json: string): void;
}

/** The memory states of a store. */
export function makeMemoryStates(db: Database): MemoryStates {
  return {
    get: (meterNo) =>
      db.statement<{ state: string }>('SELECT state FROM memory_state WHERE meter_no = ?').get(meterNo)?.state,
    put: (meterNo, json) =>
      void db
        .statement('INSERT INTO memory_state VALUES (?, ?) ON CONFLICT (meter_no) DO UPDATE SET state = excluded.state')
        .run(meterNo, json),
  };
}
