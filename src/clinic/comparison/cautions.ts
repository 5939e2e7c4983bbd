/** What a reader must know before believing the figures of a comparison: a stable word and a sentence each. */
import { PASSING_BABLOK_MOST_PAIRS, type PassingBablokFit } from './passing-bablok.ts';
import type { ComparisonSettings } from './settings.ts';

export type CautionCode =
  | 'too-few-pairs'
  | 'few-pairs'
  | 'same-people'
  | 'time-unsure'
  | 'off-scale'
  | 'no-line'
  | 'bends';

export interface Caution {
  readonly code: CautionCode;
  readonly sentence: string;
}

/** What is counted in a comparison. */
export interface ComparisonCounts {
  readonly laboratory: number;
  readonly readings: number;
  /** Laboratory values without a reading near enough. */
  readonly alone: number;
  readonly paired: number;
  readonly surely: number;
  readonly possibly: number;
  /** Pairs with a value beyond its measuring range; they are in none of the figures below. */
  readonly offScale: number;
  /** Pairs that the figures rest on, and how many people they are of. */
  readonly judged: number;
  readonly people: number;
}

/** The cautions, the gravest first. `fit` is absent where no line of Passing and Bablok could be laid. */
export function cautionsOf(
  counts: ComparisonCounts,
  settings: ComparisonSettings,
  fit: PassingBablokFit | undefined,
): readonly Caution[] {
  const { judged, people, possibly, offScale } = counts;
  const fewest = settings.fewestPairs.value;
  const enough = settings.enoughPairs.value;
  const hours = settings.withinHours.value;
  const found: Caution[] = [];
  const say = (isSo: boolean, code: CautionCode, sentence: string): void => {
    if (isSo) found.push({ code, sentence });
  };
  const isTooFew = judged < fewest;
  say(
    isTooFew,
    'too-few-pairs',
    `${pairsInWords(judged)}: under ${fewest} only the points and differences are shown, nothing is judged`,
  );
  say(
    !isTooFew && judged < enough,
    'few-pairs',
    `${pairsInWords(judged)}: under ${enough} the figures are uncertain; see how wide their intervals are`,
  );
  say(
    !isTooFew && !fit,
    'no-line',
    judged > PASSING_BABLOK_MOST_PAIRS
      ? `Passing and Bablok's line is laid through at most ${PASSING_BABLOK_MOST_PAIRS} pairs: choose a shorter period`
      : 'No line of Passing and Bablok: the values do not rise together',
  );
  say(
    fit?.linearity.verdict === 'doubtful' || fit?.linearity.verdict === 'bends',
    'bends',
    'The points bend away from a straight line: slope and intercept do not describe them over the whole range',
  );
  say(
    !isTooFew && people < judged,
    'same-people',
    `${pairsInWords(judged)} of ${people === 1 ? '1 person' : `${people} people`}: values of one person are alike, so the intervals may be too narrow`,
  );
  say(
    possibly > 0,
    'time-unsure',
    `${pairsInWords(possibly)} may lie more than ${hours} h apart, as their times are not known well enough: ${
      settings.judge === 'sure' ? 'shown and not reckoned with' : 'reckoned with'
    }`,
  );
  say(
    offScale > 0,
    'off-scale',
    `${pairsInWords(offScale)} with a value beyond the measuring range: listed and not reckoned with`,
  );
  return found;
}

const pairsInWords = (count: number): string => (count === 1 ? '1 pair' : `${count} pairs`);
