/** The waiting times of the kit. Those that a document gives are named after it; tests hand in shorter ones. */

/** All in milliseconds. */
export interface Timing {
  /** TLP/1: the first byte of an answer, and the next line of one, come within this. */
  readonly answerMs: number;
  /** Lateness that is the fault of cables and of this computer. */
  readonly slackMs: number;
  /** What one byte needs on the line; 0 where that is not known, as on a network. */
  readonly byteMs: number;
  /** How long the kit itself waits for an answer, so that a late one is called late and not missing. */
  readonly patienceMs: number;
  /** Silence of this length is an answer: nothing will come any more. */
  readonly silenceMs: number;
  /** TLP/1: HELLO is repeated once in this time. */
  readonly helloMs: number;
  /** How long a clock is watched; a few seconds, so that a clock that stands still is seen. */
  readonly tickMs: number;
  /** A short pause, in which a meter that has said enough is listened to. */
  readonly hushMs: number;
  /** E1381: a sender waits this long for the answer to its ENQ or frame. */
  readonly replyMs: number;
  /** E1381: a receiver waits this long for the next frame. */
  readonly frameMs: number;
  /** E1381: a pause of this length in a frame is its end. */
  readonly gapMs: number;
  /** E1381: after NAK to ENQ the sender waits at least this long. */
  readonly busyMs: number;
  /** E1381: where ENQ meets ENQ, the instrument repeats its own after this, and the computer would after the other. */
  readonly contentionMs: readonly [instrument: number, computer: number];
  /** Timers of meters may run in steps of this. */
  readonly timerStepMs: number;
  /** A meter that begins to send when the port is opened, or after a transfer that broke off, does so within this. */
  readonly promptMs: number;
  /** How long a meter that sends by itself is waited for in all, for instance until somebody pressed a key on it. */
  readonly waitMs: number;
}

/** The times of the documents. */
export const TIMING: Timing = {
  answerMs: 2000,
  slackMs: 250,
  byteMs: 0,
  patienceMs: 3000,
  silenceMs: 3000,
  helloMs: 1000,
  tickMs: 5000,
  hushMs: 1000,
  replyMs: 15_000,
  frameMs: 30_000,
  gapMs: 1000,
  busyMs: 10_000,
  contentionMs: [1000, 20_000],
  timerStepMs: 1000,
  promptMs: 3000,
  waitMs: 60_000,
};
