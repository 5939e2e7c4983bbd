/** A store with people, targets and judged values written straight into their tables: many tests without any captures. */

import { instant } from '../../src/core/instant.ts';
import type { Store } from '../../src/store/store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { tempStore } from '../store/temp-store.ts';

const DAY = 86_400_000;
/** The newest tests lie a little before this. */
export const FILLED_NOW = Date.UTC(2026, 2, 2, 10);

/** People `ALDER-001` and on, each with so many about weekly INR values up to `FILLED_NOW`, on meter 1. */
export function filledStore(seed: number, people: number, tests: number): Store {
  const store = tempStore();
  const chance = chanceFrom(seed);
  store.db.write(() => {
    store.db
      .statement("INSERT INTO meter (meter_no, meter_id, model, memory_order) VALUES (1, 'PA00001', 'GM-10', 'newest')")
      .run();
    for (let p = 1; p <= people; p++) {
      const id = `ALDER-${String(p).padStart(3, '0')}`;
      store.patients.add(
        { id, birthYear: 1930 + (p % 50), notes: `a note on ${id}`, planDays: 7 },
        instant(FILLED_NOW),
      );
      const low = p % 3 === 0 ? 2.5 : 2;
      for (const [from, add] of [
        [0, 0],
        [FILLED_NOW - 90 * DAY, p % 2 === 0 ? 0.5 : 0],
      ] as const)
        store.db
          .statement('INSERT INTO target (patient_no, from_ms, low, high, set_by, set_at) VALUES (?, ?, ?, ?, ?, ?)')
          .run(p, from, (low + add).toFixed(1), (low + add + 1).toFixed(1), 'Tamsin', FILLED_NOW);
      for (let t = 0; t < tests; t++) {
        const at = Math.round(FILLED_NOW - (tests - t) * 7 * DAY + chance.between(-2 * DAY, 2 * DAY));
        const isError = chance.happens(0.05);
        store.db
          .statement(
            `INSERT INTO judged (reading_id, version, meter_no, kind, patient_no, basis, status, holds, taken_at,
              earliest, latest, lot, analyte, value, standing, digest)
              VALUES (?, 1, 1, ?, ?, 'lent', ?, '[]', ?, ?, ?, '1200003', ?, ?, ?, 'x')`,
          )
          .run(
            `D${p}-${t + 1}`,
            isError ? 'error' : 'patient',
            p,
            chance.happens(0.03) ? 'void' : 'settled',
            at,
            at - 60_000,
            at + 60_000,
            isError ? null : 'INR',
            isError ? null : Math.round(chance.normal(low * 10 + 5, 6)) / 10,
            isError ? null : 'in',
          );
      }
    }
  });
  return store;
}
