/** The guard over the room on the disk: early words, a stop before the store could fail, and a way back by itself. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  freeBytes,
  judgeSpace,
  mayRead,
  type SpaceLevel,
  spaceLimits,
  spaceWarning,
} from '../../../src/dock/guards/disk-space.ts';
import { tempFolder } from '../../store/temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const MB = 1_000_000;
const limits = spaceLimits({ warnFreeMb: 1000, stopFreeMb: 200 });
/** The levels of a disk that has these megabytes free, one after the other. */
const course = (...free: (number | undefined)[]): SpaceLevel[] => {
  let level: SpaceLevel = 'plenty';
  return free.map((mb) => {
    level = judgeSpace(level, mb === undefined ? undefined : mb * MB, limits);
    return level;
  });
};

describe('a disk that fills up and is cleared', () => {
  it('is called low early, out before it is full, and comes back by itself', () => {
    expect(course(5000, 1001, 999, 300, 201, 199, 0, 150, 260, 900, 1260)).toEqual([
      'plenty',
      'plenty',
      'low',
      'low',
      'low',
      'out',
      'out',
      'out',
      'low',
      'low',
      'plenty',
    ]);
  });

  it('does not change its mind for every megabyte at the edge', () => {
    expect(course(199, 201, 199, 201, 249)).toEqual(['out', 'out', 'out', 'out', 'out']);
    expect(course(999, 1001, 1200)).toEqual(['low', 'low', 'low']);
  });

  it('is not called better because it cannot be asked any more', () => {
    expect(course(100, undefined, undefined, 5000)).toEqual(['out', 'out', 'out', 'plenty']);
    expect(course(5000, undefined)).toEqual(['plenty', 'not known']);
  });

  it(`never lets a meter be read with less room than the limit, whatever came before (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 2000 }), { minLength: 1 }), (free) => {
        const levels = course(...free);
        for (const [i, level] of levels.entries()) {
          const mb = free[i] ?? 0;
          if (mb < 200) expect(mayRead(level)).toBe(false);
          if (mb >= 250) expect(mayRead(level)).toBe(true);
          if (mb < 1000) expect(level).not.toBe('plenty');
          if (mb >= 1250) expect(level).toBe('plenty');
        }
      }),
      { seed: SEED },
    );
  });

  it('says what to do exactly where there is something to do', () => {
    const said = (['plenty', 'low', 'out', 'not known'] as const).map((level) => spaceWarning(level, 150.9 * MB, 'D'));
    expect(said.map((warning) => warning !== undefined)).toEqual([false, true, true, false]);
    expect(said[1]?.message).toContain('150 MB');
    expect(said[2]?.message).toContain('no meter is read');
    expect(said[2]?.hint).toContain('nothing that was stored is lost');
  });
});

describe('asking the disk', () => {
  it('gives a number for a folder, and nothing for one that is not there', async () => {
    expect(await freeBytes(tempFolder())).toBeGreaterThan(0);
    expect(await freeBytes('/no/such/folder')).toBeUndefined();
  });
});
