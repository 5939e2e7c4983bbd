/** A short seeded slice of the fuzzing in every test run; `npm run proof fuzz` goes on for as long as one likes. */
import { afterAll, describe, expect, it } from 'vitest';
import { seedOr } from '../support/seed.ts';
import { tryInput } from './target.ts';
import { targets } from './targets.ts';

const SEED = seedOr(20260301);
const INPUTS = 1000;

afterAll(async () => {
  for (const target of targets) await target.close?.();
});

describe('damaged input', () => {
  it.each(targets)(`keeps the promises of $name (SEED=${SEED})`, async (target) => {
    for (let seed = SEED; seed < SEED + INPUTS; seed++) {
      try {
        await tryInput(target, seed);
      } catch (thrown) {
        expect.fail(`input ${seed}: ${thrown}`);
      }
    }
  });
});
