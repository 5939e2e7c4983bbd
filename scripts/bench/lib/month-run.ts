/** One run of `npm run bench month` in a process of its own: the report, or the bare SELECT; prints what it came to. */
import { DEFAULT_POLICY } from '../../../src/clinic/rules/policy.ts';
import { instant } from '../../../src/core/instant.ts';
import { gatherMonth } from '../../../src/reports/gather-month.ts';
import { monthPage } from '../../../src/reports/month.ts';
import { openStore } from '../../../src/store/open-store.ts';
import { MONTH_NOW } from './month-store.ts';

const [dir, what] = process.argv.slice(2);
if (dir === undefined) throw new Error('no folder');
const now = instant(MONTH_NOW);
const store = openStore({ dir, now });
const start = process.hrtime.bigint();
let rows = 0;
if (what === 'bare') {
  const read = store.db.statement(
    'SELECT taken_at, earliest, latest, value, beyond FROM judged WHERE patient_no = ? ORDER BY taken_at',
  );
  for (const { patientNo } of store.patients.list()) rows += read.all(patientNo).length;
} else {
  const report = gatherMonth(store, { now, zone: 'Europe/Lisbon', policy: DEFAULT_POLICY });
  if (monthPage(report, 'now').length < 1000 || report.timeInRange.known !== report.people)
    throw new Error(`${report.timeInRange.known} of ${report.people} people have a figure`);
}
const seconds = Number(process.hrtime.bigint() - start) / 1e9;
store.close();
console.log(JSON.stringify({ seconds, rows, peakMb: process.resourceUsage().maxRSS / 1024 }));
