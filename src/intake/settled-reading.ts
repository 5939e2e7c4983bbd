/** From what settling knows of a test to the reading that the store keeps. Pure. */
import type { Download } from '../core/download.ts';
import type { DownloadId, TestRecord } from '../core/reading.ts';
import type { KnownTest } from '../memory/state.ts';
import type { SettledReading } from '../store/readings.ts';

/** All tests of a download in their order, by place. */
export function testsByPlace(download: Download): Map<string, TestRecord> {
  const image = download.image.flatMap((item) => (item.kind === 'test' ? [item.test] : []));
  return new Map([...image, ...download.fresh].map((test) => [test.place, test]));
}

/** A record with place and slot of the download in which it was first seen here. */
function asFirstSeen(record: TestRecord, first: Pick<TestRecord, 'place' | 'slot'>): TestRecord {
  const { slot: _, ...rest } = record;
  return { ...rest, place: first.place, ...(first.slot === undefined ? {} : { slot: first.slot }) };
}

/** A known test as the store keeps it. */
export function readingOf(
  meterNo: number,
  known: KnownTest,
  position: number,
  firstDownload: DownloadId,
  earliestDownload: DownloadId,
  first: Pick<TestRecord, 'place' | 'slot'>,
): SettledReading {
  const record = asFirstSeen(known.record, first);
  return {
    id: known.id,
    meterNo,
    position,
    firstDownload,
    earliestDownload,
    record:
      known.conflictWith === undefined ? record : { ...record, flags: [...new Set([...record.flags, 'conflict'])] },
    status: known.status,
    ...(known.gone === undefined ? {} : { gone: known.gone }),
    ...(known.conflictWith === undefined ? {} : { conflictWith: known.conflictWith }),
  };
}
