/** How fast the daemon does things again: every waiting time of the docks in one place. All in milliseconds. */

export interface DaemonPace {
  /** Between two looks for ports while one is absent, and while none is. */
  readonly lookMs: number;
  readonly calmLookMs: number;
  /** First rest after trouble; it doubles with each failure of the same kind up to a ceiling. */
  readonly restMs: number;
  /** Ceiling for trouble with the port. */
  readonly restCeilingMs: number;
  /** Ceiling where only nobody answers: the dock is empty, or its device server is switched off. */
  readonly emptyCeilingMs: number;
  /** How often a docked meter is asked whether it is still the one. */
  readonly helloMs: number;
  /** After this long a docked meter is read again in any case; also the ceiling for a meter that is never read whole. */
  readonly rereadMs: number;
  /** How long one listening for a meter that sends by itself lasts before the next begins. */
  readonly listenMs: number;
  /** The same while it is only being found out how a meter speaks. */
  readonly probeMs: number;
  /** Before a download that could not be taken in is tried again. */
  readonly takeInMs: number;
}

export const PACE: DaemonPace = {
  lookMs: 2000,
  calmLookMs: 15_000,
  restMs: 1000,
  restCeilingMs: 300_000,
  emptyCeilingMs: 30_000,
  helloMs: 60_000,
  rereadMs: 3_600_000,
  listenMs: 60_000,
  probeMs: 20_000,
  takeInMs: 10_000,
};

/** The rest before the next try after so many failures of one kind in a row. */
export const restAfter = (failures: number, firstMs: number, ceilingMs: number): number =>
  Math.min(ceilingMs, firstMs * 2 ** Math.min(30, Math.max(0, failures - 1)));
