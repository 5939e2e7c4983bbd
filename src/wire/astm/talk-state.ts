/** The state of an E1394 conversation, its options and its times. Plain immutable data. */
import type { CaptureChunk } from '../../core/capture.ts';
import type { Instant } from '../../core/instant.ts';
import type { MeterProfile } from '../profile.ts';
import type { TalkOutcome } from '../talk.ts';
import { type FrameState, NO_FRAME } from './link-frames.ts';
import type { LinkTimers } from './link-timers.ts';
import { IDLE_RECEIVER, type ReceiverState } from './receiver.ts';
import type { SenderState } from './sender.ts';
import type { RecordText } from './transfers.ts';

export interface AstmTalkOptions {
  readonly profile: MeterProfile;
  /** How long to wait for a meter that sends by itself, or that is asked; default 60 s. */
  readonly waitMs?: number;
  /** How long to wait, after a transfer broke off, for the meter to begin again; default 30 s. */
  readonly resumeMs?: number;
  /** Silence after which a frame without its CR LF is taken as ended; default 500 ms. */
  readonly quietMs?: number;
  /** The most bytes that one meter may send; default 4 MB, or 2 kB for each slot that the profile knows of if that is more. */
  readonly maxBytes?: number;
  /** The waiting times of E1381; default those of the standard. */
  readonly timers?: LinkTimers;
}

/** The chunks of the conversation so far, newest first: adding one leaves older states as they are. */
export interface Heard {
  readonly chunk: CaptureChunk;
  readonly before: Heard | undefined;
}

/**
 * `waiting`: for the meter's ENQ; `asking`: our query is being sent; `answered`: it was, the meter's ENQ is due;
 * `receiving`: a transfer runs; `resuming`: one broke off, the meter may begin again; `securing`: all is said, waiting
 * until it is safe.
 */
export type AstmStage = 'new' | 'waiting' | 'asking' | 'answered' | 'receiving' | 'resuming' | 'securing' | 'ended';

export interface AstmState {
  readonly stage: AstmStage;
  readonly openedAt: Instant;
  /** When the running stage is over if nothing comes. */
  readonly due?: Instant;
  /** When the line counts as quiet, where the decoder waits for that. */
  readonly quietAt?: Instant;
  readonly frames: FrameState;
  readonly receiver: ReceiverState;
  readonly sender?: SenderState;
  /** Queries that were sent. */
  readonly asked: number;
  readonly heard: Heard | undefined;
  readonly bytesIn: number;
  /** The meter took our question, and nothing came since. */
  readonly isTaken?: true;
  /** Good frames seen. */
  readonly framesIn: number;
  /** The transfer that runs: its header, the patient and test in hand, and the record whose end is still to come. */
  readonly header?: RecordText;
  readonly patient?: RecordText;
  readonly test: readonly RecordText[];
  readonly rest: string;
  /** Tests that arrived whole in this telling. */
  readonly read: number;
  /** Tests of a whole telling, once there was one. */
  readonly held?: number;
  /** Somebody wants to stop: the next frame is answered with EOT. */
  readonly isStopping: boolean;
  readonly outcome?: TalkOutcome;
}

/** The state before the port is open. */
export const NEW_TALK: AstmState = {
  stage: 'new',
  openedAt: 0 as Instant,
  frames: NO_FRAME,
  receiver: IDLE_RECEIVER,
  asked: 0,
  heard: undefined,
  bytesIn: 0,
  framesIn: 0,
  test: [],
  rest: '',
  read: 0,
  isStopping: false,
};
