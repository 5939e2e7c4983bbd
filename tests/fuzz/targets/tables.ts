/** The tables that people import: people, appointments, the laboratory's values. Into a real store, always undone. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DEFAULT_POLICY } from '../../../src/clinic/rules/policy.ts';
import { Fault } from '../../../src/core/fault.ts';
import { instant } from '../../../src/core/instant.ts';
import type { RecordContext } from '../../../src/record/context.ts';
import { importAppointments } from '../../../src/record/imports/appointments.ts';
import type { ImportOptions } from '../../../src/record/imports/import-rows.ts';
import { importLabValues } from '../../../src/record/imports/lab-values.ts';
import { importPatients } from '../../../src/record/imports/patients.ts';
import type { RowFate } from '../../../src/record/imports/table.ts';
import { addPatient } from '../../../src/record/people.ts';
import { openStore } from '../../../src/store/open-store.ts';
import type { Store } from '../../../src/store/store.ts';
import { T0 } from '../drive-talk.ts';
import { promise, type Target } from '../target.ts';

type Import = (store: Store, context: RecordContext, bytes: Uint8Array, options: ImportOptions) => readonly RowFate[];

const CONTEXT: RecordContext = { now: instant(T0), by: 'Tamsin', policy: DEFAULT_POLICY };
const OPTIONS: ImportOptions = { file: 'table.csv', zone: 'Europe/Lisbon', isDryRun: true };
const WORDS = [
  ...['patient_id', 'name', 'time', 'value', 'PA-1', 'PA-2', ',', ';', '"', '""', '\r\n', '\n', '2026-03-02 10:15'],
  ...['2026-03-29T01:30', '02.03.2026', '2.4', '2,4', '-2.4', '=1+1', '__proto__', 'constructor', '\xef\xbb\xbf', '\0'],
];

let made: { readonly store: Store; readonly dir: string } | undefined;
/** One store for all, made when the first table is tried; two people are in it. */
function storeOfAll(): Store {
  if (made) return made.store;
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-fuzz-'));
  const store = openStore({ dir, now: instant(T0) });
  for (const id of ['PA-1', 'PA-2']) addPatient(store, CONTEXT, { id, name: `${id} of Port Alder` });
  made = { store, dir };
  return store;
}

async function closeStore(): Promise<void> {
  if (!made) return;
  made.store.close();
  rmSync(made.dir, { recursive: true, force: true });
  made = undefined;
}

const table = (name: string, take: Import, corpus: readonly string[]): Target => ({
  name,
  corpus,
  words: WORDS,
  close: closeStore,
  check(bytes) {
    const store = storeOfAll();
    let fates: readonly RowFate[];
    try {
      fates = take(store, CONTEXT, bytes, OPTIONS);
    } catch (thrown) {
      if (!(thrown instanceof Fault)) throw thrown;
      promise(thrown.code === 'IMPORT_WRONG', `a table that is none is IMPORT_WRONG and not ${thrown.code}`);
      promise(thrown.message.startsWith('table.csv'), 'the fault names the file');
      return;
    }
    let line = 1;
    for (const fate of fates) {
      promise(fate.line > line, 'each row begins on a later line than the one before');
      line = fate.line;
      promise(fate.fate !== 'wrong' || fate.detail !== '', 'a wrong row has its reason');
    }
    promise(store.patients.list().length === 2, 'a trial changes nothing');
  },
});

/** All targets of tables. */
export const tableTargets: readonly Target[] = [
  table('csv-people', importPatients, [
    'patient_id,name,birth_year,reason,notes,plan_days,since,target_low,target_high\nPA-3,Ines Corvo,1950,valve,,7,2026-01-02,2.0,3.0\nPA-1,Tom,1961,,,14,,2,3\n',
    '\xef\xbb\xbfpatient_id;name;notes\r\nPA-4;"two\r\nlines";x\r\nPA-2;y;""\r\n',
    'patient_id,target_low,target_high,target_from\nPA-1,"2,5","3,5",2026-02-01\n',
    'Patient ID,Meter,Meter-from\nPA-1,SN00042,2026-02-01\nPA-2,SN00043,\n',
  ]),
  table('csv-appointments', importAppointments, [
    'time,patient_id\n2026-03-02 10:15,PA-1\n2026-03-02T10:30,PA-2\n',
    'patient_id;time\r\nPA-1;2026-03-29 01:30\r\nPA-9;2026-03-02\r\n',
  ]),
  table('csv-laboratory', importLabValues, [
    'time,patient_id,value,analyte,laboratory\n2026-03-01 08:00,PA-1,2.4,INR,Harbour Laboratory\n2026-03-01 09:00,PA-2,3.1,,\n',
    'time;patient_id;value\n2026-02-01 08:00;PA-1;2,4\n2026-02-01 08:00;PA-1;2,4\n',
  ]),
];
