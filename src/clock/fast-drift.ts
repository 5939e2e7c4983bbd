/**
 * A clock that runs off faster than its profile allows looks like a change in every gap. Where two gaps in a row are
 * off in the same direction at nearly the same rate and nothing else tells of a change, it is one incident of drift,
 * not two of a hand.
 */
import { instant } from '../core/instant.ts';
import type { Incident } from '../core/placement.ts';
import { middle } from './anchors.ts';
import type { GapReport } from './gap-times.ts';
import { localMinute } from './sentences.ts';

/** Rates up to this many times the profile's limit can be a sick crystal; beyond, it is a change. */
const MOST_TIMES_LIMIT = 20;

/** Replaces the clock changes that a steady fast drift explains by incidents of that kind. */
export function fastDriftIncidents(
  reports: readonly GapReport[],
  incidents: readonly Incident[],
  limitPpm: number,
): Incident[] {
  const rates = reports.map(({ gap, ends, times }) => {
    if (!gap.first || !gap.last || !ends.first || !ends.last || times.changes.length !== 1) return undefined;
    const ppm = ((middle(ends.last) - middle(ends.first)) / (gap.last.wall - gap.first.wall)) * 1e6;
    return Math.abs(ppm) > limitPpm && Math.abs(ppm) <= MOST_TIMES_LIMIT * limitPpm ? ppm : undefined;
  });
  const out = [...incidents];
  reports.forEach((report, i) => {
    const here = rates[i];
    const next = rates[i + 1];
    const before = rates[i - 1];
    const like = (other: number | undefined): boolean =>
      here !== undefined && other !== undefined && Math.abs(here - other) <= 0.2 * Math.abs(here);
    if (here === undefined || !report.gap.first || !report.gap.last || !(like(next) || like(before))) return;
    const from = instant(report.gap.first.at.lo);
    const to = instant(report.gap.last.at.hi);
    const at = out.findIndex((x) => x.kind === 'clock-changed' && (x.earliest ?? 0) >= from && (x.latest ?? 0) <= to);
    if (at === -1) return;
    const zone = report.gap.last.zone;
    const month = Math.round(here * 2.592);
    out[at] = {
      kind: 'fast-drift',
      earliest: from,
      latest: to,
      sizeS: Math.round((here * 1e-6 * (report.gap.last.wall - report.gap.first.wall)) / 1000),
      likelyCause: 'the clock runs off faster than its kind should',
      explanation: `Between ${localMinute(from, zone)} and ${localMinute(to, zone)} the meter's clock gained ${month} seconds a month (${Math.round(here)} ppm), more than the ${limitPpm} ppm of its profile. Have the meter checked.`,
    };
  });
  return out;
}
