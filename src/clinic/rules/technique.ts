/**
 * What usually goes wrong when a test ends in an error, and when errors are too many to be chance. What a code of a
 * meter means is its maker's to say: such tables come with the meter's profile, never from here.
 */
import type { Source } from '../facts.ts';

export interface TechniqueAdvice {
  /** What is usually seen. */
  readonly cause: string;
  /** What to look at with the person. */
  readonly advice: string;
}

/** The usual causes of failed tests, whatever the code. */
export const TECHNIQUE: { readonly source: Source; readonly causes: readonly TechniqueAdvice[] } = {
  source: { name: 'Usual causes of failed tests', edition: '1', citation: 'common practice, no source' },
  causes: [
    { cause: 'too little blood', advice: 'Warm the hand, let it hang, and wait for a drop that hangs by itself.' },
    { cause: 'a squeezed finger', advice: 'Stroke from the palm outwards; do not press the fingertip.' },
    { cause: 'alcohol left on the skin', advice: 'Wash with warm water and soap, and dry well before the prick.' },
    { cause: 'a moved or tilted meter', advice: 'Leave the meter flat and untouched until the result is shown.' },
    { cause: 'a strip the wrong way round', advice: 'Look at the printed side and the arrow before it goes in.' },
    {
      cause: 'a late drop',
      advice: 'Insert the strip first, prick when the meter asks for blood, touch at once, once.',
    },
  ],
};

/** When errors are a cluster, and when a person's errors are more than chance explains. */
export const ERROR_HABITS: {
  readonly source: Source;
  readonly cluster: { readonly errors: number; readonly withinTests: number };
  readonly unusualChance: number;
} = {
  source: { name: 'Clusters of failed tests', edition: '1', citation: 'common practice, no source' },
  cluster: { errors: 3, withinTests: 10 },
  unusualChance: 0.01,
};
