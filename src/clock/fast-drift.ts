/**
 * A clock that runs off faster than its profile allows looks like a change in every gap. Where two gaps in a row are
 * off in the same direction at nearly the same rate and nothing else tells of a change, it is one incident of drift,
 * not two of a hand.
 */
import { instant } from '../core/instant.ts';
import { localMinute } from '../core/local-words.ts';
import type { Incident } from '../core/placement.ts';
import { middle } from './anchors.ts';
import type { GapReport } from './gap-times.ts';

/** Rates up to this many times the profile's limit can be a sick crystal; beyond, it is a change. */
const MOST_TIMES_LIMIT = 20;

/** 1 ppm in 30 days. */
export const SECONDS_A_MONTH = 2.592;

/** The rate of a gap in which one change might as well be a steady drift beyond the limit, ppm. */
export function rateOf({ gap, ends, times }: GapReport, limitPpm: number): number | undefined {
  if (!gap.first || !gap.last || !ends.first || !ends.last || times.changes.length !== 1) return undefined;
  const ppm = ((middle(ends.last) - middle(ends.first)) / (gap.last.wall - gap.first.wall)) * 1e6;
  return Math.abs(ppm) > limitPpm && Math.abs(ppm) <= MOST_TIMES_LIMIT * limitPpm ? ppm : undefined;
}

/** A gap's incidents, with its clock change told as fast drift where the gap before or after runs alike. */
export function fastDrift(
  { gap: { first, last } }: GapReport,
  incidents: readonly Incident[],
  here: number | undefined,
  before: number | undefined,
  after: number | undefined,
  limitPpm: number,
): Incident[] {
  const rate = here ?? Number.NaN;
  const isLike = (other = Number.NaN): boolean => Math.abs(rate - other) <= 0.2 * Math.abs(rate);
  if (!first || !last || !(isLike(before) || isLike(after))) return [...incidents];
  const from = instant(first.at.lo);
  const to = instant(last.at.hi);
  const { zone } = last;
  const month = Math.round(rate * SECONDS_A_MONTH);
  return incidents.map((incident) =>
    incident.kind !== 'clock-changed'
      ? incident
      : {
          kind: 'fast-drift',
          earliest: from,
          latest: to,
          sizeS: Math.round((rate * 1e-6 * (last.wall - first.wall)) / 1000),
          likelyCause: 'the clock runs off faster than its kind should',
          explanation: `Between ${localMinute(from, zone)} and ${localMinute(to, zone)} the meter's clock ${month < 0 ? 'lost' : 'gained'} ${Math.abs(month)} seconds a month (${Math.round(rate)} ppm), more than the ${limitPpm} ppm of its profile. Have the meter checked.`,
        },
  );
}
