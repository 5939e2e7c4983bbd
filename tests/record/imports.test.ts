/** Tables as people really export them: marks, line ends, separators, and what happens when one is imported again. */
import { describe, expect, it } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import { importLabValues } from '../../src/record/imports/lab-values.ts';
import { importPatients } from '../../src/record/imports/patients.ts';
import { readTable, type TableRow } from '../../src/record/imports/table.ts';
import { lendMeter, takeBack } from '../../src/record/lending.ts';
import { addPatient } from '../../src/record/people.ts';
import { tempStore } from '../store/temp-store.ts';

const T0 = Date.UTC(2026, 0, 10, 9, 0, 0);
const DAY = 86_400_000;
const context = { now: instant(T0 + 60 * DAY), by: 'Tamsin', policy: DEFAULT_POLICY };
const options = { file: 'people.csv', zone: 'Europe/Lisbon', isDryRun: false };
const bytes = (text: string) => new TextEncoder().encode(text);
const rowsOf = (text: string | Uint8Array): readonly TableRow[] =>
  readTable(
    typeof text === 'string' ? bytes(text) : text,
    'people.csv',
    ['patient_id', 'name', 'notes'],
    ['patient_id'],
  );

describe('a table', () => {
  it.each(['\n', '\r\n', '\r'])('names the line on which each row begins, with line ends %j', (end) => {
    const lines = ['\ufeffpatient_id;name', '', 'A;"one', 'two"', ';', 'B;', '', '', 'C;x'];
    expect(rowsOf(lines.join(end))).toEqual([
      { line: 3, cells: { patient_id: 'A', name: 'one\ntwo' } },
      { line: 6, cells: { patient_id: 'B' } },
      { line: 9, cells: { patient_id: 'C', name: 'x' } },
    ]);
  });

  it('may have separators at the ends of its lines, and its header after empty lines', () => {
    expect(rowsOf('\n\nPatient ID;Name;;\nA;x;;\n;;;\n')).toEqual([{ line: 4, cells: { patient_id: 'A', name: 'x' } }]);
    expect(() => rowsOf('patient_id;;\nA;x;\n')).toThrow(/no column ""/);
  });

  it('may be of Windows-1252', () => {
    const name = Uint8Array.of(0x4a, 0xfc, 0x72, 0x67);
    expect(rowsOf(Uint8Array.of(...bytes('patient_id,name\nA,'), ...name))[0]?.cells['name']).toBe('Jürg');
  });

  it('with a cell too few, or a quote that is not closed, is refused with its line', () => {
    expect(() => rowsOf('patient_id,name\r\n\r\nA,x\r\nB\r\n')).toThrow(/line 4/);
    expect(() => rowsOf('patient_id,name\nA,"x\nB,y\n')).toThrow(/is not a table/);
  });

  it('that is longer than its reader can wait for is refused whole, and one just as long is not', () => {
    const rows = (count: number) =>
      bytes(`patient_id\n${Array.from({ length: count }, (_, i) => `A${i}\n\n`).join('')}`);
    const read = (count: number) => readTable(rows(count), 'people.csv', ['patient_id'], ['patient_id'], 20);
    expect(
      read(20)
        .map(({ line, cells }) => [line, cells['patient_id']])
        .at(-1),
    ).toEqual([40, 'A19']);
    expect(() => read(21)).toThrow('people.csv has more than 20 rows; nothing was taken over');
    expect(() => read(1000)).toThrow('more than 20 rows');
  });
});

describe('people from a table', () => {
  it('are not lent a meter again that has come back', () => {
    const store = tempStore();
    const table = bytes('patient_id,meter\nA,M1\n');
    importPatients(store, context, table, options);
    takeBack(store, { ...context, now: instant(context.now + DAY) }, 'M1', instant(context.now + DAY));
    expect(() => importPatients(store, { ...context, now: instant(context.now + 2 * DAY) }, table, options)).toThrow(
      /line 2: meter M1 has come back from A/,
    );
    expect(store.lends.list().filter((l) => l.to === undefined)).toEqual([]);
  });

  it('stay as they were where the lend of a row is known, also once it has ended', () => {
    const store = tempStore();
    const table = bytes('patient_id,meter,meter_from\nA,M1,2026-01-10\n');
    importPatients(store, context, table, options);
    takeBack(store, context, 'M1', instant(T0 + 20 * DAY));
    expect(importPatients(store, context, table, options).map((f) => f.fate)).toEqual(['known']);
    lendMeter(store, context, { meterId: 'M1', patientId: 'A', from: instant(T0 + 30 * DAY) });
    expect(importPatients(store, context, table, options).map((f) => f.fate)).toEqual(['known']);
  });

  it('changes nothing in a dry run, nor with one wrong row', () => {
    const store = tempStore();
    const count = () => [store.patients.count(), store.audit.list().length, store.lends.list().length];
    const before = count();
    const good = bytes('patient_id;target_low;target_high;meter\nA;2,0;3,0;M1\n');
    expect(importPatients(store, context, good, { ...options, isDryRun: true })).toMatchObject([
      { line: 2, subject: 'A', fate: 'added' },
    ]);
    expect(count()).toEqual(before);
    const wrong = bytes('patient_id;target_low;target_high\nA;2,0;3,0\nB;3,0;2,0\n');
    expect(() => importPatients(store, context, wrong, options)).toThrow(/line 3: 3.0 to 2.0 is no target range/);
    expect(count()).toEqual(before);
    importPatients(store, context, good, options);
    expect(store.patients.targets(1)).toMatchObject([{ low: '2.0', high: '3.0' }]);
  });
});

describe('values of the laboratory from a table', () => {
  it('are read with a decimal comma and with the analyte in small letters', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    importLabValues(store, context, bytes('time;patient_id;value;analyte\n2026-01-10 09:40;A;2,6;inr\n'), options);
    expect(store.labValues.list()).toMatchObject([{ analyte: 'INR', value: '2.6' }]);
  });
});
