/** Limits for INR that a clinic may change, each with where its default comes from. */
import type { Source } from '../facts.ts';

/** A value under `low`, or at or over `high`, is critical. */
export interface CriticalLimits {
  readonly low: number;
  readonly high: number;
}

/** Critical INR. */
export const INR_CRITICAL: CriticalLimits & { readonly source: Source } = {
  low: 1.5,
  high: 5,
  source: {
    name: 'Critical INR',
    edition: '2015',
    citation:
      'upper: usual among laboratories, which differ from 2.6 to 10.0 (Clin Biochem 2015;48:483; Arch Pathol Lab Med 2015;139:1108); lower: the mark of NICE NG196',
  },
};

/** A meter's INR from here on is to be confirmed by a venous test. */
export const INR_CONFIRM: { readonly from: number; readonly source: Source } = {
  from: 4.5,
  source: {
    name: 'Venous confirmation',
    edition: 'as cited',
    citation: 'advice of the FDA as cited in a letter to JAMA; laboratories differ from 4.0 to 8.0',
  },
};

/** Nobody should go longer without a test than so many days. */
export const INR_LONGEST_INTERVAL: { readonly days: number; readonly source: Source } = {
  days: 84,
  source: {
    name: 'Longest interval',
    edition: 'ACCP, 9th edition',
    citation: 'up to 12 weeks for stable people, Chest 2012;141:e152S (grade from memory)',
  },
};
