/**
 * The clock of a meter that does not exist: it runs a little fast or slow, the rate sways with the seasons, it loses
 * its time with its power and is set by hand or by the gateway. True time is handed in; the clock is exact arithmetic.
 */
import type { Instant } from '../core/instant.ts';
import { type Wall, wall } from '../core/meter-time.ts';

const YEAR_MS = 365.25 * 86_400_000;

/** How fast a clock runs. Positive: it gains. */
export interface Rate {
  /** Steady part, parts per million. */
  readonly ppm: number;
  /** Height of a yearly sway around it (a crystal is slow in the cold), parts per million. */
  readonly swayPpm?: number;
  /** Where in its year the sway begins, 0 to 1. */
  readonly swayPhase?: number;
}

export interface MeterClock {
  readonly rate: Rate;
  /** What it shows when power comes back; absent: it is then not set. */
  readonly defaultStamp?: Wall;
  /** Power losses over its life. */
  readonly losses: number;
  /** When it was last given a time, and which; absent: not set. */
  readonly setting?: { readonly at: Instant; readonly shows: Wall };
}

/** What the clock shows at a moment, to the millisecond; undefined where it is not set. */
export function readClock(clock: MeterClock, at: Instant): Wall | undefined {
  const { setting, rate } = clock;
  if (!setting) return undefined;
  return wall(setting.shows + (at - setting.at) + gained(rate, setting.at, at));
}

/** Milliseconds that a clock of this rate gains between two moments: the integral of its rate. */
function gained({ ppm, swayPpm = 0, swayPhase = 0 }: Rate, from: Instant, to: Instant): number {
  const turn = (at: Instant): number => 2 * Math.PI * (at / YEAR_MS - swayPhase);
  const sway = (swayPpm * YEAR_MS * (Math.cos(turn(from)) - Math.cos(turn(to)))) / (2 * Math.PI);
  return (ppm * (to - from) + sway) / 1e6;
}

/** The clock after somebody set it to `shows` at `at`. */
export const setClock = (clock: MeterClock, at: Instant, shows: Wall): MeterClock => ({
  ...clock,
  setting: { at, shows },
});

/** The clock after its power was gone; `at` is when power came back. It runs from its default stamp, if it has one. */
export function losePower(clock: MeterClock, at: Instant): MeterClock {
  const { setting: _lost, ...rest } = clock;
  const after = { ...rest, losses: clock.losses + 1 };
  return clock.defaultStamp === undefined ? after : setClock(after, at, clock.defaultStamp);
}
