/** Locks the desk after a time without a key, a click or a touch. */
import { useEffect } from 'preact/hooks';

/** `minutes` undefined: never. */
export function useIdleLock(minutes: number | undefined, lock: () => unknown): void {
  useEffect(() => {
    if (minutes === undefined) return;
    let timer = setTimeout(lock, minutes * 60_000);
    const again = (): void => {
      clearTimeout(timer);
      timer = setTimeout(lock, minutes * 60_000);
    };
    const signs = ['keydown', 'pointerdown', 'wheel'] as const;
    for (const sign of signs) addEventListener(sign, again, { passive: true });
    return () => {
      clearTimeout(timer);
      for (const sign of signs) removeEventListener(sign, again);
    };
  }, [minutes, lock]);
}
