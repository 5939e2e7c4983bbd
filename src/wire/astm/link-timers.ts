/** The waiting times of E1381 (LIS01-A2) and who waits how long. Data; tests hand in shorter ones. */

/** Which end of the line this is. The instrument has priority where both want to send. */
export type LinkRole = 'instrument' | 'computer';

export interface LinkTimers {
  /** A sender waits this long for the answer to an ENQ or a frame, then sends EOT. */
  readonly answerMs: number;
  /** A receiver waits this long for the next frame, then drops the unfinished message. */
  readonly frameMs: number;
  /** A sender whose ENQ got NAK waits this long before the next ENQ. */
  readonly busyMs: number;
  /** A sender whose ENQ met an ENQ waits this long before the next one. */
  readonly contentionMs: Readonly<Record<LinkRole, number>>;
}

/** The times of the standard. */
export const LINK_TIMERS: LinkTimers = {
  answerMs: 15_000,
  frameMs: 30_000,
  busyMs: 10_000,
  contentionMs: { instrument: 1000, computer: 20_000 },
};

/** How often one frame is sent at most (first sending and repeats) before the message is given up. */
export const FRAME_TRIES = 6;
