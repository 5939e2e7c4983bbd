/** The CSV row is a contract: columns, rounding, one row for each value, and cells that no spreadsheet runs. */
import { describe, expect, it } from 'vitest';
import { CSV_COLUMNS, csvHeader, csvRows, textCell } from '../../../src/outlets/csv/csv-row.ts';
import { exampleReading } from '../../support/exported-readings.ts';

/** Cells of rows without quotes. */
const cells = (text: string) =>
  text
    .trimEnd()
    .split('\r\n')
    .map((line) => line.split(','));
const cell = (text: string, column: (typeof CSV_COLUMNS)[number]) => cells(text)[0]?.[CSV_COLUMNS.indexOf(column)];

describe('the CSV export', () => {
  it('begins with the columns of the contract in their order', () => {
    expect(csvHeader()).toBe(
      'reading_id,meter_id,meter_model,patient_id,kind,analyte,value,unit,slot,run_number,meter_time,taken_at,earliest,latest,time_basis,flags,lot,lot_expiry,operator,status,first_download,downloaded_at\r\n',
    );
  });

  it('writes a reading with its time to the second: the earliest down, the latest up', () => {
    expect(csvRows(exampleReading())).toBe(
      'D17-3,PA00042,GM-10,P-007,patient,INR,2.60,{INR},3,210,2026-03-01T18:55,2026-03-01T18:55:00Z,2026-03-01T18:54:28Z,2026-03-01T18:55:32Z,interpolated,lo single-read,1200003,2027-01,rosa,settled,D17,2026-03-02T10:15:00Z\r\n',
    );
  });

  it('writes one row for each value, in the order of the meter', () => {
    const values = [
      { analyte: 'INR', value: '>8.0', unit: '{INR}' },
      { analyte: 'PT', value: '92.1', unit: 's' },
    ];
    const rows = cells(csvRows(exampleReading({ values })));
    expect(rows.map((row) => row.slice(5, 8))).toEqual([
      ['INR', '>8.0', '{INR}'],
      ['PT', '92.1', 's'],
    ]);
    expect(rows[0]?.[0]).toBe(rows[1]?.[0]);
  });

  it('writes an error test as one row without a value, its code among the flags', () => {
    const text = csvRows(exampleReading({ kind: 'error', values: [], errorCode: 'E 6' }, { flags: ['tmp'] }));
    expect(cells(text)).toHaveLength(1);
    expect(['kind', 'analyte', 'value', 'unit'].map((c) => cell(text, c as 'kind'))).toEqual(['error', '', '', '']);
    expect(cell(text, 'flags')).toBe('tmp error:E_6');
  });

  it('leaves empty what is not known', () => {
    const bare = exampleReading(
      { meterTimeText: '', values: [{ analyte: 'INR', value: '2.6', unit: '' }], flags: [] },
      { placement: { basis: 'bounded', reason: 'x', flags: [] }, flags: [] },
    );
    const { slot: _s, runNumber: _r, lot: _l, lotExpiry: _e, operator: _o, patientId: _p, ...record } = bare.record;
    expect(csvRows({ ...bare, record })).toBe(
      'D17-3,PA00042,GM-10,,patient,INR,2.6,,,,,,,,bounded,,,,,settled,D17,2026-03-02T10:15:00Z\r\n',
    );
  });

  it.each([
    ['=1+1', "'=1+1"],
    ['+4479', "'+4479"],
    ['-4', "'-4"],
    ['@name', "'@name"],
    ['\tx', "'\tx"],
    ['\rx', '"\'\rx"'],
    ['a=b', 'a=b'],
    ['P-007', 'P-007'],
    ['Say "hi", Rosa', '"Say ""hi"", Rosa"'],
  ])('writes the text %j as %j, which no spreadsheet takes for a formula', (text, written) => {
    expect(textCell(text)).toBe(written);
  });

  it.each([
    ['-1.5', '-1.5'],
    ['+0.30', '+0.30'],
    ['<-2', '<-2'],
    ['>8.0', '>8.0'],
    ['=2+3', "'=2+3"],
    ['-cmd', "'-cmd"],
  ])('keeps a decimal value to the letter but makes a text in its place harmless: %s', (value, written) => {
    expect(cell(csvRows(exampleReading({ values: [{ analyte: 'INR', value, unit: '' }] })), 'value')).toBe(written);
  });
});
