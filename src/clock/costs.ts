/**
 * What the clock room assumes about people, batteries and crystals. The costs are natural logarithms of odds: a story
 * that costs 3 more than another is taken as about twenty times less likely. They are judgements, not measurements:
 * most gaps between two downloads see no change at all (so any change costs 2 once), a power loss and a clock set
 * right are the everyday changes (2 each), a slip of an hour or twelve hours is rarer (4), day and month exchanged or
 * a wrong year rarer still (4.5), and a jump that fits nothing is close to unheard of (9).
 */

/** How a stretch of undisturbed clock can have begun. */
export const CHANGE_KINDS = ['loss', 'set-right', 'hour', 'half-day', 'day-month', 'year', 'unexplained'] as const;
export type ChangeKind = (typeof CHANGE_KINDS)[number];

/** Cost of each change. */
export const CHANGE_COST: Readonly<Record<ChangeKind, number>> = {
  loss: 2,
  'set-right': 2,
  hour: 4,
  'half-day': 4,
  'day-month': 4.5,
  year: 4.5,
  unexplained: 9,
};

/** Cost, once for a gap between two anchors, of anything having been changed at all. */
export const ANY_CHANGE_COST = 2;

/** Stories that cost at most this much more than the cheapest are covered by the bounds. */
export const MARGIN = 3;

/** A hand that sets a clock is taken to be right within this (ms): people set by a wall clock or a telephone. */
export const HAND_TOLERANCE_MS = 5 * 60_000;

/** Two stamps in a row of one epoch do not lie further apart than a meter can plausibly rest. */
export const LONGEST_REST_MS = 400 * 86_400_000;

/** A meter is taken to have been in use for at most this long before its first download, unless told (3 years). */
export const USE_BEFORE_FIRST_DOWNLOAD_MS = 3 * 365.25 * 86_400_000;

/**
 * How many stories of one gap are followed at the most. Ordinary gaps need a few hundred. Beyond this the bounds fall
 * back to what the order of events alone proves, which is wide but true.
 */
export const STORY_LIMIT = 60_000;
