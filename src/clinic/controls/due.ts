/**
 * When the next control test of a meter with a strip lot is due by the local plan, and which tests were made without it.
 * Every plan asks for controls with each new strip lot: a lot that was never controlled is due at its first test.
 */
import type { Instant } from '../../core/instant.ts';
import { instant } from '../../core/instant.ts';
import type { Source } from '../facts.ts';
import type { JudgedControl } from './assess.ts';
import type { ControlKind } from './level.ts';
import { levelsInQuestion } from './match-level.ts';

/** What the local plan asks for, with each new strip lot and: at intervals, where one is given. */
export interface ControlPlan {
  /** How many different levels must pass. */
  readonly levels: number;
  readonly kind: ControlKind;
  /**
   * Good for so many hours. A meter that stands unused is not operated: so nothing is overdue until it is used again, and
   * then before the first test.
   */
  readonly everyHoursOfOperation?: number;
  /** Good for so many days, used or not. */
  readonly everyDays?: number;
  readonly source: Source;
}

/**
 * `in-time`: nothing to do. `due`: control before the next test. `overdue`: a test was made since it was due, or the days
 * are over.
 */
export interface ControlDue {
  readonly status: 'in-time' | 'due' | 'overdue';
  /** When the plan was last met: the oldest of the newest passes of as many levels as it asks for. */
  readonly lastGood?: Instant;
  /** When the next controls are due; absent where only a new lot asks for them, or none were ever good. */
  readonly nextDue?: Instant;
  /** Tests of the last stretch that were made though controls were due. */
  readonly testsWithout: number;
  readonly sentence: string;
}

const HOUR = 3_600_000;

/** What is asked for. */
export interface DueQuestion {
  readonly meter: string;
  readonly stripLot: string | undefined;
  readonly judged: readonly JudgedControl[];
  /** When patients' tests of this meter and lot were made. */
  readonly tests: readonly Instant[];
  readonly now: Instant;
}

/** How a meter with a strip lot stands against the plan. Electronic controls are not tied to a strip lot. */
export function controlsDue(plan: ControlPlan, { meter, stripLot, judged, tests, now }: DueQuestion): ControlDue {
  const passes = new Map<string, Instant>();
  for (const { reading, kind, match, outcome, isExpired } of judged) {
    const isOfLot = kind === 'electronic' || reading.stripLot === stripLot;
    if (reading.meter !== meter || kind !== plan.kind || !isOfLot || reading.time.at > now) continue;
    const levels = levelsInQuestion(match);
    // A level that failed has to pass again before it counts.
    if (outcome === 'reject') for (const { level } of levels) passes.delete(level);
    else if (outcome !== 'unassigned' && !isExpired) for (const { level } of levels) passes.set(level, reading.time.at);
  }
  const lastGood = [...passes.values()].sort((a, b) => b - a)[plan.levels - 1];
  const levels = plan.levels === 1 ? 'a control' : `controls of ${plan.levels} levels`;
  if (lastGood === undefined) {
    const without = tests.filter((t) => t <= now).length;
    return {
      status: without > 0 ? 'overdue' : 'due',
      testsWithout: without,
      sentence: `This meter needs ${levels}${plan.kind === 'liquid' ? ' with this strip lot' : ''} before it is used${made(without)}.`,
    };
  }
  const hours = plan.everyHoursOfOperation ?? Number.POSITIVE_INFINITY;
  const days = plan.everyDays ?? Number.POSITIVE_INFINITY;
  const nextMs = lastGood + Math.min(hours, days * 24) * HOUR;
  if (!Number.isFinite(nextMs))
    return { status: 'in-time', lastGood, testsWithout: 0, sentence: 'No controls are due until the next strip lot.' };
  const nextDue = instant(nextMs);
  const without = tests.filter((t) => t >= nextDue && t <= now).length;
  const isOver = now >= lastGood + days * 24 * HOUR;
  const status = now < nextDue ? 'in-time' : isOver || without > 0 ? 'overdue' : 'due';
  const sentence =
    status === 'in-time'
      ? 'The controls are in time.'
      : status === 'due'
        ? `Before its next test this meter needs ${levels}.`
        : `This meter needed ${levels}${made(without)}.`;
  return { status, lastGood, nextDue, testsWithout: without, sentence };
}

const made = (without: number): string =>
  without === 0 ? '' : `; ${without} ${without === 1 ? 'test was' : 'tests were'} made without`;
