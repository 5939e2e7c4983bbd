/**
 * The whole comparison of meters with the laboratory, from the values to the data of the pictures. Plain data in and out;
 * which meters, lots and days are compared, the caller chooses by what it hands in.
 */
import type { Instant } from '../../core/instant.ts';
import type { Target } from '../facts.ts';
import { type Agreement, compareWithRule } from './agreement.ts';
import { type BlandAltman, blandAltman } from './bland-altman.ts';
import { type Caution, type ComparisonCounts, cautionsOf } from './cautions.ts';
import { type DecisionAgreement, decisionAgreement } from './decision-disagreement.ts';
import { type DemingFit, deming } from './deming.ts';
import { type DifferenceBand, differenceBands } from './difference-bands.ts';
import { decimalDifference } from './millionths.ts';
import { correlation, momentsOf } from './moments.ts';
import { type Pair, type PersonValue, pairUp } from './pairing.ts';
import { type PassingBablokFit, passingBablok } from './passing-bablok.ts';
import {
  type DifferencePicture,
  type DrawnPair,
  differencePicture,
  type RegressionPicture,
  regressionPicture,
} from './pictures.ts';
import { type ComparisonSettings, usualSettings } from './settings.ts';

export interface ComparisonInput {
  /** The trade's short name, such as INR. */
  readonly analyte: string;
  /** UCUM, of all values; the caller has converted what was otherwise. */
  readonly unit: string;
  readonly laboratory: readonly PersonValue[];
  readonly readings: readonly PersonValue[];
  /** The target in force for a person at a moment. */
  readonly targetAt?: (patient: string, at: Instant) => Pick<Target, 'low' | 'high'> | undefined;
  /** What differs from `usualSettings`. */
  readonly settings?: Partial<ComparisonSettings>;
}

/** A pair with its difference, meter less laboratory; none where one of them is off scale. */
export interface ComparedPair extends Pair {
  readonly difference?: number;
  /** Absent where the settings do not ask for it. */
  readonly decision?: DecisionAgreement;
  /** Whether the figures rest on it: on scale, and near enough in time as the settings ask. */
  readonly isJudged: boolean;
}

/** The figures that need enough pairs. */
export interface ComparisonStatistics {
  readonly absolute: BlandAltman;
  readonly percent: BlandAltman;
  /** Absent where no line can be laid. */
  readonly deming?: DemingFit;
  readonly passingBablok?: PassingBablokFit;
  /** Pearson's r: how widely the values spread, not whether they agree; never a verdict. Absent where one side does not vary. */
  readonly correlation?: number;
}

export interface Comparison {
  readonly analyte: string;
  readonly unit: string;
  readonly settings: ComparisonSettings;
  readonly counts: ComparisonCounts;
  readonly cautions: readonly Caution[];
  /** In order of the laboratory's time. */
  readonly pairs: readonly ComparedPair[];
  /** Laboratory values without a reading near enough. */
  readonly alone: readonly PersonValue[];
  readonly bands: readonly DifferenceBand[];
  readonly agreement: readonly Agreement[];
  /** How often a decision would have been the same, over all pairs near enough in time, off-scale ones too. */
  readonly decisions?: Readonly<Record<DecisionAgreement, number>>;
  /** Absent under the fewest pairs. */
  readonly statistics?: ComparisonStatistics;
  readonly pictures: {
    readonly absolute: DifferencePicture;
    readonly percent: DifferencePicture;
    readonly regression: RegressionPicture;
  };
}

/** Pairs the values and reckons everything that the settings ask for. */
export function compare(input: ComparisonInput): Comparison {
  const { analyte, unit, laboratory, readings } = input;
  const settings = { ...usualSettings(analyte, unit), ...input.settings };
  const pairing = pairUp(laboratory, readings, settings.withinHours.value);
  const pairs = pairing.pairs.map((pair) => comparedPair(pair, input, settings));
  const drawn = pairs.filter(({ isOffScale }) => !isOffScale).map(drawnPair);
  const judged = drawn.filter(({ isJudged }) => isJudged);
  const fewest = settings.fewestPairs.value;
  const statistics = judged.length < Math.max(3, fewest) ? undefined : statisticsOf(judged, settings);
  const counts: ComparisonCounts = {
    laboratory: laboratory.length,
    readings: readings.length,
    alone: pairing.alone.length,
    paired: pairs.length,
    surely: pairs.filter(({ nearness }) => nearness === 'surely').length,
    possibly: pairs.filter(({ nearness }) => nearness === 'possibly').length,
    offScale: pairs.filter(({ isOffScale }) => isOffScale).length,
    judged: judged.length,
    people: new Set(pairs.filter(({ isJudged }) => isJudged).map((pair) => pair.laboratory.patient)).size,
  };
  const decisions = decisionsOf(pairs, settings);
  return {
    analyte,
    unit,
    settings,
    counts,
    cautions: cautionsOf(counts, settings, statistics?.passingBablok),
    pairs,
    alone: pairing.alone,
    bands: differenceBands(judged, settings.bands.value, fewest),
    agreement: settings.rules.map((rule) => compareWithRule(judged, rule, fewest)),
    ...(decisions ? { decisions } : {}),
    ...(statistics ? { statistics } : {}),
    pictures: {
      absolute: differencePicture(drawn, 'absolute', statistics?.absolute),
      percent: differencePicture(drawn, 'percent', statistics?.percent),
      regression: regressionPicture(drawn, linesOf(statistics)),
    },
  };
}

const isNearEnough = ({ nearness }: Pair, { judge }: ComparisonSettings): boolean =>
  nearness === 'surely' || judge === 'possible';

function comparedPair(pair: Pair, { targetAt }: ComparisonInput, settings: ComparisonSettings): ComparedPair {
  const { laboratory, reading, isOffScale } = pair;
  const { outAndApart } = settings;
  return {
    ...pair,
    ...(isOffScale ? {} : { difference: decimalDifference(reading.value, laboratory.value) }),
    ...(outAndApart
      ? {
          decision: decisionAgreement(
            laboratory,
            reading,
            targetAt?.(laboratory.patient, laboratory.time.at),
            outAndApart.value,
          ),
        }
      : {}),
    isJudged: !isOffScale && isNearEnough(pair, settings),
  };
}

const drawnPair = ({ laboratory, reading, isJudged }: ComparedPair): DrawnPair => ({
  laboratoryId: laboratory.id,
  readingId: reading.id,
  isJudged,
  x: laboratory.value,
  y: reading.value,
});

function statisticsOf(judged: readonly DrawnPair[], settings: ComparisonSettings): ComparisonStatistics {
  const confidence = settings.confidence.value;
  const demingFit = deming(judged, settings.errorRatio.value, confidence);
  const passingBablokFit = passingBablok(judged, confidence);
  const r = correlation(momentsOf(judged));
  return {
    absolute: blandAltman(judged, 'absolute', confidence),
    percent: blandAltman(judged, 'percent', confidence),
    ...(demingFit ? { deming: demingFit } : {}),
    ...(passingBablokFit ? { passingBablok: passingBablokFit } : {}),
    ...(Number.isFinite(r) ? { correlation: r } : {}),
  };
}

function decisionsOf(
  pairs: readonly ComparedPair[],
  settings: ComparisonSettings,
): Readonly<Record<DecisionAgreement, number>> | undefined {
  if (!settings.outAndApart) return undefined;
  const found = { agree: 0, 'one in, one out': 0, 'both out and apart': 0, unknown: 0, 'no target': 0 };
  for (const pair of pairs) if (pair.decision && isNearEnough(pair, settings)) found[pair.decision]++;
  return found;
}

const linesOf = ({ deming, passingBablok }: Partial<ComparisonStatistics> = {}) =>
  [deming, passingBablok].flatMap((fit) =>
    fit ? [{ name: fit.method, slope: fit.slope.value, intercept: fit.intercept.value }] : [],
  );
