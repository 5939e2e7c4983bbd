/** What stands of a strip lot on a day. */
import type { StripLot } from '../../core/strip-lot.ts';
import { isExpired } from './expiry.ts';

/**
 * What stands of a lot on a local date `YYYY-MM-DD`: `unknown` where it is not registered; `good` also where its expiry
 * is not known. The expiry that the meter told with a test counts where the register has none.
 */
export function lotState(lot: StripLot | undefined, day: string, toldExpiry?: string): 'good' | 'expired' | 'unknown' {
  const expiry = lot?.expiry ?? toldExpiry;
  if (expiry !== undefined && isExpired(expiry, day)) return 'expired';
  return lot ? 'good' : 'unknown';
}
