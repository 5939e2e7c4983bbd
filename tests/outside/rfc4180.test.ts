/**
 * The CSV export read back by an independent parser (csv-parse, in its strict mode), against RFC 4180 section 2: CRLF
 * after every record, the same number of fields in each, quotes doubled. Whatever stands in a cell comes back, with at
 * most the apostrophe in front that keeps a spreadsheet from running it.
 */
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CSV_COLUMNS, csvHeader, csvRows } from '../../src/outlets/csv/csv-row.ts';
import { exampleReading, nastyText } from '../support/exported-readings.ts';

const seed = Number(process.env['SEED'] ?? 20260301);

/** Strict: CRLF only, no trimming, every record as long as the header. */
const read = (text: string): Record<string, string>[] =>
  parse(text, { columns: true, record_delimiter: '\r\n', relax_quotes: false, relax_column_count: false, bom: false });

const isSafe = (cell: string): boolean => !/^[-+=@\t\r]/.test(cell) || /^[+-]\d+(\.\d+)?$/.test(cell);

const nastyReading = fc.record({
  patientId: nastyText,
  lot: nastyText,
  operator: nastyText,
  unit: nastyText,
  value: nastyText,
  analyte: nastyText,
});

describe('an independent parser of RFC 4180', () => {
  it(`reads back every cell, whatever stands in it (SEED=${seed})`, () => {
    fc.assert(
      fc.property(fc.array(nastyReading, { minLength: 1, maxLength: 5 }), (list) => {
        const text = csvHeader() + list.map(exportOf).join('');
        const rows = read(text);
        expect(rows).toHaveLength(list.length);
        rows.forEach((row, i) => {
          const given = list[i];
          expect(Object.keys(row)).toEqual([...CSV_COLUMNS]);
          for (const [column, wanted] of Object.entries({
            patient_id: given?.patientId,
            lot: given?.lot,
            operator: given?.operator,
            unit: given?.unit,
            value: given?.value,
            analyte: given?.analyte,
          })) {
            const cell = row[column] ?? 'absent';
            expect([wanted, `'${wanted}`]).toContain(cell);
            expect(isSafe(cell), `${column} ${JSON.stringify(cell)}`).toBe(true);
          }
        });
      }),
      { seed, numRuns: 500 },
    );
  });

  it('finds CRLF at the end of every record, the last one too', () => {
    const text = csvHeader() + csvRows(exampleReading()) + csvRows(exampleReading());
    expect(text.split('\r\n')).toHaveLength(4);
    expect(text.endsWith('\r\n')).toBe(true);
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
  });

  it('refuses a file in which a record is short of a field, so it is a check that can fail', () => {
    expect(() => read(csvHeader() + csvRows(exampleReading()).replace('D17-3,', ''))).toThrow();
  });
});

function exportOf(cells: Record<'patientId' | 'lot' | 'operator' | 'unit' | 'value' | 'analyte', string>): string {
  const { unit, value, analyte, ...record } = cells;
  return csvRows(exampleReading({ ...record, values: [{ analyte, value, unit }] }));
}
