/** A store of a large clinic, made by SQL alone: people with targets and so many weekly values each up to a month's end. */
import { instant } from '../../../src/core/instant.ts';
import { openStore } from '../../../src/store/open-store.ts';

const DAY_MS = 86_400_000;
/** The moment for which the report is made: in April, so that March is the month. */
export const MONTH_NOW = Date.UTC(2026, 3, 1, 10);

/** Fills a folder with a store. Readings are numbered across people, as meters bring them in: not person by person. */
export function fillMonthStore(dir: string, people: number, testsEach: number): void {
  const store = openStore({ dir, now: instant(MONTH_NOW) });
  const per = (count: number, sql: string): void =>
    store.db.script(`WITH RECURSIVE i (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM i WHERE n < ${count - 1}) ${sql}`);
  // A whole number that looks like chance and is the same each time (Knuth's multiplicative hash; from memory).
  const mixed = '((n * 2654435761) % 4294967296 / 65536)';
  const taken = `${MONTH_NOW} - (${testsEach} - n / ${people}) * ${7 * DAY_MS} + ${mixed} * 2000`;
  const value = `1.4 + ${mixed} % 25 / 10.0`;
  store.db.script('BEGIN');
  per(
    people,
    `INSERT INTO patient (patient_id, name, birth_year, plan_days, added_at)
      SELECT printf('ALDER-%05d', n), 'Nobody Number ' || n, 1930 + n % 60, 7, ${MONTH_NOW} FROM i`,
  );
  store.db.script(`INSERT INTO target (patient_no, from_ms, low, high, set_by, set_at)
    SELECT patient_no, 0, '2.0', '3.0', 'Tamsin', ${MONTH_NOW} FROM patient`);
  per(
    people * testsEach,
    `INSERT INTO judged (reading_id, version, meter_no, kind, patient_no, basis, status, holds, taken_at, earliest, latest,
        lot, analyte, value, standing, digest)
      SELECT 'D' || (n / 40 + 1) || '-' || (n % 40 + 1), 1, n % ${people} + 1, 'patient', n % ${people} + 1, 'lent',
        CASE WHEN n % 199 = 7 THEN 'held' ELSE 'settled' END,
        CASE WHEN n % 199 = 7 THEN '[{"code":"value-implausible","sentence":"It lies far off.","isReleased":false}]' ELSE '[]' END,
        ${taken}, ${taken} - 60000, ${taken} + 60000, '1200003', 'INR', ${value},
        CASE WHEN ${value} < 1.5 THEN 'critical-low' WHEN ${value} < 2 THEN 'below' WHEN ${value} <= 3 THEN 'in' ELSE 'above' END,
        'd41d8cd98f00b204e9800998ecf8427ed41d8cd98f00b204e9800998ecf8427e' FROM i`,
  );
  store.db.script('COMMIT');
  store.close();
}
