/**
 * Holds a conversation over a port: the driver between a pure talk and the world. It owns the port and the one timer,
 * hands inputs to the talk one after the other and does what the talk wants done. Every byte is recorded before the
 * talk sees it, and before it is sent; the port is closed on every way out.
 */
import type { CaptureChunk } from '../core/capture.ts';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { Talk, TalkEffect, TalkInput, TalkOutcome, TalkProgress } from './talk.ts';
import { realTimers, type Timers } from './timers.ts';
import type { Link, LinkSettings, OpenLink } from './transport/link.ts';

export interface ConverseOptions<S> {
  readonly talk: Talk<S>;
  readonly open: OpenLink;
  /** As the person named it: `/dev/ttyUSB0`, `COM3`, `tcp://host:port`. */
  readonly port: string;
  readonly settings: LinkSettings;
  /** True time, from the one who may read the clock. */
  readonly now: () => Instant;
  /** Called once the port is open, before the first chunk. */
  readonly onOpened?: (at: Instant) => void;
  /** Keeps a chunk. Called before the talk sees it, or right before it is sent. */
  readonly record: (chunk: CaptureChunk) => void;
  /** Resolves when everything recorded so far is safely stored. */
  readonly secure: () => Promise<void>;
  readonly onProgress?: (progress: TalkProgress) => void;
  /** Aborting it lets the talk leave politely, then closes the port. */
  readonly signal?: AbortSignal;
  /** How long a talk that was asked to stop may take before the port is closed on it. */
  readonly stopMs?: number;
  /** The platform's unless given. */
  readonly timers?: Timers;
}

/** How a conversation went. */
export interface Conversed {
  readonly outcome: TalkOutcome;
  /** Why the port closed by itself, where it did. */
  readonly fault?: Fault;
  readonly openedAt: Instant;
  readonly closedAt: Instant;
}

const STOP_MS = 3000;

/**
 * Opens the port, talks until the talk ends, closes the port. Rejects with a Fault where the port cannot be opened,
 * where `record` or `secure` fail, or where the talk breaks a promise of ours; the port is closed then too.
 */
export async function converse<S>(options: ConverseOptions<S>): Promise<Conversed> {
  const { talk, now } = options;
  const queue = createInputQueue();
  let portFault: Fault | undefined;
  let broken: Fault | undefined;
  const breakOff = (thrown: unknown): void => {
    broken ??= asFault(thrown);
    queue.push({ kind: 'closed', at: now() });
  };
  let openedAt: Instant | undefined;
  /** The port is open: told by its opener, or by bytes that came before the opener had told. */
  const markOpened = (): Instant => {
    if (openedAt === undefined) {
      openedAt = now();
      options.onOpened?.(openedAt);
    }
    return openedAt;
  };
  const keep = (chunk: CaptureChunk): boolean => {
    try {
      markOpened();
      options.record(chunk);
      return true;
    } catch (thrown) {
      breakOff(thrown); // never thrown at the port, which could only end the program with it
      return false;
    }
  };

  const link = await options.open(options.port, options.settings, {
    data(data) {
      const at = now();
      if (keep({ at, dir: 'in', data })) queue.push({ kind: 'bytes', at, data });
    },
    closed(fault) {
      portFault ??= fault; // closing it ourselves afterwards does not take the reason away
      queue.push({ kind: 'closed', at: now() });
    },
  });
  const timers = options.timers ?? realTimers;
  const timer = createTimer(timers, () => queue.push({ kind: 'timer', at: now() }));
  const grace = createTimer(timers, () => queue.push({ kind: 'closed', at: now() }));
  const onAbort = (): void => {
    queue.push({ kind: 'stop', at: now() });
    grace.start(options.stopMs ?? STOP_MS);
  };

  /** Does one effect; the outcome where it was the end. */
  const perform = async (effect: TalkEffect): Promise<TalkOutcome | undefined> => {
    switch (effect.kind) {
      case 'send':
        if (keep({ at: now(), dir: 'out', data: effect.data })) await send(link, effect.data);
        return undefined;
      case 'timer':
        queue.dropTimer();
        timer.start(effect.afterMs);
        return undefined;
      case 'timer-off':
        queue.dropTimer();
        timer.stop();
        return undefined;
      case 'progress':
        options.onProgress?.(effect.progress);
        return undefined;
      case 'secure':
        // Not awaited: bytes go on arriving meanwhile, and the talk hears of both in their order.
        options.secure().then(() => queue.push({ kind: 'safe', at: now() }), breakOff);
        return undefined;
      case 'end':
        return effect.outcome;
    }
  };
  /** A port that takes no more bytes is gone: the talk hears it as `closed`. */
  const send = async (to: Link, data: Uint8Array): Promise<void> => {
    try {
      await to.write(data);
    } catch (thrown) {
      portFault ??= asFault(thrown);
      queue.push({ kind: 'closed', at: now() });
    }
  };

  try {
    const startedAt = markOpened();
    let state = talk.initial;
    let outcome: TalkOutcome | undefined;
    // Ahead of bytes that came with the opening: `opened` is always the first input.
    queue.pushFirst({ kind: 'opened', at: startedAt });
    if (options.signal?.aborted) onAbort();
    else options.signal?.addEventListener('abort', onAbort, { once: true });
    while (outcome === undefined) {
      const input = await queue.next();
      if (broken) throw broken;
      const step = talk.step(state, input);
      state = step.state;
      for (const effect of step.effects) outcome = (await perform(effect)) ?? outcome;
      if (input.kind === 'closed' && outcome === undefined)
        throw new Fault('INTERNAL', 'A conversation went on after its port was gone', 'Please report this.');
    }
    if (broken) throw broken;
    await link.close();
    return { outcome, ...(portFault ? { fault: portFault } : {}), openedAt: startedAt, closedAt: now() };
  } finally {
    options.signal?.removeEventListener('abort', onAbort);
    timer.stop();
    grace.stop();
    await link.close();
  }
}

interface InputQueue {
  push(input: TalkInput): void;
  pushFirst(input: TalkInput): void;
  /** Forgets a timer that ended but has not been heard yet: it was replaced. */
  dropTimer(): void;
  next(): Promise<TalkInput>;
}

/** Inputs in the order in which they happened. `closed` is always the last: nothing is queued behind it. */
function createInputQueue(): InputQueue {
  let waiting: TalkInput[] = [];
  let isClosed = false;
  let wake: (() => void) | undefined;
  const ring = (): void => {
    wake?.();
    wake = undefined;
  };
  return {
    push(input) {
      if (isClosed) return;
      isClosed = input.kind === 'closed';
      waiting.push(input);
      ring();
    },
    pushFirst(input) {
      waiting.unshift(input);
      ring();
    },
    dropTimer() {
      waiting = waiting.filter((input) => input.kind !== 'timer');
    },
    async next() {
      for (;;) {
        const input = waiting.shift();
        if (input) return input;
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
      }
    },
  };
}

interface Timer {
  start(afterMs: number): void;
  stop(): void;
}

function createTimer(timers: Timers, onEnd: () => void): Timer {
  let cancel = (): void => {};
  return {
    start(afterMs) {
      cancel();
      cancel = timers.after(afterMs, onEnd);
    },
    stop: () => cancel(),
  };
}
