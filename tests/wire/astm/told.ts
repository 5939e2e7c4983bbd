/** An invented Port Alder meter for tests: its memory as E1394 records, as frames, and as a capture. */
import { readFileSync } from 'node:fs';
import type { Capture, CaptureChunk } from '../../../src/core/capture.ts';
import type { Download, ImageItem } from '../../../src/core/download.ts';
import { instant } from '../../../src/core/instant.ts';
import type { TestRecord } from '../../../src/core/reading.ts';
import { encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { type MeterProfile, parseProfile } from '../../../src/wire/profile.ts';

export const profileNamed = (name: string): MeterProfile =>
  parseProfile(
    readFileSync(new URL(`../../../protocols/meters/${name}.json`, import.meta.url), 'utf8'),
    `${name}.json`,
  );

export const NEWEST = profileNamed('astm-generic-newest');
export const OLDEST = profileNamed('astm-generic-oldest');

export const HEADER = 'H|\\^&|||GM-20^SN00042^1.0|||||||P|1|20260302101500';
export const END = 'L|1|N';

/** The records of the test in a slot: INR and PT, strip lot, a patient. The slot makes values and time. */
export function testRecords(slot: number, more: { readonly inr?: string; readonly slotText?: string } = {}): string[] {
  const inr = more.inr ?? (1.5 + slot / 10).toFixed(1);
  const time = `202601${String(28 - (slot % 28)).padStart(2, '0')}0900${String(slot % 60).padStart(2, '0')}`;
  return [
    `P|${slot}|PA-${slot}`,
    `O|1||${more.slotText ?? slot}|^^^INR`,
    `R|1|^^^INR|${inr}|{INR}||||F||||${time}`,
    `R|2|^^^PT|${(20 + slot / 10).toFixed(1)}|s||||F||||${time}`,
    'M|1|strip^1200003^20270131',
  ];
}

/** The records of a memory with tests in slots `from` to `to`. */
export const memoryRecords = (from: number, to: number): string[] =>
  Array.from({ length: to - from + 1 }, (_, i) => testRecords(from + i)).flat();

/** The bytes of one transfer: ENQ, frames, EOT. */
export const transfer = (records: readonly string[]): Uint8Array =>
  new Uint8Array(Buffer.concat([Buffer.of(5), ...encodeMessage(records), Buffer.of(4)]));

export const START_AT = Date.parse('2026-03-02T10:15:00.000Z');

/** A capture of chunks from the meter, 100 ms apart; an `out` chunk is given as `{ out }`. */
export function captureOf(...parts: readonly (Uint8Array | { readonly out: Uint8Array })[]): Capture {
  const chunks = parts.map((part, i): CaptureChunk => {
    const at = instant(START_AT + i * 100);
    return part instanceof Uint8Array ? { at, dir: 'in', data: part } : { at, dir: 'out', data: part.out };
  });
  return { port: 'tcp://dock:4002', profile: NEWEST.name, zone: 'Europe/Lisbon', openedAt: instant(START_AT), chunks };
}

const isTest = (item: ImageItem): item is ImageItem & { kind: 'test' } => item.kind === 'test';

/** The tests of a download's image. */
export const testsOf = (download: Download): TestRecord[] => download.image.filter(isTest).map(({ test }) => test);

/** The image as words: the slot or place of a test (with `+` where it is open), or `-` and how many may be missing. */
export const shape = (download: Download): string[] =>
  download.image.map((item) => {
    if (item.kind === 'hole') return item.atMost === undefined ? '-' : `-${item.atMost}`;
    return `${item.test.slot ?? item.test.place}${item.test.open ? '+' : ''}`;
  });

/** The only download of a capture. */
export function only(downloads: readonly Download[]): Download {
  const [download, ...more] = downloads;
  if (!download || more.length > 0) throw new Error(`${downloads.length} downloads`);
  return download;
}
