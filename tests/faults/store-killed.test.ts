import { describe, expect, it } from 'vitest';
import { tempFolder } from '../store/temp-store.ts';
import { killedLife } from './killed-life.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);

describe('a gateway that is killed while it records and takes in', () => {
  it(`loses nothing that was stored, and the next start finishes (12 kills, SEED=${SEED})`, async () => {
    const life = await killedLife({ dir: tempFolder(), seed: SEED, visits: 50, kills: 12, steps: 60 });
    expect(life.problems).toEqual([]);
    expect(life.kills).toBe(12);
  }, 120_000);
});
