/** Strip lots as the clinic registers them. */
import { isExpired } from './expiry.ts';

/** One lot of strips. Figures are kept as printed: their digits say how exact they are. */
export interface StripLot {
  readonly lot: string;
  /** `YYYY-MM-DD` or `YYYY-MM`. */
  readonly expiry?: string;
  /** What is keyed into the meter. */
  readonly code?: string;
  /** International sensitivity index. */
  readonly isi?: string;
  /** Mean normal prothrombin time, seconds. */
  readonly mnpt?: string;
}

/**
 * What stands of a lot on a local date `YYYY-MM-DD`: `unknown` where it is not registered; `good` also where its expiry
 * is not known. The expiry that the meter told with a test counts where the register has none.
 */
export function lotState(lot: StripLot | undefined, day: string, toldExpiry?: string): 'good' | 'expired' | 'unknown' {
  const expiry = lot?.expiry ?? toldExpiry;
  if (expiry !== undefined && isExpired(expiry, day)) return 'expired';
  return lot ? 'good' : 'unknown';
}
