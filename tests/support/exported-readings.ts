/** Readings as the CSV export sees them, for tests: one plain example to vary, and generated ones with nasty cells. */
import fc from 'fast-check';
import { instant } from '../../src/core/instant.ts';
import { downloadId, readingId, type TestRecord } from '../../src/core/reading.ts';
import type { ExportedReading } from '../../src/outlets/csv/csv-row.ts';

/** A control-free INR test of an invented meter, placed between two anchors. */
export function exampleReading(
  record: Partial<TestRecord> = {},
  rest: Partial<Omit<ExportedReading, 'record'>> = {},
): ExportedReading & { readonly record: TestRecord } {
  return {
    id: readingId(downloadId(17, 0), '3'),
    meter: { id: 'PA00042', model: 'GM-10' },
    record: {
      place: '3',
      slot: 3,
      runNumber: 210,
      meterTimeText: '2026-03-01T18:55',
      kind: 'patient',
      values: [{ analyte: 'INR', value: '2.60', unit: '{INR}' }],
      lot: '1200003',
      lotExpiry: '2027-01',
      operator: 'rosa',
      patientId: 'P-007',
      flags: [],
      ...record,
    },
    shown: 'settled',
    placement: {
      takenAt: instant(Date.UTC(2026, 2, 1, 18, 54, 59, 500)),
      earliest: instant(Date.UTC(2026, 2, 1, 18, 54, 28, 999)),
      latest: instant(Date.UTC(2026, 2, 1, 18, 55, 31, 1)),
      basis: 'interpolated',
      reason: 'Its epoch lies between two downloads.',
      flags: [],
    },
    flags: ['lo', 'single-read'],
    firstDownload: downloadId(17, 0),
    downloadedAt: instant(Date.UTC(2026, 2, 2, 10, 15, 0, 750)),
    ...rest,
  };
}

/** Any text that a meter, a person or a mistake could leave in a cell. */
export const nastyText = fc.oneof(
  fc.string({
    unit: fc.constantFrom('"', ',', '\r', '\n', '\t', ' ', "'", '=', '+', '-', '@', ';', 'a', '1', 'é', '漢', '😀'),
  }),
  fc.string({ unit: 'binary' }),
  fc.constantFrom('=1+1', '@SUM(A1)', '-2', '+2', '\t=1', '\r=1', '"', '""', ',', '\r\n', "'", '<1.0', '>8.0', '-1.5'),
);
