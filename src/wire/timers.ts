/** Timers as a thing that is handed in, so that days can pass in a test within seconds. */

export interface Timers {
  /** Runs `run` once after this many milliseconds, unless the returned function is called before. */
  after(ms: number, run: () => void): () => void;
}

/** The platform's own timers. */
export const realTimers: Timers = {
  after(ms, run) {
    const running = setTimeout(run, ms);
    return () => clearTimeout(running);
  },
};
