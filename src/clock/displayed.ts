/**
 * Times read from the meter's own stamp as local time: for meters of which no download ever showed the clock, and as
 * the estimate of tests that nothing but the order bounds (somebody had perhaps set the clock right).
 */
import { instant } from '../core/instant.ts';
import type { Placement } from '../core/placement.ts';
import type { Zone } from '../core/zone.ts';
import type { ClockHistory, ClockTest } from './history.ts';

/** The stamp read as local time where that lies within the bounds (true time, ms); undefined where it does not. */
export function localEstimate(test: ClockTest, zone: Zone, lo: number, hi: number): number | undefined {
  if (!test.stamp) return undefined;
  const m = zone.momentOf(test.stamp.wall);
  const candidates = m.kind === 'unique' ? [m.at] : [m.earlier, m.later];
  const half = test.stamp.resolutionMs / 2;
  return candidates.map((c) => c + half).find((c) => c >= lo && c <= hi);
}

/** Placements of a meter without any anchor. */
export function displayed(history: ClockHistory): { id: string; placement: Placement }[] {
  const tests = history.items.filter((i) => i.kind === 'test');
  let before = Number.NEGATIVE_INFINITY;
  return tests.map((test) => {
    const zone = history.zone;
    const flags: string[] = [];
    let at: number | undefined;
    if (test.stamp) {
      const m = zone.momentOf(test.stamp.wall);
      const half = test.stamp.resolutionMs / 2;
      if (m.kind === 'unique') at = m.at + half;
      else if (m.kind === 'repeated') {
        // The hour that happens twice: the order of the tests decides where it can.
        at = m.earlier + half < before ? m.later + half : m.earlier + half;
        if (m.earlier + half >= before) flags.push('time-repeated-hour');
      } else {
        at = m.later + half;
        flags.push('time-skipped-hour');
      }
      before = Math.max(before, at);
    }
    return {
      id: test.id,
      placement: {
        ...(at === undefined ? {} : { takenAt: instant(Math.round(Math.min(at, test.toldBy))) }),
        latest: test.toldBy,
        basis: 'displayed' as const,
        reason:
          at === undefined
            ? "No download showed the meter's clock and the test has no readable stamp: only the download bounds its time."
            : `No download showed the meter's clock: this is the meter's own stamp read as local time in ${zone.name}.`,
        flags,
      },
    };
  });
}
