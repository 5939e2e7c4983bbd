/**
 * Records a conversation only from when it matters. A dock is asked for its meter day and night; what an empty or
 * quiet dock says is held in memory and forgotten. Once a meter tells its memory or a test, everything since the last
 * question for its name goes into the store, before anything is made of it.
 */
import type { CaptureChunk } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { Recorder } from '../intake/recorder.ts';

export interface LateRecorder {
  /** The port is open. */
  opened(at: Instant): void;
  /** Throws METER_ENDLESS where far too much comes that means nothing, or a Fault of the store. */
  record(chunk: CaptureChunk): void;
  /** What came so far is settled: from our next question on it need not be remembered. */
  quiet(): void;
  /** From here on everything is stored, with what is remembered. Throws a Fault of the store. */
  begin(): void;
  /** Returns once everything so far is on the disk, where it is recorded at all. */
  secure(): void;
  /** The recorder, once it has begun. */
  readonly recorder: Recorder | undefined;
}

/** The most that is remembered of a port that says nothing sensible: a minute of the fastest serial line is less. */
const MAX_HELD = 1_000_000;

/** `start` begins the capture in the store with the time of its opening. */
export function recordLate(start: (openedAt: Instant) => Recorder): LateRecorder {
  let recorder: Recorder | undefined;
  let held: CaptureChunk[] = [];
  let bytes = 0;
  let openedAt: Instant | undefined;
  let isQuiet = false;
  return {
    opened(at) {
      openedAt = at;
    },
    record(chunk) {
      if (recorder) return recorder.record(chunk);
      if (isQuiet && chunk.dir === 'out') {
        // A question that nobody answered is never forgotten before it is: an answer may belong to any of them.
        held = [];
        bytes = 0;
        openedAt = chunk.at;
        isQuiet = false;
      }
      held.push(chunk);
      bytes += chunk.data.length;
      if (bytes > MAX_HELD)
        throw new Fault(
          'METER_ENDLESS',
          'The port does not stop sending, and nothing of it makes sense',
          'Unplug the meter, check that profile and speed fit it, and plug it in again.',
        );
    },
    quiet() {
      isQuiet = true;
    },
    begin() {
      if (recorder) return;
      const [first] = held;
      recorder = start(openedAt ?? first?.at ?? (0 as Instant));
      for (const chunk of held) recorder.record(chunk);
      held = [];
    },
    secure: () => recorder?.secure(),
    get recorder() {
      return recorder;
    },
  };
}
