/** The real daemon, killed without warning again and again; the long run with 1,000 kills is a proof of its own. */
import { describe, expect, it } from 'vitest';
import { seedOr } from '../support/seed.ts';
import { daemonDay } from './daemon-day.ts';

const SEED = seedOr(20260301);

describe('a daemon whose process group is killed at random moments', () => {
  it(`loses and doubles nothing, and its store is sound every time (20 kills, SEED=${SEED})`, async () => {
    const day = await daemonDay({ seed: SEED, docks: 4, visits: 12, kills: 20 });
    expect(day.problems).toEqual([]);
    expect(day).toMatchObject({ lost: 0, doubled: 0 });
    expect(day.owed).toBeGreaterThan(50);
    expect(day.visits).toBeGreaterThanOrEqual(12);
    expect(day.complete).toBeGreaterThanOrEqual(day.visits);
    expect(day.cutConversations).toBeGreaterThan(3);
  }, 180_000);
});
