/**
 * The clock of one conversation. It starts at the PC's time and then runs on by the monotonic clock, which nobody can
 * set: so the times of a capture never jump, whatever is done to the PC's clock meanwhile. That something was done is
 * noticed by comparing the two. Both clocks are handed in.
 */
import { type Instant, instant } from './instant.ts';

/** More than this between the two clocks is a step. */
const STEP_MS = 1000;
/** Two crystals drift apart by up to this share of the time that has passed: on Windows only one of them is disciplined. */
const APART = 2e-4;

export interface SteadyClock {
  /** True time now, if the PC's clock was right at the start. Looks for a step as well. */
  readonly now: () => Instant;
  /**
   * How far the PC's clock has stepped since the start, seconds to the millisecond, positive where it was put forward;
   * of several steps the one that led furthest away. Undefined while there was none. A PC that slept shows as a step
   * forward: how long it slept only its own clock knows.
   */
  readonly stepS: () => number | undefined;
}

/** A clock that starts now. `wallNow`: the PC's time; `monotonicMs`: milliseconds since any fixed moment. */
export function steadyClock(wallNow: () => Instant, monotonicMs: () => number): SteadyClock {
  const startedAt = wallNow();
  const startedMs = monotonicMs();
  let furthest = 0;
  const now = (): Instant => {
    const passed = monotonicMs() - startedMs;
    const apart = wallNow() - startedAt - passed;
    if (Math.abs(apart) > STEP_MS + passed * APART && Math.abs(apart) > Math.abs(furthest)) furthest = apart;
    return instant(startedAt + Math.round(passed));
  };
  return {
    now,
    stepS() {
      now();
      return furthest === 0 ? undefined : Math.round(furthest) / 1000;
    },
  };
}
