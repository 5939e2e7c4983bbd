/** Leads a conversation through what a fuzzed meter says, with timers that end at random, up to its end. */
import { type Instant, instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import type { Talk, TalkInput } from '../../src/wire/talk.ts';
import { below, type Chance } from './mutate.ts';
import { promise } from './target.ts';

/** When every fuzzed conversation begins. */
export const T0: Instant = instant(Date.UTC(2026, 2, 2, 10, 15, 0));

const library = loadProfiles('no-such-folder');
/** The profiles under which fuzzed bytes are decoded. */
export const PROFILES = {
  line: library.get('tlp-generic'),
  newest: library.get('astm-generic-newest'),
  oldest: library.get('astm-generic-oldest'),
  query: library.get('port-alder-gm-20'),
} as const;

/**
 * Hands `said` to a conversation, piece by piece, and then closes the port. `onSent` sees all that is sent, and whether
 * everything had been made safe before. Throws BrokenPromise where the conversation does not end exactly once.
 */
export function driveTalk<S>(
  talk: Talk<S>,
  said: readonly Uint8Array[],
  chance: Chance,
  onSent: (data: Uint8Array, wasSecured: boolean) => void,
): void {
  let state = talk.initial;
  let at: number = T0;
  let ends = 0;
  let effectsLeft = 2000 + 20 * said.length;
  let timerMs: number | undefined;
  let isSecured = false;
  const give = (input: TalkInput): void => {
    const hadEnded = ends > 0;
    const next = talk.step(state, input);
    state = next.state;
    promise(!hadEnded || next.effects.length === 0, 'nothing is wanted after the end');
    let wantsSafe = false;
    for (const effect of next.effects) {
      promise(effectsLeft-- > 0, 'a conversation does not go round for ever');
      if (effect.kind === 'end') ends++;
      else if (effect.kind === 'timer') {
        promise(Number.isFinite(effect.afterMs) && effect.afterMs >= 0, 'a timer has a length');
        timerMs = effect.afterMs;
      } else if (effect.kind === 'timer-off') timerMs = undefined;
      else if (effect.kind === 'send') onSent(effect.data, isSecured);
      else if (effect.kind === 'secure') wantsSafe = true;
    }
    if (!wantsSafe) return;
    isSecured = true;
    give({ kind: 'safe', at: instant(at) });
    // What follows is mostly a wait for a full second, behind which the clock is set.
    if (chance() < 0.7) endTimer();
  };
  const endTimer = (): void => {
    if (timerMs === undefined) return;
    at += timerMs;
    timerMs = undefined;
    give({ kind: 'timer', at: instant(at) });
  };
  const impatience = chance() < 0.5 ? 0.02 : 0.3;
  give({ kind: 'opened', at: instant(at) });
  for (const data of said) {
    at += below(chance, 40);
    give({ kind: 'bytes', at: instant(at), data });
    const fate = chance();
    if (fate < impatience) endTimer();
    else if (fate > 0.998) give({ kind: 'stop', at: instant(at) });
  }
  for (let left = below(chance, 30); left > 0; left--) endTimer();
  give({ kind: 'closed', at: instant(at) });
  promise(ends === 1, 'a conversation ends exactly once');
}
