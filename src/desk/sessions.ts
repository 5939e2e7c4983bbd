/**
 * Who is signed in, and for how long. A session is known by a random token that only the browser has; here is its hash.
 * Sessions live in memory: whoever restarts the daemon signs everybody out.
 */
import { createHash, randomBytes } from 'node:crypto';
import type { Instant } from '../core/instant.ts';

/** However busy: after so long one signs in again. */
const LONGEST_MS = 12 * 3_600_000;
/** The page locks itself; this is for pages that were closed without. */
const SLACK_MS = 60_000;

/** Who signed in, and the stored form of the passphrase with which: under another one the session is worth nothing. */
export interface SignedIn {
  readonly name: string;
  readonly passphrase: string;
}

interface Session extends SignedIn {
  readonly startedAt: Instant;
  usedAt: Instant;
}

export interface Sessions {
  /** Begins one; gives its token. */
  begin(who: SignedIn, now: Instant): string;
  /** Whose a token is, or undefined; `isUse`: somebody did something, not only the page by itself. */
  find(token: string | undefined, now: Instant, isUse: boolean): SignedIn | undefined;
  /** Ends one. */
  end(token: string | undefined): void;
  /** Ends all of an operator. */
  endAllOf(name: string): void;
  /** Calls back when a session has ended by somebody's doing. */
  onEnd(listener: () => void): () => void;
}

const keyOf = (token: string): string => createHash('sha256').update(token).digest('base64url');

/** Sessions that end after `idleMinutes` without use. */
export function makeSessions(idleMinutes: () => number): Sessions {
  const sessions = new Map<string, Session>();
  const listeners = new Set<() => void>();
  const tell = (): void => {
    for (const listener of listeners) listener();
  };
  return {
    begin({ name, passphrase }, now) {
      const idle = idleMinutes() * 60_000 + SLACK_MS;
      for (const [key, s] of sessions)
        if (now - s.usedAt > idle || now - s.startedAt > LONGEST_MS) sessions.delete(key);
      const token = randomBytes(32).toString('base64url');
      sessions.set(keyOf(token), { name, passphrase, startedAt: now, usedAt: now });
      return token;
    },
    find(token, now, isUse) {
      if (token === undefined) return undefined;
      const key = keyOf(token);
      const session = sessions.get(key);
      if (!session) return undefined;
      const isOver = now - session.usedAt > idleMinutes() * 60_000 + SLACK_MS || now - session.startedAt > LONGEST_MS;
      if (isOver) sessions.delete(key);
      else if (isUse) session.usedAt = now;
      return isOver ? undefined : session;
    },
    end(token) {
      if (token !== undefined && sessions.delete(keyOf(token))) tell();
    },
    endAllOf(name) {
      for (const [key, session] of sessions) if (session.name === name) sessions.delete(key);
      tell();
    },
    onEnd(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
  };
}
