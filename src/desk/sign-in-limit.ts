/**
 * How often a passphrase may be tried: after five wrong ones for a name, and after twenty in all, nothing is tried for
 * 30 seconds, and twice as long after each further one, up to a quarter of an hour. A right one clears the name. Pure.
 */
import { type Instant, instant } from '../core/instant.ts';

const FREE_FOR_NAME = 5;
const FREE_IN_ALL = 20;
const FIRST_REST_MS = 30_000;
const LONGEST_REST_MS = 900_000;
/** Wrong tries are forgotten after so long without one. */
const FORGET_MS = 3_600_000;
/** Names are kept in memory: whoever tries many must not fill it. */
const MOST_NAMES = 1000;

interface Tries {
  readonly wrong: number;
  readonly lastAt: Instant;
}

export interface SignInLimit {
  /** The moment from which a try is taken again; undefined where it is taken now. */
  restUntil(name: string, now: Instant): Instant | undefined;
  wrong(name: string, now: Instant): void;
  right(name: string): void;
}

/** A fresh limit. */
export function makeSignInLimit(): SignInLimit {
  const byName = new Map<string, Tries>();
  let all: Tries | undefined;
  const keyOf = (name: string): string => name.trim().toLowerCase().slice(0, 100);
  const rest = (tries: Tries | undefined, free: number, now: Instant): number => {
    if (!tries || tries.wrong < free || now - tries.lastAt > FORGET_MS) return 0;
    return tries.lastAt + Math.min(FIRST_REST_MS * 2 ** (tries.wrong - free), LONGEST_REST_MS);
  };
  const more = (tries: Tries | undefined, now: Instant): Tries => ({
    wrong: tries && now - tries.lastAt <= FORGET_MS ? tries.wrong + 1 : 1,
    lastAt: now,
  });
  return {
    restUntil(name, now) {
      const until = Math.max(rest(byName.get(keyOf(name)), FREE_FOR_NAME, now), rest(all, FREE_IN_ALL, now));
      return until > now ? instant(until) : undefined;
    },
    wrong(name, now) {
      const key = keyOf(name);
      const tries = more(byName.get(key), now);
      byName.delete(key);
      byName.set(key, tries);
      const [oldest] = byName.keys();
      if (byName.size > MOST_NAMES && oldest !== undefined) byName.delete(oldest);
      all = more(all, now);
    },
    right(name) {
      byName.delete(keyOf(name));
      all = undefined;
    },
  };
}
