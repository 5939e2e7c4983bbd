/**
 * Whether a person's values have been rising or falling lately. Best estimates of the times; values beyond the meter's
 * range as the number shown. A sentence only where the limits of the slope leave no doubt about its direction.
 */
import type { Instant } from '../../core/instant.ts';
import type { LocalDate } from '../facts.ts';
import type { TREND_HABITS } from '../rules/trend-habits.ts';
import { DAY_MS, type DatedPoint, lastDays, within } from './dated-point.ts';
import { type NotCalculable, notCalculable } from './figure.ts';
import { theilSen } from './theil-sen.ts';

export interface Trend {
  readonly kind: 'known';
  /** Slope, in the unit of the values, a week. */
  readonly perWeek: number;
  readonly low: number;
  readonly high: number;
  readonly confidence: number;
  /** The window, and the tests in it. */
  readonly windowDays: number;
  readonly tests: number;
  readonly from: Instant;
  readonly until: Instant;
  readonly direction: 'rising' | 'falling' | 'none-shown';
  /** Present unless `none-shown`. */
  readonly sentence?: string;
}

/** The trend of the last tests before now. */
export function trendOf(
  tests: readonly DatedPoint[],
  { windowDays, confidence }: Omit<typeof TREND_HABITS, 'source'>,
  now: Instant,
  localDate: LocalDate,
): Trend | NotCalculable {
  const looked = within(tests, lastDays(windowDays, now, localDate));
  const [first, last] = [looked[0], looked.at(-1)];
  if (!first || !last) return notCalculable('too-few-tests', `No tests in the last ${windowDays} days.`);
  const points = looked.map(({ time, value }) => ({ x: (time.at - first.time.at) / (7 * DAY_MS), y: value }));
  const line = theilSen(points, confidence);
  if (!line?.limits)
    return notCalculable('too-few-tests', `${looked.length} tests in the last ${windowDays} days are too few.`);
  const { slope, limits } = line;
  const direction = limits.low > 0 ? 'rising' : limits.high < 0 ? 'falling' : 'none-shown';
  const percent = Math.round(confidence * 100);
  const sentence = `The value has been ${direction} by about ${shown(Math.abs(slope))} a week over ${looked.length} tests of the last ${windowDays} days (${percent} % limits ${shown(limits.low)} to ${shown(limits.high)}).`;
  return {
    kind: 'known',
    perWeek: slope,
    ...limits,
    confidence,
    windowDays,
    tests: looked.length,
    from: first.time.at,
    until: last.time.at,
    direction,
    ...(direction !== 'none-shown' && { sentence }),
  };
}

/** Two figures are all that a slope of a few tests is good for. */
const shown = (value: number): string => String(Number(value.toPrecision(2)));
