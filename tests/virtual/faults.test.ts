/** Damage and noise, at the rate asked for. */
import { describe, expect, it } from 'vitest';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { damage, noise } from '../../src/virtual/faults.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260304);

describe(`faults of a port (SEED=${SEED})`, () => {
  it.each([0.0005, 0.01, 0.5])('damages a share of %d of the bytes, each into another byte', (rate) => {
    const count = 400_000;
    const before = Uint8Array.from({ length: count }, (_, i) => i & 255);
    const after = damage(chanceFrom(SEED), rate, before);
    const hit = after.filter((byte, i) => byte !== before[i]).length;
    // Five standard deviations of the binomial distribution.
    expect(Math.abs(hit - count * rate)).toBeLessThan(5 * Math.sqrt(count * rate * (1 - rate)));
  });

  it('damages nothing at rate 0 and everything at rate 1', () => {
    const before = new Uint8Array(1000).fill(65);
    expect(damage(chanceFrom(SEED), 0, before)).toEqual(before);
    expect(damage(chanceFrom(SEED), 1, before).includes(65)).toBe(false);
  });

  it('makes the same damage and noise again from the same seed', () => {
    const bytes = new Uint8Array(1000);
    expect(damage(chanceFrom(SEED), 0.1, bytes)).toEqual(damage(chanceFrom(SEED), 0.1, bytes));
    expect(noise(chanceFrom(SEED))).toEqual(noise(chanceFrom(SEED)));
  });
});
