/** A short seeded slice of the fuzzing in every test run; `npm run proof fuzz` goes on for as long as one likes. */
import { describe, expect, it } from 'vitest';
import { seedOr } from '../support/seed.ts';
import { tryInput } from './target.ts';
import { targets } from './targets.ts';

const SEED = seedOr(20260301);
const INPUTS = 1500;

describe('damaged input', () => {
  it.each(targets)(`keeps the promises of $name (SEED=${SEED})`, (target) => {
    for (let seed = SEED; seed < SEED + INPUTS; seed++)
      expect(() => tryInput(target, seed), `input ${seed}`).not.toThrow();
  });
});
