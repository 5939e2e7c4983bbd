/** The work of `tallydock readings`: a table for people or NDJSON, page by page. */
import { formatInstant, formatSeconds, type Instant } from '../core/instant.ts';
import { spanInWords } from '../core/span-words.ts';
import type { ListedReading } from '../store/readings.ts';
import type { CommonOptions } from './common-options.ts';
import type { FilterOptions } from './filter-options.ts';
import { isReaderGone, print } from './output.ts';
import { localMinute } from './plain-time.ts';
import { filterOf } from './reading-filter.ts';
import { makeTable } from './table.ts';
import { withStore } from './with-store.ts';

const CAUTION = 'Not for dosing: results are confirmed and acted on by licensed staff under local policy.\n';

/** Lists the readings that the filter of the call leaves. */
export function listReadings(options: CommonOptions & FilterOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const filter = filterOf(options, zone);
    const table = makeTable(['reading', 'meter', 'patient', `time (${zone})`, 'surely within', 'result', 'marks']);
    let count = 0;
    for (const page of store.readings.pages(filter)) {
      count += page.length;
      await print(
        options.json
          ? page.map((reading) => `${JSON.stringify(readingJson(reading))}\n`).join('')
          : table.rows(page.map((reading) => readingCells(reading, zone))),
      );
      if (isReaderGone()) return;
    }
    if (options.json) return;
    await print(count === 0 ? 'No readings.\n' : `${count} ${count === 1 ? 'reading' : 'readings'}\n`);
    if (!options.quiet) await print(CAUTION);
  });
}

function readingCells(reading: ListedReading, zone: string): string[] {
  const { placement, record } = reading;
  const time = placement?.takenAt === undefined ? 'unknown' : localMinute(placement.takenAt, zone);
  return [
    reading.id,
    reading.meter.id,
    reading.person?.id ?? record.patientId ?? '',
    time,
    surelyWithin(reading),
    resultText(reading),
    marksText(reading),
  ];
}

/** How far the true moment can lie from the estimate, on the wider side; open where a bound is missing. */
function surelyWithin({ placement }: ListedReading): string {
  if (placement?.takenAt === undefined || placement.earliest === undefined || placement.latest === undefined)
    return 'open';
  return spanInWords(Math.max(placement.takenAt - placement.earliest, placement.latest - placement.takenAt) / 1000);
}

/** `INR 2.6, PT 29.9 s`, or `error E6`. */
export function resultText({ record }: Pick<ListedReading, 'record'>): string {
  if (record.kind === 'error') return `error ${record.errorCode ?? ''}`.trimEnd();
  // {INR} and its kind are unit names of UCUM for "no unit": people do not write them.
  return record.values
    .map((v) => `${v.analyte} ${v.value} ${v.unit.startsWith('{') ? '' : v.unit}`.trimEnd())
    .join(', ');
}

/** What is special about it, in words: a control test, a status that is not the usual one, flags. */
function marksText({ record, shown, flags }: ListedReading): string {
  return [record.kind === 'control' ? 'control' : '', shown === 'settled' ? '' : shown, ...flags]
    .filter(Boolean)
    .join(' ');
}

/** One row of NDJSON. Names as in the CSV; values and flags as lists; absent facts are null. */
export function readingJson(reading: ListedReading): Record<string, unknown> {
  const { record, placement } = reading;
  const bound = (at: Instant | undefined, rounding: 'floor' | 'ceil' | 'round') =>
    at === undefined ? null : formatSeconds(at, rounding);
  return {
    reading_id: reading.id,
    meter_id: reading.meter.id,
    meter_model: reading.meter.model,
    patient_id: reading.person?.id ?? record.patientId ?? null,
    kind: record.kind,
    values: record.values,
    error_code: record.errorCode ?? null,
    slot: record.slot ?? null,
    run_number: record.runNumber ?? null,
    meter_time: record.meterTimeText || null,
    taken_at: bound(placement?.takenAt, 'round'),
    earliest: bound(placement?.earliest, 'floor'),
    latest: bound(placement?.latest, 'ceil'),
    time_basis: placement?.basis ?? null,
    reason: placement?.reason ?? null,
    flags: reading.flags,
    lot: record.lot ?? null,
    lot_expiry: record.lotExpiry ?? null,
    operator: record.operator ?? null,
    status: reading.shown,
    first_download: reading.firstDownload,
    downloaded_at: formatInstant(reading.downloadedAt),
  };
}
