/**
 * Takes in what the docks recorded, one after the other, since they share one store. What the store cannot take now
 * stays here and is tried again; meanwhile nothing new is read, so that what waits is never much.
 */
import type { Policy } from '../clinic/rules/policy.ts';
import { asFault, type Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import type { Recorder } from '../intake/recorder.ts';
import { takeInCapture } from '../intake/take-in.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { Store } from '../store/store.ts';
import type { DaemonHost } from './host.ts';

export interface IntakeQueue {
  /** Seals and takes in one recording. Never rejects. */
  take(recorder: Recorder, closedAt: Instant): Promise<Taken>;
  /** Why nothing more can be stored now; undefined where all is well. */
  blocked(): Fault | undefined;
  /** Tries what waits once more and stops. What still waits is taken in at the next start, as far as it is on the disk. */
  stop(): Promise<void>;
}

export interface Taken {
  readonly downloads: readonly StoredDownload[];
  readonly fault?: Fault;
}

export interface IntakeTools {
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  /** The account and command, for the audit chain. */
  readonly actor: string;
  /** How readings are judged; the clinic's defaults where it is absent. */
  readonly policy?: Policy;
  readonly host: Pick<DaemonHost, 'now' | 'timers'>;
  readonly retryMs: number;
  /** Called for every capture that was taken in, at once or later. */
  readonly onTaken: (downloads: readonly StoredDownload[]) => void;
}

interface Waiting {
  readonly recorder: Recorder;
  readonly closedAt: Instant;
}

/** An empty queue. */
export function makeIntakeQueue(tools: IntakeTools): IntakeQueue {
  const { store, profiles, actor, host, onTaken } = tools;
  let waiting: Waiting[] = [];
  let block: Fault | undefined;
  let cancel: (() => void) | undefined;
  let line: Promise<unknown> = Promise.resolve();

  const takeNow = ({ recorder, closedAt }: Waiting): Taken => {
    try {
      recorder.close(closedAt);
      const context = { now: host.now(), actor, ...(tools.policy ? { policy: tools.policy } : {}) };
      const { downloads } = takeInCapture(store, recorder.captureNo, profiles, context);
      onTaken(downloads);
      return { downloads };
    } catch (thrown) {
      return { downloads: [], fault: asFault(thrown) };
    }
  };
  /** True for a fault of the store, which passes; any other stays with its capture until the next start. */
  const passes = (fault: Fault): boolean => fault.code.startsWith('STORE_');

  const retryAll = (): void => {
    cancel = undefined;
    const left: Waiting[] = [];
    let stillBlocked: Fault | undefined;
    for (const item of waiting) {
      if (!stillBlocked) {
        const result = takeNow(item);
        if (!result.fault || !passes(result.fault)) continue;
        stillBlocked = result.fault;
      }
      left.push(item);
    }
    waiting = left;
    block = stillBlocked;
    if (block) cancel = host.timers.after(tools.retryMs, retryAll);
  };

  return {
    take(recorder, closedAt) {
      // The ports are heard in between.
      const turn = line.then(() => new Promise<void>((resolve) => void host.timers.after(0, resolve)));
      const taken = turn.then((): Taken => {
        const item = { recorder, closedAt };
        const result = block ? { downloads: [], fault: block } : takeNow(item);
        if (result.fault && passes(result.fault)) {
          block = result.fault;
          waiting.push(item);
          cancel ??= host.timers.after(tools.retryMs, retryAll);
        }
        return result;
      });
      line = taken;
      return taken;
    },
    blocked: () => block,
    async stop() {
      await line;
      cancel?.();
      retryAll();
      cancel?.();
    },
  };
}
