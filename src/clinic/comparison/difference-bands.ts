/** The differences, meter less laboratory, by stretch of the laboratory's values. */

import { isWithinSpan, spanInWords, type ValueSpan } from '../rules/agreement-rule.ts';
import type { ReportBands } from '../rules/comparison-habits.ts';
import { mean, median } from '../statistics/descriptive.ts';
import { isAllowed } from './agreement.ts';
import { differencePoint } from './bland-altman.ts';
import type { XY } from './points.ts';

export interface DifferenceBand {
  readonly span: ValueSpan;
  readonly words: string;
  readonly pairs: number;
  /** Pairs that are near in the sense of the bands, where they say what near is. */
  readonly near?: number;
  /** The least and the greatest difference, where there is a pair. */
  readonly least?: number;
  readonly greatest?: number;
  /** Only from `fewestPairs` on. `meanPercent` is of the mean of both values. */
  readonly mean?: number;
  readonly median?: number;
  readonly meanPercent?: number;
}

/** One row for each span, in their order, empty ones too. */
export function differenceBands(
  pairs: readonly XY[],
  { spans, nearUnits }: ReportBands,
  fewestPairs: number,
): readonly DifferenceBand[] {
  return spans.map((span) => {
    const mine = pairs.filter(({ x }) => isWithinSpan(x, span));
    const differences = mine.map((pair) => differencePoint(pair, 'absolute').difference);
    return {
      span,
      words: spanInWords(span),
      pairs: mine.length,
      ...(nearUnits === undefined ? {} : { near: mine.filter((pair) => isAllowed(pair, { units: nearUnits })).length }),
      ...(mine.length === 0 ? {} : { least: Math.min(...differences), greatest: Math.max(...differences) }),
      ...(mine.length === 0 || mine.length < fewestPairs
        ? {}
        : {
            mean: mean(differences),
            median: median(differences),
            meanPercent: mean(mine.map((pair) => differencePoint(pair, 'percent').difference)),
          }),
    };
  });
}
