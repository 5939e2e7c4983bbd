/**
 * Finishes what a dead process left: its open captures are sealed as they are (no closing time: the program died) and
 * taken in like any other. Called at the start of every command that collects or replays.
 */
import { asFault, type Fault } from '../core/fault.ts';
import { isAlive } from '../store/process-mark.ts';
import type { Store } from '../store/store.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { type IntakeContext, type TakenIn, takeInCapture } from './take-in.ts';

/** What became of one left capture. `fault`: it could not be taken in; its bytes are kept, and it is tried again. */
export type Recovered =
  | { readonly captureNo: number; readonly taken: TakenIn }
  | { readonly captureNo: number; readonly fault: Fault };

/** Recovers all captures whose process is dead, oldest first. Faults of one capture do not stop the others. */
export function recoverAbandoned(store: Store, profiles: ProfileLibrary, context: IntakeContext): Recovered[] {
  const left = store.captures.unfinished().filter((capture) => !isAlive(capture.owner));
  return left.map(({ captureNo }) => {
    try {
      store.captures.seal(captureNo);
      return { captureNo, taken: takeInCapture(store, captureNo, profiles, context) };
    } catch (thrown) {
      return { captureNo, fault: asFault(thrown) };
    }
  });
}
