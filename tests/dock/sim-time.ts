/** Time that passes only when it is told to: timers in a heap, run in order, so that days take seconds. */
import { type Instant, instant } from '../../src/core/instant.ts';
import type { Timers } from '../../src/wire/timers.ts';

interface Planned {
  readonly at: number;
  readonly order: number;
  run: (() => void) | undefined;
}

export interface SimTime {
  readonly timers: Timers;
  now(): Instant;
  /** Lets time pass up to a moment; everything due happens, with what follows from it. */
  runUntil(at: Instant): Promise<void>;
  /** Lets time pass until something holds; rejects after `withinMs`. */
  runUntilTrue(holds: () => boolean, withinMs: number): Promise<void>;
}

/** Lets promises come to rest: none of them waits for anything but its turn and these timers. */
async function settle(): Promise<void> {
  await new Promise<void>((resolve) => setImmediate(resolve));
}

export function simTime(startAt: Instant): SimTime {
  let now: number = startAt;
  let order = 0;
  const heap: Planned[] = [];
  const isBefore = (a: Planned, b: Planned): boolean => a.at < b.at || (a.at === b.at && a.order < b.order);
  const swap = (i: number, j: number): void => {
    const [a, b] = [heap[i], heap[j]];
    if (a && b) {
      heap[i] = b;
      heap[j] = a;
    }
  };
  const push = (item: Planned): void => {
    let i = heap.push(item) - 1;
    for (let up = (i - 1) >> 1; i > 0; i = up, up = (i - 1) >> 1) {
      const [child, parent] = [heap[i], heap[up]];
      if (!child || !parent || !isBefore(child, parent)) break;
      swap(i, up);
    }
  };
  const pop = (): Planned | undefined => {
    const [first] = heap;
    const last = heap.pop();
    if (heap.length > 0 && last) {
      heap[0] = last;
      for (let i = 0; ; ) {
        let least = i;
        for (const child of [2 * i + 1, 2 * i + 2]) {
          const [a, b] = [heap[child], heap[least]];
          if (a && b && isBefore(a, b)) least = child;
        }
        if (least === i) break;
        swap(i, least);
        i = least;
      }
    }
    return first;
  };

  /** Runs what is due at the next moment that has anything, if it is not after `limit`. */
  const next = async (limit: number): Promise<boolean> => {
    while (heap[0] && !heap[0].run) pop();
    const [first] = heap;
    if (!first || first.at > limit) return false;
    now = Math.max(now, first.at);
    while (heap[0] && heap[0].at <= now) {
      const item = pop();
      const run = item?.run;
      if (!item || !run) continue;
      item.run = undefined;
      run();
    }
    await settle();
    return true;
  };

  return {
    timers: {
      after(ms, run) {
        const item: Planned = { at: Math.ceil(now + ms), order: order++, run };
        push(item);
        return () => {
          item.run = undefined;
        };
      },
    },
    now: () => instant(now),
    async runUntil(at) {
      await settle();
      while (await next(at));
      now = Math.max(now, at);
    },
    async runUntilTrue(holds, withinMs) {
      const limit = now + withinMs;
      await settle();
      while (!holds()) {
        if (!(await next(limit))) throw new Error(`this did not happen within ${withinMs / 1000} simulated seconds`);
      }
    },
  };
}
