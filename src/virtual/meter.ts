/**
 * A meter that does not exist: its name, its memory and its clock together, and what can happen to it. Pure; true
 * time is handed in. Speakers tell it on the wire, `serve` puts it on a port, histories give it a life.
 */
import type { Instant } from '../core/instant.ts';
import { formatWall, type Wall } from '../core/meter-time.ts';
import { losePower as clockLosesPower, type MeterClock, readClock, setClock } from './clock.ts';
import { keep, type Memory, type TestFacts } from './memory.ts';

export interface VirtualMeter {
  readonly id: string;
  readonly model: string;
  readonly firmware: string;
  readonly memory: Memory;
  readonly clock: MeterClock;
  /** Resolution of the stamps of tests. */
  readonly stampResolutionMs: 1000 | 60_000;
  /** Resolution in which it tells its clock. */
  readonly clockResolutionMs: 1000 | 60_000;
  /** Whether it tells running numbers, its count of power losses, and what the clock shows after one. */
  readonly tellsRunNumbers: boolean;
  readonly tellsLosses: boolean;
  readonly tellsDefault: boolean;
}

/** What the meter's clock shows, cut to a resolution; `-` where it is not set. */
export function shownClock(meter: VirtualMeter, at: Instant, resolutionMs: number = meter.clockResolutionMs): string {
  const shows = readClock(meter.clock, at);
  return shows === undefined ? '-' : formatWall(shows, resolutionMs);
}

/** A test ends at a moment: it is stamped by the meter's clock and kept. */
export function makeTest(meter: VirtualMeter, at: Instant, facts: TestFacts): VirtualMeter {
  const stamp = shownClock(meter, at, meter.stampResolutionMs);
  return { ...meter, memory: keep(meter.memory, facts, stamp, meter.clock.losses) };
}

/** The batteries ran out and were changed: the results stay, the time is gone. */
export const losePower = (meter: VirtualMeter, at: Instant): VirtualMeter => ({
  ...meter,
  clock: clockLosesPower(meter.clock, at),
});

/** Somebody or something set the meter's clock. */
export const setMeterClock = (meter: VirtualMeter, at: Instant, shows: Wall): VirtualMeter => ({
  ...meter,
  clock: setClock(meter.clock, at, shows),
});
