/** The meters that were ever read. */
import type { Download, MemoryOrder, MeterIdentity } from '../core/download.ts';
import { Fault } from '../core/fault.ts';
import type { Database } from './database.ts';

/** A meter as the store knows it; firmware, order and capacity as in its newest download. */
export interface StoredMeter extends MeterIdentity {
  /** Number in this store. */
  readonly meterNo: number;
  readonly order: MemoryOrder;
  readonly capacity?: number;
}

export interface Meters {
  find(meter: Pick<MeterIdentity, 'id' | 'model'>): StoredMeter | undefined;
  /** Throws INTERNAL for a number that was never given. */
  byNumber(meterNo: number): StoredMeter;
  /** All meters by model and serial number; with `id`, those with that serial number. */
  list(id?: string): StoredMeter[];
  /** Notes the meter of a download if it is not known; gives it. */
  ensure(download: Download): StoredMeter;
  /** Takes firmware, order and capacity over from the meter's newest download. Writes only what differs. */
  refresh(meter: StoredMeter, newest: Download): void;
}

interface MeterRow {
  meter_no: number;
  meter_id: string;
  model: string;
  firmware: string | null;
  memory_order: MemoryOrder;
  capacity: number | null;
}

const meterOf = (r: MeterRow): StoredMeter => ({
  meterNo: r.meter_no,
  id: r.meter_id,
  model: r.model,
  ...(r.firmware === null ? {} : { firmware: r.firmware }),
  order: r.memory_order,
  ...(r.capacity === null ? {} : { capacity: r.capacity }),
});

/** The meters of a store. */
export function makeMeters(db: Database): Meters {
  const find: Meters['find'] = ({ id, model }) => {
    const row = db.statement<MeterRow>('SELECT * FROM meter WHERE model = ? AND meter_id = ?').get(model, id);
    return row && meterOf(row);
  };
  return {
    find,
    byNumber(meterNo) {
      const row = db.statement<MeterRow>('SELECT * FROM meter WHERE meter_no = ?').get(meterNo);
      if (!row) throw new Fault('INTERNAL', `There is no meter number ${meterNo}`, 'Please report this.');
      return meterOf(row);
    },
    list: (id) =>
      db
        .statement<MeterRow>('SELECT * FROM meter WHERE :id IS NULL OR meter_id = :id ORDER BY model, meter_id')
        .all({ id: id ?? null })
        .map(meterOf),
    ensure(download) {
      const known = find(download.meter);
      if (known) return known;
      const { id, model, firmware } = download.meter;
      const made = db
        .statement<MeterRow>(
          'INSERT INTO meter (meter_id, model, firmware, memory_order, capacity) VALUES (?, ?, ?, ?, ?) RETURNING *',
        )
        .get(id, model, firmware ?? null, download.order, download.capacity ?? null);
      if (!made) throw new Fault('INTERNAL', 'The store gave no number to a meter', 'Please report this.');
      return meterOf(made);
    },
    refresh(meter, newest) {
      const firmware = newest.meter.firmware ?? null;
      const capacity = newest.capacity ?? null;
      db.statement(
        `UPDATE meter SET firmware = :firmware, memory_order = :order, capacity = :capacity WHERE meter_no = :no
          AND (firmware IS NOT :firmware OR memory_order <> :order OR capacity IS NOT :capacity)`,
      ).run({ no: meter.meterNo, firmware, order: newest.order, capacity });
    },
  };
}
