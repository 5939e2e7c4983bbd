/**
 * Records a conversation into the store while it runs. Chunks are gathered for a very short while and written in small
 * transactions, so that a killed process loses at most the last moment, and nothing that anything was made of.
 */
import type { CaptureChunk } from '../core/capture.ts';
import type { Instant } from '../core/instant.ts';
import type { CaptureHeader } from '../store/captures.ts';
import { ownMark } from '../store/process-mark.ts';
import type { Store } from '../store/store.ts';
import { realTimers, type Timers } from '../wire/timers.ts';

/** Longest time that a chunk waits before it is written, milliseconds. */
const FLUSH_MS = 200;

export interface Recorder {
  /** Number of the capture in the store. */
  readonly captureNo: number;
  /** Notes a chunk. Throws the store's Fault if writing an earlier one failed in between. */
  record(chunk: CaptureChunk): void;
  /** Notes that the PC's clock was changed while this was recorded, seconds; kept with the next chunks. Does no I/O. */
  noteClockStep(stepS: number): void;
  /** Returns once every chunk so far is on the disk. Throws a Fault of the store. */
  secure(): void;
  /** Writes what is left and seals the capture. Throws a Fault of the store. */
  close(at: Instant): void;
}

/** Starts a live capture of this process. Throws a Fault of the store. */
export function openRecorder(store: Store, header: CaptureHeader, timers: Timers = realTimers): Recorder {
  const captureNo = store.captures.open(header, ownMark());
  let waiting: CaptureChunk[] = [];
  let cancel: (() => void) | undefined;
  let failure: unknown;
  let step: { readonly stepS: number; isKept: boolean } | undefined;

  const flush = (): void => {
    cancel?.();
    cancel = undefined;
    if (step && !step.isKept) {
      store.captures.noteClockStep(captureNo, step.stepS);
      step.isKept = true;
    }
    if (waiting.length === 0) return;
    // Kept until they are written: after a full disk has been freed, the next attempt writes them.
    store.captures.append(captureNo, waiting);
    waiting = [];
  };
  const flushLater = (): void => {
    try {
      flush();
    } catch (thrown) {
      failure = thrown;
    }
  };
  return {
    captureNo,
    record(chunk) {
      waiting.push(chunk);
      cancel ??= timers.after(FLUSH_MS, flushLater);
      if (failure === undefined) return;
      const thrown = failure;
      failure = undefined;
      throw thrown;
    },
    noteClockStep(stepS) {
      if (step?.stepS !== stepS) step = { stepS, isKept: false };
    },
    secure: flush,
    close: (at) =>
      store.db.write(() => {
        flush();
        store.captures.seal(captureNo, at);
      }),
  };
}
