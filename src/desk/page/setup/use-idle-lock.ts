/** Locks the desk after a time without a key, a click or a touch; and tells the server now and then that somebody is here. */
import { useEffect } from 'preact/hooks';
import { post } from '../call.ts';

/** The server's own clock of the session is wound up so often, at most. */
const HERE_MS = 60_000;

/** `minutes` undefined: never. */
export function useIdleLock(minutes: number | undefined, lock: () => unknown): void {
  useEffect(() => {
    if (minutes === undefined) return;
    let timer = setTimeout(lock, minutes * 60_000);
    let saidAt = Date.now();
    const again = (): void => {
      clearTimeout(timer);
      timer = setTimeout(lock, minutes * 60_000);
      if (Date.now() - saidAt < HERE_MS) return;
      saidAt = Date.now();
      void post('/api/here', {}).catch(() => {}); // a locked desk tells of itself
    };
    const signs = ['keydown', 'pointerdown', 'wheel'] as const;
    for (const sign of signs) addEventListener(sign, again, { passive: true });
    return () => {
      clearTimeout(timer);
      for (const sign of signs) removeEventListener(sign, again);
    };
  }, [minutes, lock]);
}
