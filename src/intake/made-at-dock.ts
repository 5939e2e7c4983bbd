/**
 * Tests that were made while their meter stood on the dock: after its clock was read, and mostly before it was set. A
 * download as a whole stands at one place among the tests, so that such a test would come before a reading of the
 * clock that it follows, or behind a setting that it precedes: as if somebody had changed the clock at the dock. Pure.
 */
import type { ClockEvent } from '../core/download.ts';
import type { ClockDownloadRow, ClockTestRow } from '../store/clock-history.ts';

/** A clock gains or loses far less than this in a conversation. */
const PLAY_MS = 1000;

/** How the tests around a download stand to what it showed of the clock. */
export interface DockedTests {
  /** The first of the tests that were made after the clock was read; all from there on were. */
  readonly from: number;
  /** The first of the tests behind them that were made after the clock was set, and by which event that was. */
  readonly setting?: { readonly at: number; readonly event: number };
}

/**
 * Looks through the tests around place `before`, up to which the download is known to stand behind the tests. None
 * under `floor` is looked at: an earlier download stands behind them.
 */
export function dockedTests(
  tests: readonly ClockTestRow[],
  download: ClockDownloadRow,
  before: number,
  floor: number,
): DockedTests {
  const { clock } = download;
  const setting = clock.findIndex((event) => event.kind === 'set' && event.outcome === 'confirmed');
  const shown = setting < 0 ? clock : clock.slice(0, setting);
  const until = clock[setting]?.to ?? download.until;
  // Where nobody knows which tests precede the download, nothing can be said of these either.
  if (download.mayPrecede !== 0) return { from: before };
  const isOwn = (test: ClockTestRow | undefined): test is ClockTestRow => test?.earliestDownload === download.id;

  let from = before;
  for (let test = tests[from - 1]; from > floor && isOwn(test) && isLater(test, shown, until); test = tests[from - 1])
    from--;
  if (setting < 0) return { from };
  let at = before;
  for (let test = tests[at]; isOwn(test) && runsOn(test, shown, until); test = tests[at]) at++;
  return at > from ? { from, setting: { at, event: setting } } : { from };
}

/** The first showing of the clock. */
const first = (shown: readonly ClockEvent[]): ClockEvent | undefined => shown.find((event) => event.kind !== 'set');

/** A stamp that surely lies behind what the clock showed, by no more than the conversation lasted. */
function isLater(test: ClockTestRow, shown: readonly ClockEvent[], until: number): boolean {
  const clock = first(shown);
  if (clock?.kind !== 'anchor' || !test.stamp) return false;
  return test.stamp.wall >= clock.shown.wall + clock.shown.resolutionMs && runsOn(test, shown, until);
}

/** A stamp of the clock that was shown, as it ran on until `until`; or none, of a clock that was not set. */
function runsOn(test: ClockTestRow, shown: readonly ClockEvent[], until: number): boolean {
  const clock = first(shown);
  if (clock?.kind === 'unset') return test.unset;
  if (clock?.kind !== 'anchor' || !test.stamp) return false;
  const end = clock.shown.wall + clock.shown.resolutionMs + (until - clock.from) + PLAY_MS;
  return test.stamp.wall + test.stamp.resolutionMs > clock.shown.wall && test.stamp.wall <= end;
}
