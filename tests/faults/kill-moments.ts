/**
 * When a daemon is killed: moments drawn from chance over all that it does. Some follow the time since its start, which
 * is where it recovers what the last one left; most follow what the meters have sent, which is where it matters.
 */
import type { Chance } from '../../src/virtual/chance.ts';

/** What the docks tell of one life of a daemon. Every method may be called at any time. */
export interface KillMoment {
  /** A meter has sent so many bytes. */
  sent(bytes: number): void;
  /** A meter has told its whole memory. */
  told(): void;
  /** The daemon has said that it runs. */
  started(): void;
  /** No kill any more. */
  cancel(): void;
}

export interface KillMomentTools {
  readonly chance: Chance;
  /** Bytes that the docked meters will send until all have told their memories, about. */
  readonly expectedBytes: number;
  /** Meters that are docked. */
  readonly docked: number;
  /** What a start took lately, milliseconds. */
  readonly startMs: number;
  /** A test ends at one of the docked meters. */
  readonly test: () => void;
  /** Kills the daemon now. */
  readonly kill: () => void;
}

/** A memory is taken in within so many milliseconds of its end. */
const TAKE_IN_MS = 40;
/** A moment that has not come so long after the start is not waited for. */
const LATEST_MS = 1500;

/** Draws one moment of death. `kill` is called exactly once, unless it is cancelled before. */
export function killMoment(tools: KillMomentTools): KillMoment {
  const { chance, docked } = tools;
  const timers: NodeJS.Timeout[] = [];
  let isOver = false;
  const cancel = (): void => {
    isOver = true;
    for (const timer of timers) clearTimeout(timer);
  };
  const kill = (): void => {
    if (isOver) return;
    cancel();
    tools.kill();
  };
  const later = (ms: number, work: () => void): void => {
    if (!isOver) timers.push(setTimeout(work, ms));
  };
  const way = chance.next();
  // Into a conversation; behind the end of a memory; beside a new test; else by the time since the start.
  const atByte = way < 0.45 ? chance.whole(1, Math.max(1, tools.expectedBytes)) : Number.POSITIVE_INFINITY;
  const atTold = way >= 0.45 && way < 0.7 ? chance.whole(1, Math.max(1, docked)) : Number.POSITIVE_INFINITY;
  const isAtTest = way >= 0.7 && way < 0.8;
  const afterMs = chance.between(0, TAKE_IN_MS);
  if (way >= 0.8) later(tools.startMs * chance.between(0.4, 1.3), kill);
  let bytes = 0;
  let memories = 0;
  return {
    sent(more) {
      bytes += more;
      if (bytes >= atByte) kill();
    },
    told() {
      memories++;
      if (memories === atTold) later(afterMs, kill);
      if (!isAtTest || memories !== docked) return;
      later(afterMs, () => {
        tools.test();
        later(afterMs, kill);
      });
    },
    started: () => later(LATEST_MS, kill),
    cancel,
  };
}
