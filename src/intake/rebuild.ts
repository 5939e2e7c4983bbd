/**
 * Makes everything that is derived afresh from the stored bytes, in the order in which the captures arrived, and
 * compares it with what was stored. An identical rebuild leaves the store untouched. A different one is reported, and
 * kept only where the caller says so.
 */
import { DEFAULT_POLICY } from '../clinic/rules/policy.ts';
import { Fault } from '../core/fault.ts';
import { judgeReadings } from '../record/judge.ts';
import { copyDerived, type Difference, differences, emptyDerived } from '../store/derived.ts';
import type { Store } from '../store/store.ts';
import { decodeCapture } from '../wire/decode.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { derive, type IntakeContext } from './take-in.ts';

export interface Rebuilt {
  /** How many captures everything was made from. */
  readonly captures: number;
  /** Rows that differ; empty where the rebuild is identical. */
  readonly differences: readonly Difference[];
  /** True where the new rows were kept in place of the old. */
  readonly accepted: boolean;
}

export interface RebuildOptions {
  /** Keep the new rows where they differ. */
  readonly accept: boolean;
  /** Told after each capture, for progress. */
  readonly onCapture?: (done: number, of: number) => void;
}

/** Rebuilds. Throws PROFILE_UNKNOWN, PROFILE_INVALID or a Fault of the store; then nothing is changed. */
export function rebuild(
  store: Store,
  profiles: ProfileLibrary,
  context: IntakeContext,
  options: RebuildOptions,
): Rebuilt {
  const tried = store.db.rehearse(() => remake(store, profiles, options.onCapture));
  store.changed.take(); // it was undone
  if (tried.differences.length === 0 || !options.accept) return { ...tried, accepted: false };
  return store.db.write(() => {
    store.changed.take();
    const made = remake(store, profiles);
    // Those that are gone, too: they are retired.
    const ids = new Set([...store.judged.list({}).map((j) => j.reading), ...store.changed.take()]);
    judgeReadings(store, [...ids], context.policy ?? DEFAULT_POLICY, context.now);
    store.audit.append({
      at: context.now,
      actor: context.actor,
      action: 'rebuilt',
      subject: 'store',
      detail: { captures: made.captures, differences: made.differences.length },
    });
    return { ...made, accepted: true };
  });
}

/** The fault of a rebuild that differs and was not accepted; undefined where there is nothing to complain about. */
export function rebuildFault({ differences: found, accepted }: Rebuilt): Fault | undefined {
  if (found.length === 0 || accepted) return undefined;
  return new Fault(
    'REBUILD_DIFFERS',
    `${found.length} ${found.length === 1 ? 'row differs' : 'rows differ'} from what the stored bytes give today`,
    'Look at the differences; "tallydock rebuild --accept" keeps the new rows.',
  );
}

/** Empties what is derived, makes it again and compares. Inside a transaction. */
function remake(store: Store, profiles: ProfileLibrary, onCapture?: RebuildOptions['onCapture']) {
  const captures = store.captures.taken();
  copyDerived(store.db);
  emptyDerived(store.db);
  for (const [done, captureNo] of captures.entries()) {
    const { capture } = store.captures.load(captureNo);
    derive(store, captureNo, capture, decodeCapture(capture, profiles.get(capture.profile)), profiles);
    onCapture?.(done + 1, captures.length);
  }
  return { captures: captures.length, differences: differences(store.db) };
}
