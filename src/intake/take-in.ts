/**
 * The one way in: a capture's bytes, already safe in the store, are decoded, settled, placed and judged, all in one
 * transaction. Used alike by collecting, replaying, recovering and rebuilding.
 */
import { DEFAULT_POLICY, type Policy } from '../clinic/rules/policy.ts';
import type { Capture } from '../core/capture.ts';
import type { Download } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import { downloadId } from '../core/reading.ts';
import { judgeReadings } from '../record/judge.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { Store } from '../store/store.ts';
import { decodeCapture } from '../wire/decode.ts';
import { byMoment } from './fold.ts';
import { placeMeter } from './placing.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { settleAgain } from './settle-again.ts';
import { settleNext } from './settle-next.ts';

/** Who takes in, and when: for the audit chain. */
export interface IntakeContext {
  readonly now: Instant;
  /** The account and command, such as `ana: collect`. */
  readonly actor: string;
  /** How readings are judged; the clinic's defaults where it is absent. */
  readonly policy?: Policy;
}

/** What became of a capture. No downloads: no meter named itself in it; its bytes are kept. */
export interface TakenIn {
  readonly captureNo: number;
  /** True where the capture had been taken in before: nothing was changed. */
  readonly already: boolean;
  readonly downloads: readonly StoredDownload[];
}

/**
 * Takes in a sealed capture. Throws PROFILE_UNKNOWN, PROFILE_INVALID or a Fault of the store; then nothing is changed
 * and the capture stays where it is, to be taken in later.
 */
export function takeInCapture(
  store: Store,
  captureNo: number,
  profiles: ProfileLibrary,
  context: IntakeContext,
): TakenIn {
  const { capture } = store.captures.load(captureNo);
  const decoded = decodeCapture(capture, profiles.get(capture.profile));
  return store.db.write(() => {
    const already = store.captures.isTakenIn(captureNo);
    if (!already) {
      store.changed.take(); // what a transaction that was undone left
      derive(store, captureNo, capture, decoded, profiles);
      judgeReadings(store, store.changed.take(), context.policy ?? DEFAULT_POLICY, context.now);
    }
    const downloads = store.downloads.ofCapture(captureNo);
    if (!already) noteTakenIn(store, captureNo, downloads, context);
    return { captureNo, already, downloads };
  });
}

function noteTakenIn(
  store: Store,
  captureNo: number,
  downloads: readonly StoredDownload[],
  context: IntakeContext,
): void {
  store.audit.append({
    at: context.now,
    actor: context.actor,
    action: 'taken-in',
    subject: `capture ${captureNo}`,
    detail: {
      downloads: downloads.map((d) => d.id).join(' '),
      new: downloads.reduce((sum, d) => sum + d.new, 0),
      clockSet: downloads.some((d) => d.clockSet),
    },
  });
}

/**
 * Makes everything that follows from one capture, as the next in the order of arrival. Must run inside a transaction;
 * writes no audit row.
 */
export function derive(
  store: Store,
  captureNo: number,
  capture: Capture,
  decoded: readonly Download[],
  profiles: ProfileLibrary,
): void {
  const profile = profiles.get(capture.profile);
  const arrival = store.captures.markTakenIn(captureNo);
  for (const [ordinal, download] of decoded.entries()) {
    const meter = store.meters.ensure(download);
    const id = downloadId(captureNo, ordinal);
    const moment = { at: download.at, captureNo, ordinal };
    const newest = store.downloads.newestMoment(meter.meterNo);
    const arrived = { id, moment, arrival, download };
    const news = { meterNo: meter.meterNo, download: id };
    if (newest !== undefined && byMoment(moment, newest) < 0) {
      const { isShared } = settleAgain(store, meter, arrived, profiles);
      // How the clock behaves the newest capture says, not the one that came last.
      const { capture: last } = store.captures.load(newest.captureNo);
      placeMeter(store, { ...news, profile: profiles.get(last.profile), added: [], refolded: true, isShared });
    } else placeMeter(store, { ...news, profile, ...settleNext(store, meter, arrived), refolded: false });
  }
}
