/**
 * Where a value stands: against the target in force at its time and the clinic's critical limits. A value beyond what the
 * meter can show (`<0.8`, `>8.0`) is not the number shown: it counts as the most critical that it may be, and where that
 * is not certain, it is said. Never a diagnosis, never advice on a dose.
 */
import type { Standing } from '../../core/outgoing.ts';
import type { CoursePoint, Target } from '../facts.ts';
import type { CriticalLimits } from '../rules/inr-limits.ts';
import { targetAt, targetsWithin } from './target-at.ts';

/** What a value may be critical of, and from where on it is to be confirmed by a laboratory. All in the value's unit. */
export interface ValueLimits {
  /** Absent: nothing is critical. */
  readonly critical?: CriticalLimits;
  /** Absent: only values beyond the meter's range are to be confirmed. */
  readonly confirmFrom?: number;
}

/** A value's place against a range alone. */
export type Position = 'below' | 'in' | 'above' | 'no-target';

export interface Judgement {
  /** Critical comes first, with or without a target. */
  readonly standing: Standing;
  /** Against the target alone. */
  readonly position: Position;
  /** False where bounds of time, or a value beyond the meter's range, allow for another standing. */
  readonly isCertain: boolean;
  /** True where local policy usually asks for a laboratory value: high, or beyond the meter's range. */
  readonly toConfirm: boolean;
  /** The target in force at its best time; absent where there is none. */
  readonly target?: Target;
}

/** A number as a meter shows it, perhaps beyond what it can show. */
export type Shown = Pick<CoursePoint, 'value' | 'beyond'>;

/** Judges a value. Targets in order of their moments. */
export function judge(point: CoursePoint, targets: readonly Target[], limits: ValueLimits): Judgement {
  const target = targetAt(targets, point.time.at);
  const position = positionOf(point, target);
  const critical = criticalOf(point, limits.critical);
  const others = targetsWithin(targets, point.time).map((other) => positionOf(point, other).place);
  return {
    standing: critical?.place ?? position.place,
    position: position.place,
    isCertain: critical ? critical.isCertain : position.isCertain && others.every((other) => other === position.place),
    toConfirm: point.beyond !== undefined || (limits.confirmFrom !== undefined && point.value >= limits.confirmFrom),
    ...(target && { target }),
  };
}

/** A value against a range, limits inclusive; not certain where a value beyond the meter's range may lie elsewhere. */
export function positionOf(
  { value, beyond }: Shown,
  target: Pick<Target, 'low' | 'high'> | undefined,
): { place: Position; isCertain: boolean } {
  if (!target) return { place: 'no-target', isCertain: true };
  if (beyond === '<') return { place: 'below', isCertain: value <= target.low };
  if (beyond === '>') return { place: 'above', isCertain: value >= target.high };
  return { place: value < target.low ? 'below' : value > target.high ? 'above' : 'in', isCertain: true };
}

function criticalOf(
  { value, beyond }: Shown,
  critical: CriticalLimits | undefined,
): { place: 'critical-low' | 'critical-high'; isCertain: boolean } | undefined {
  if (!critical) return undefined;
  if (beyond === '<') return { place: 'critical-low', isCertain: value <= critical.low };
  if (beyond === '>') return { place: 'critical-high', isCertain: value >= critical.high };
  if (value < critical.low) return { place: 'critical-low', isCertain: true };
  return value >= critical.high ? { place: 'critical-high', isCertain: true } : undefined;
}
