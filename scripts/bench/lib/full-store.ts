/**
 * A store full of judged readings, made by SQL alone: as many as a head office would be sent after a first start. Each
 * meter was read once, with all its tests in its memory; their person has it on loan.
 */
import { instant } from '../../../src/core/instant.ts';
import { openStore } from '../../../src/store/open-store.ts';

const DAY_MS = 86_400_000;
const NEWEST = Date.UTC(2026, 2, 2);

/**
 * Fills a folder with a store of so many readings, each with INR and PT, `each` of every meter: one test a day, the
 * newest of each meter yesterday.
 */
export function fillStore(dir: string, readings: number, each = 200): void {
  const taken = `${NEWEST} - (${each} - n % ${each}) * ${DAY_MS}`;
  const id = `'D' || (n / ${each} + 1) || '-' || (n % ${each} + 1)`;
  const store = openStore({ dir, now: instant(NEWEST) });
  const meters = Math.ceil(readings / each);
  const per = (count: number, sql: string): void =>
    store.db.script(`WITH RECURSIVE i (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM i WHERE n < ${count - 1}) ${sql}`);
  store.db.script('BEGIN; PRAGMA defer_foreign_keys = ON');
  per(
    meters,
    `INSERT INTO capture (capture_no, source, port, profile, zone, opened_at, closed_at, sha256, arrival)
      SELECT n + 1, 'live', 'COM3', 'tlp-generic', 'Europe/Lisbon', ${NEWEST}, ${NEWEST}, 'x' || n, n + 1 FROM i`,
  );
  per(meters, `INSERT INTO meter SELECT n + 1, printf('PA%05d', n), 'GM-10', '1.0', 'newest', ${each} FROM i`);
  per(
    meters,
    `INSERT INTO download (download_id, capture_no, ordinal, meter_no, at, until, protocol, profile, zone, port, complete,
        bytes, damaged_lines, retries, duration_ms, clock_off_s, clock_set, new_count, known_count, vanished,
        possibly_lost, run_restarted, doubtful)
      SELECT 'D' || (n + 1), n + 1, 0, n + 1, ${NEWEST}, ${NEWEST} + 9000, 'line', 'tlp-generic', 'Europe/Lisbon', 'COM3',
        1, 20000, 0, 0, 9000, 3, 0, ${each}, 0, 0, 0, 0, 0 FROM i`,
  );
  per(
    meters,
    `INSERT INTO patient (patient_id, name, birth_year, added_at)
      SELECT printf('ALDER-%04d', n), 'Nobody Number ' || n, 1930 + n % 60, ${NEWEST} FROM i`,
  );
  store.db.script(`INSERT INTO target (patient_no, from_ms, low, high, set_by, set_at)
    SELECT patient_no, 0, '2.0', '3.0', 'rosa', ${NEWEST} FROM patient`);
  per(
    readings,
    `INSERT INTO reading (reading_id, meter_no, position, first_download, earliest_download, place, slot, meter_time, kind,
        lot, operator, flags, status)
      SELECT ${id}, n / ${each} + 1, n % ${each}, 'D' || (n / ${each} + 1), 'D' || (n / ${each} + 1),
        n % ${each} + 1, n % ${each} + 1, strftime('%Y-%m-%dT%H:%M:%S', (${taken}) / 1000, 'unixepoch'), 'patient',
        '4471903', 'rosa', '', 'settled' FROM i`,
  );
  per(
    readings,
    `INSERT INTO reading_value SELECT ${id}, 0, 'INR', printf('%.1f', 1.5 + n % 30 / 10.0), '{INR}' FROM i`,
  );
  per(readings, `INSERT INTO reading_value SELECT ${id}, 1, 'PT', printf('%.1f', 15 + n % 300 / 10.0), 's' FROM i`);
  per(
    readings,
    `INSERT INTO placement SELECT ${id}, 1, ${taken}, ${taken} - 30000, ${taken} + 30000, 'interpolated',
      'Its clock was read before and after the test.', '', 'D' || (n / ${each} + 1) FROM i`,
  );
  per(
    readings,
    `INSERT INTO judged (reading_id, version, meter_no, kind, patient_no, basis, status, holds, taken_at, earliest, latest,
        lot, analyte, value, standing, digest)
      SELECT ${id}, 1, n / ${each} + 1, 'patient', n / ${each} + 1, 'lent', 'settled', '[]', ${taken},
        ${taken} - 30000, ${taken} + 30000, '4471903', 'INR', 1.5 + n % 30 / 10.0, 'in', 'x' FROM i`,
  );
  per(
    readings,
    `INSERT INTO outgoing (reading_id, version, at, status, patient_no)
      SELECT ${id}, 1, ${NEWEST}, 'settled', n / ${each} + 1 FROM i`,
  );
  store.db.script('COMMIT');
  store.close();
}
