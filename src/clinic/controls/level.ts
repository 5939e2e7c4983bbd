/** Control materials: what a level is expected to give. */

/** Liquid controls test strip, meter and hand; electronic ones the meter alone. They are never judged together. */
export type ControlKind = 'liquid' | 'electronic';

/** One level of one lot of a control material, as its insert says. */
export interface ControlLevel {
  /** Lot of the control material, not of the strips. */
  readonly lot: string;
  /** Its name, the same from lot to lot: `1`, `2`, `high`. */
  readonly level: string;
  readonly analyte: string;
  readonly kind: ControlKind;
  readonly limits: StatedLimits;
  /** `YYYY-MM-DD` or `YYYY-MM`. */
  readonly expiry?: string;
}

/** Mean and standard deviation; or a printed range, with how many standard deviations the insert means on either side. */
export type StatedLimits =
  | { readonly mean: number; readonly sd: number }
  | { readonly low: number; readonly high: number; readonly rangeSd: 2 | 3 };

/** What z scores are taken against. `stated`: given as such; `range`: made of a printed range; `own`: from own values. */
export interface ControlLimits {
  readonly mean: number;
  readonly sd: number;
  readonly basis: 'stated' | 'range' | 'own';
}

/** Mean and standard deviation of a level. Of a range: its middle, and its width over twice `rangeSd`. */
export function statedLimits({ limits }: ControlLevel): ControlLimits {
  if ('mean' in limits) return { mean: limits.mean, sd: limits.sd, basis: 'stated' };
  const { low, high, rangeSd } = limits;
  return { mean: (low + high) / 2, sd: (high - low) / (2 * rangeSd), basis: 'range' };
}

/** Standard deviations above (or, negative, below) the mean. */
export const zScore = (value: number, { mean, sd }: ControlLimits): number => (value - mean) / sd;

/** Names the material: a lot and level for an analyte. Charts and histories are kept by it. */
export const materialOf = ({ lot, level, analyte }: ControlLevel): string => JSON.stringify([lot, level, analyte]);
