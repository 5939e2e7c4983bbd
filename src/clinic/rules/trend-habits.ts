/** Over what a trend is looked for: data, so that a clinic can change it. */
import type { Source } from '../facts.ts';

export const TREND_HABITS: {
  readonly source: Source;
  /** The last so many local dates. */
  readonly windowDays: number;
  /** Confidence of the limits of the slope. */
  readonly confidence: number;
} = {
  source: { name: 'Recent trend', edition: '1', citation: 'common practice, no source' },
  windowDays: 91,
  confidence: 0.95,
};
