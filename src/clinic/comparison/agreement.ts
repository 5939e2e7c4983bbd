/**
 * How many differences lie within the bands of a rule. The wording is 'compared with', never that a meter conforms: a
 * standard asks for its own samples, people and procedure, which a clinic's pairs are not.
 */
import type { Source } from '../facts.ts';
import {
  type AgreementRule,
  type AllowedDifference,
  isWithinSpan,
  spanInWords,
  type ValueSpan,
} from '../rules/agreement-rule.ts';
import { millionths } from './millionths.ts';
import type { XY } from './points.ts';

/** The differences of one stretch of laboratory values. */
export interface BandCount {
  readonly span: ValueSpan;
  readonly words: string;
  readonly allowed: AllowedDifference;
  readonly pairs: number;
  readonly within: number;
}

/** One demand of a rule beside what was found. */
export interface DemandResult {
  readonly atLeastPercent: number;
  readonly bands: readonly BandCount[];
  /** All bands together; pairs that no band covers are left out. */
  readonly pairs: number;
  readonly within: number;
  readonly notCovered: number;
  readonly verdict: 'reached' | 'not reached' | 'too few pairs';
  /** `Compared with NAME EDITION: …`, to be shown with the verdict. */
  readonly sentence: string;
}

export interface Agreement {
  readonly source: Source;
  readonly demands: readonly DemandResult[];
}

/** Whether the meter's value lies within an allowed difference of the laboratory's, the limit included. */
export function isAllowed({ x, y }: XY, allowed: AllowedDifference): boolean {
  const difference = Math.abs(millionths(y) - millionths(x));
  return 'units' in allowed
    ? difference <= millionths(allowed.units)
    : difference * 100 <= allowed.percent * millionths(x);
}

/** Holds the pairs against every demand of a rule. Fewer than `fewestPairs` in its bands are counted, not judged. */
export function compareWithRule(pairs: readonly XY[], rule: AgreementRule, fewestPairs: number): Agreement {
  const name = `${rule.source.name} ${rule.source.edition}`;
  return {
    source: rule.source,
    demands: rule.demands.map(({ atLeastPercent, limits }) => {
      const bands = limits.map(({ span, allowed }) => countBand(pairs, span, allowed));
      const covered = total(bands.map((band) => band.pairs));
      const within = total(bands.map((band) => band.within));
      const verdict =
        covered < fewestPairs ? 'too few pairs' : within * 100 >= atLeastPercent * covered ? 'reached' : 'not reached';
      return {
        atLeastPercent,
        bands,
        pairs: covered,
        within,
        notCovered: pairs.length - covered,
        verdict,
        sentence: sentenceOf(name, atLeastPercent, covered, within, verdict),
      };
    }),
  };
}

function countBand(pairs: readonly XY[], span: ValueSpan, allowed: AllowedDifference): BandCount {
  const mine = pairs.filter(({ x }) => isWithinSpan(x, span));
  return {
    span,
    words: spanInWords(span),
    allowed,
    pairs: mine.length,
    within: mine.filter((pair) => isAllowed(pair, allowed)).length,
  };
}

function sentenceOf(
  name: string,
  atLeastPercent: number,
  pairs: number,
  within: number,
  verdict: DemandResult['verdict'],
): string {
  const found = `Compared with ${name}: ${within} of ${pairs} differences`;
  if (verdict === 'too few pairs') return `${found} lie within its bands; too few pairs to judge`;
  // Cut, not rounded: 89.96 % is not to be read as 90.0 %.
  const percent = (Math.floor((within * 1000) / pairs) / 10).toFixed(1);
  return `${found} (${percent} %) lie within its bands; it asks for at least ${atLeastPercent} %: ${verdict}`;
}

const total = (counts: readonly number[]): number => counts.reduce((sum, count) => sum + count, 0);
