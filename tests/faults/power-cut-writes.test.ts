/** The power goes between two writes of the built program; the long proof does it between any two. */
import { describe, expect, it, onTestFinished } from 'vitest';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { seedOr } from '../support/seed.ts';
import { cutScene } from './power-cut-scene.ts';

const SEED = seedOr(20260302);

describe('a collect whose process group is killed between two writes', () => {
  it.each([
    ['the first one, into a store that is not there yet', { tests: 6, newTests: 0 }],
    ['a later one, of a memory that has overwritten tests since', { tests: 6, newTests: 3 }],
  ])(
    `leaves all or nothing of its download, and the next run brings every test once: %s (SEED=${SEED})`,
    async (_which, options) => {
      const scene = await cutScene(options);
      onTestFinished(() => scene.close());
      expect(scene.readings).toBe(options.tests + options.newTests);
      const chance = chanceFrom(SEED);
      // How the conversation falls into chunks is the machine's: a run may have a few writes less than the one counted.
      const part = Math.floor((0.8 * scene.writes) / 4);
      const sure = [0, 1, 2, 3].map((which) => chance.whole(1 + which * part, (which + 1) * part));
      const lefts = new Set<string>();
      for (const write of [...sure, scene.writes - 1]) {
        const { isCut, left, problems } = await scene.cutAt(write);
        expect(problems).toEqual([]);
        if (sure.includes(write)) expect(isCut).toBe(true);
        lefts.add(left);
      }
      expect(lefts.size).toBeGreaterThan(1);
    },
    180_000,
  );
});
