/** One meter's clock at a glance: how far off it is, how it drifts, how often it lost power. */
import { type Instant, instant } from '../core/instant.ts';
import type { Incident } from '../core/placement.ts';
import { middle } from './anchors.ts';
import { SECONDS_A_MONTH } from './fast-drift.ts';
import type { PlaceResult } from './place.ts';

export interface MeterClock {
  /** Clock minus true local time when it was last seen, seconds; absent where no download saw it. */
  readonly offS?: number;
  readonly seenAt?: Instant;
  /** The meter's own drift; absent until two downloads 4 hours or more apart saw the same stretch of its clock. */
  readonly drift?: {
    readonly ppm: number;
    /** One standard deviation. */
    readonly sdPpm: number;
    /** Seconds in 30 days; positive = the clock gains. */
    readonly secondsAMonth: number;
  };
  readonly powerLosses: number;
  readonly clockChanges: number;
  readonly lastPowerLoss?: Incident;
}

/** Sums up what placing found. */
export function meterClock({ gaps, drift, incidents }: PlaceResult): MeterClock {
  const last = gaps.at(-1);
  // The last gap is open at its end where the clock was set, or tests came after the last download's anchor.
  const at = last?.gap.last ?? last?.gap.first;
  const offset = last?.gap.last ? last.ends.last : last?.ends.first;
  const losses = incidents.filter((i) => i.kind === 'power-loss');
  const lastLoss = losses.at(-1);
  const ppm = drift.rate * 1e6;
  return {
    ...(at && offset
      ? {
          offS: Math.round((middle(offset) - at.zone.offsetAt(instant(middle(at.at)))) / 100) / 10,
          seenAt: instant(Math.round(middle(at.at))),
        }
      : {}),
    ...(drift.learned ? { drift: { ppm, sdPpm: drift.sd * 1e6, secondsAMonth: ppm * SECONDS_A_MONTH } } : {}),
    powerLosses: losses.length,
    clockChanges: incidents.filter((i) => i.kind === 'clock-changed').length,
    ...(lastLoss ? { lastPowerLoss: lastLoss } : {}),
  };
}
