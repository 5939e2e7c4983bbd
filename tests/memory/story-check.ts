/**
 * Whether a story (which reading each told test is, and the order of all readings) is one that a meter's memory can
 * have lived. Written from the physics alone, without the code that settles: an image is a part of what was there in
 * the order of the tests, what was once proven absent never comes back, and a reading tells one content.
 */
import type { Download } from '../../src/core/download.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import type { KnownTest } from '../../src/memory/state.ts';

export interface ToldStory {
  readonly id: string;
  readonly download: Download;
  /** The reading of each told test, image then fresh. */
  readonly readings: readonly string[];
}

/** Why the story is impossible, or an empty text. Readings in conflict are one place of the memory. */
export function storyProblem(
  story: readonly ToldStory[],
  lifetime: readonly string[],
  readings: ReadonlyMap<string, KnownTest>,
): string {
  const positions = new Map<string, number>();
  for (const [at, reading] of lifetime.entries()) {
    const rival = readings.get(reading)?.conflictWith;
    positions.set(reading, Math.min(at, (rival && positions.get(rival)) ?? at));
  }
  const position = (reading: string): number => positions.get(reading) ?? Number.NaN;
  const sightings = new Map<string, TestRecord[]>();
  /** Positions that were proven absent, with the download that proved it. */
  const absent = new Map<number, string>();
  /** No test first told later can stand at or before this position: everything there was told. */
  let closed = -1;
  const toldBefore = new Set<number>();
  for (const { id, download, readings: told } of story) {
    const records = [...download.image.flatMap((i) => (i.kind === 'test' ? [i.test] : [])), ...download.fresh];
    let last = -1;
    for (const [at, reading] of told.entries()) {
      const here = position(reading);
      if (!(here > last)) return `${id}: ${reading} is out of order`;
      last = here;
      if (absent.has(here)) return `${id}: ${reading} came back after ${absent.get(here)}`;
      if (!toldBefore.has(here) && here <= closed) return `${id}: ${reading} was made before a complete download`;
      const record = records[at];
      const others = sightings.get(reading) ?? [];
      if (!record) return `${id}: more readings than told tests`;
      const other = others.find((o) => !fits(o, record));
      if (other) return `${id}: ${reading} told ${JSON.stringify(record)} after ${JSON.stringify(other)}`;
      sightings.set(reading, [...others, record]);
    }
    const imageCount = records.length - download.fresh.length;
    const image = told.slice(0, imageCount).map(position);
    for (const here of toldBefore) if (provesAbsent(download, image, here)) absent.set(here, id);
    for (const here of told.map(position)) toldBefore.add(here);
    if (download.complete) closed = Math.max(closed, ...toldBefore);
  }
  return '';
}

/** True where a position lies in a stretch that the image told without a hole, and was not told. */
function provesAbsent(download: Download, image: readonly number[], here: number): boolean {
  if (image.includes(here)) return false;
  if (download.complete) return true;
  // The hole or its absence between the told neighbours of this position.
  const behind = image.filter((p) => p < here).length;
  let tests = 0;
  for (const item of download.image) {
    if (item.kind === 'test') tests++;
    else if (tests === behind) return false;
  }
  return download.image.length > 0;
}

const MINUTE = 60_000;

/** Two sightings can be of one test: nothing that both tell differs. */
function fits(a: TestRecord, b: TestRecord): boolean {
  const differ = <K extends 'runNumber' | 'lot' | 'lossCount'>(fact: K): boolean =>
    a[fact] !== undefined && b[fact] !== undefined && a[fact] !== b[fact];
  if (differ('runNumber') || differ('lot') || differ('lossCount')) return false;
  if (a.kind !== b.kind || a.errorCode !== b.errorCode) return false;
  const bothSeconds = a.meterTimeText.length > 16 && b.meterTimeText.length > 16;
  const cut = (r: TestRecord): number | string =>
    r.meterTime ? Math.floor(r.meterTime.wall / (bothSeconds ? 1000 : MINUTE)) : r.meterTimeText;
  if (cut(a) !== cut(b)) return false;
  const values = (r: TestRecord): string[] => r.values.map((v) => `${v.analyte} ${v.value} ${v.unit}`);
  const [shorter, longer] = a.values.length <= b.values.length ? [a, b] : [b, a];
  if (shorter.values.length < longer.values.length && shorter.open !== true) return false;
  return values(shorter).every((text, i) => text === values(longer)[i]);
}
