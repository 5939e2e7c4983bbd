/**
 * Takes the captures of one generated life through decoding, settling and placing, as the intake does, and judges what
 * comes out against the truth: what was lost, what was doubled, whether the order is right, and how the times fare.
 */
import { place } from '../../src/clock/place.ts';
import { downloadId } from '../../src/core/reading.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { arrangeHistory, habitsOf } from '../../src/intake/clock-history.ts';
import { type ArrivedDownload, foldMeter } from '../../src/intake/fold.ts';
import type { ProfileLibrary } from '../../src/intake/profile-library.ts';
import type { ClockDownloadRow } from '../../src/store/clock-history.ts';
import type { SettledReading } from '../../src/store/readings.ts';
import type { History, TrueTest } from '../../src/virtual/history.ts';
import { decodeCapture } from '../../src/wire/decode.ts';

/** How one test's time came out. */
export interface JudgedTime {
  readonly test: TrueTest;
  readonly basis: string;
  /** Estimate minus truth, ms; absent without an estimate. */
  readonly error?: number;
  /** How far the truth lies outside the bounds, ms; 0 inside. */
  readonly outside: number;
  /** Latest minus earliest, ms; absent where a bound is open. */
  readonly width?: number;
}

export interface Judged {
  readonly told: number;
  /** Tests that some download told whole and that are no reading. */
  readonly lost: readonly TrueTest[];
  /** Readings that belong to no test, or to one that another reading has already. */
  readonly surplus: readonly SettledReading[];
  readonly inOrder: boolean;
  /** Downloads of which completeness was judged wrongly. */
  readonly wronglyComplete: number;
  /** Downloads before which tests were overwritten unread, and that do not say that tests may be lost. */
  readonly untoldLosses: number;
  /** Complete downloads that said so although none were. */
  readonly needlessAlarms: number;
  readonly conflicts: number;
  readonly times: readonly JudgedTime[];
  readonly resolutionMs: number;
}

const sameTest = (test: TrueTest, reading: SettledReading): boolean => {
  const { record } = reading;
  if (test.stamp !== (record.meterTimeText || '-') || test.kind[0] !== record.kind[0]) return false;
  if (test.kind === 'error') return true;
  return record.values.every((v) => v.value === test.values.find((t) => t.analyte === v.analyte)?.value);
};

/** Judges one life. `withTimes`: also place, which takes longer. */
export function judgeHistory(history: History, profiles: ProfileLibrary, withTimes: boolean): Judged {
  const arrived = history.captures.flatMap((capture, i) =>
    decodeCapture(capture, profiles.get(capture.profile)).map(
      (download, ordinal): ArrivedDownload => ({
        id: downloadId(i + 1, ordinal),
        moment: { at: download.at, captureNo: i + 1, ordinal },
        arrival: i + 1,
        download,
      }),
    ),
  );
  const folded = foldMeter(1, arrived);
  const expected = history.tests.filter((t) => t.toldIn.length > 0);
  // A test at which a transfer broke off may have arrived or not: both are right.
  const allowed = history.tests.filter((t) => t.toldIn.length > 0 || t.brokenIn.length > 0);
  const lost: TrueTest[] = [];
  const surplus: SettledReading[] = [];
  const pairs: { test: TrueTest; reading: SettledReading }[] = [];
  const left = new Set(folded.readings);
  let at = 0;
  let inOrder = true;
  for (const test of allowed) {
    // In order first; a reading out of its place is found further on, and said.
    let found = folded.readings.findIndex((r, i) => i >= at && left.has(r) && sameTest(test, r));
    if (found === -1) {
      found = folded.readings.findIndex((r) => left.has(r) && sameTest(test, r));
      if (found !== -1) inOrder = false;
    } else at = found + 1;
    const reading = folded.readings[found];
    if (reading) {
      left.delete(reading);
      pairs.push({ test, reading });
    } else if (test.toldIn.length > 0) lost.push(test);
  }
  surplus.push(...left);
  let wronglyComplete = 0;
  let untoldLosses = 0;
  let needlessAlarms = 0;
  // Said by any download since the last complete one counts: it says so of the same tests.
  let lossSaid = false;
  history.downloads.forEach((truth, i) => {
    const mine = arrived.filter((a) => a.moment.captureNo === i + 1);
    const complete = mine.length > 0 && mine.every((a) => a.download.complete);
    if (complete && !truth.isComplete) wronglyComplete++;
    if (!complete && truth.isComplete) wronglyComplete++;
    lossSaid ||= mine.some((a) => folded.facts.get(a.id)?.possiblyLost === true);
    if (!truth.isComplete) return;
    if (truth.overwrittenUnread > 0 && !lossSaid) untoldLosses++;
    if (truth.overwrittenUnread === 0 && lossSaid) needlessAlarms++;
    lossSaid = false;
  });
  const times = withTimes ? judgeTimes(history, arrived, folded, pairs, profiles) : [];
  return {
    told: expected.length,
    lost,
    surplus,
    inOrder,
    wronglyComplete,
    untoldLosses,
    needlessAlarms,
    conflicts: folded.readings.filter((r) => r.conflictWith !== undefined).length,
    times,
    resolutionMs: folded.readings[0]?.record.meterTime?.resolutionMs ?? 1000,
  };
}

function judgeTimes(
  history: History,
  arrived: readonly ArrivedDownload[],
  folded: ReturnType<typeof foldMeter>,
  pairs: readonly { test: TrueTest; reading: SettledReading }[],
  profiles: ProfileLibrary,
): JudgedTime[] {
  const first = arrived[0];
  if (!first) return [];
  const untilOf = new Map(arrived.map((a) => [a.id, a.download.until]));
  const { history: clock } = arrangeHistory(
    {
      tests: folded.readings.map((r, position) => ({
        id: r.id,
        position,
        ...(r.record.meterTime ? { stamp: r.record.meterTime } : {}),
        unset: r.record.meterTimeText === '',
        ...(r.record.lossCount === undefined ? {} : { lossCount: r.record.lossCount }),
        earliestDownload: r.earliestDownload,
        toldBy: untilOf.get(r.earliestDownload) ?? first.download.until,
      })),
      downloads: arrived.map(
        ({ id, download }) => ({ ...download, id, ...folded.facts.get(id) }) as unknown as ClockDownloadRow,
      ),
    },
    habitsOf(profiles.get(first.download.profile)),
  );
  const placed = new Map(place({ ...clock, zone: zoneOf(history.zone) }).tests.map((t) => [t.id, t.placement]));
  return pairs.flatMap(({ test, reading }) => {
    const p = placed.get(reading.id);
    if (!p) return [];
    const outside = Math.max((p.earliest ?? -Infinity) - test.at, test.at - (p.latest ?? Infinity), 0);
    return [
      {
        test,
        basis: p.basis,
        ...(p.takenAt === undefined ? {} : { error: p.takenAt - test.at }),
        outside,
        ...(p.earliest === undefined || p.latest === undefined ? {} : { width: p.latest - p.earliest }),
      },
    ];
  });
}
