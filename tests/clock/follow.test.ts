/**
 * Chains of stamps of a clock that drifts, by up to 1 in 1,000, followed by hand. Drift counts a millisecond of wall time,
 * of which a slow clock shows fewer: 1 in 999. What does not drift is held to a second way in stories.test.ts.
 */
import { describe, expect, it } from 'vitest';
import type { Span } from '../../src/clock/anchors.ts';
import {
  beginsIn,
  type Chain,
  certainChanges,
  followStories,
  provesChange,
  type Stamp,
} from '../../src/clock/stories.ts';

const DRIFT = 1e-3;
/** Drift of so much wall time. */
const drifted = (ms: number): number => ms / 999;
const HOUR = 3_600_000;
const window = { lo: 0, hi: 10_000_000 };
/** A hand may be off by 5 minutes. */
const HAND = 300_000;

const stamp = (wall: number, more: Partial<Stamp> = {}): Stamp => ({
  wall,
  resolutionMs: 1000,
  lossCount: undefined,
  within: window,
  clockSeenUnset: false,
  ...more,
});
/** A clock that shows UTC when it is right, and does not start again anywhere unless given. */
const chain = (stamps: readonly Stamp[], more: Partial<Chain> = {}): Chain => ({
  stamps,
  certain: certainChanges(stamps),
  window,
  calendar: [{ offset: 0, when: window, exchanged: [], shifted: () => [] }],
  resets: [],
  drift: DRIFT,
  ...more,
});

/** Every story by what began its epochs, with the numbers of each epoch: offsets, when it began, where its tests lie. */
function follow(given: Chain) {
  const stories: { what: string; cost: number; epochs: Record<string, readonly [number, number]>[] }[] = [];
  const pair = ({ lo, hi }: Span) => [Math.round(lo * 1000) / 1000, Math.round(hi * 1000) / 1000] as const;
  const result = followStories(given, ({ epochs, cost }) => {
    stories.push({
      what: epochs
        .flatMap(({ beginning: b }) => (b ? [`${b.kind}${b.moved === undefined ? '' : ', moved'}`] : []))
        .join(),
      cost,
      epochs: epochs.map(({ from, to, atFirst, atLast, when, within }) => ({
        stamps: [from, to],
        atFirst: pair(atFirst),
        atLast: pair(atLast),
        when: pair(when),
        within: pair(within),
      })),
    });
  });
  return { ...result, stories };
}
const near = (actual: readonly [number, number] | undefined, lo: number, hi: number): void => {
  expect(actual?.[0]).toBeCloseTo(lo, 2);
  expect(actual?.[1]).toBeCloseTo(hi, 2);
};

describe('a clock that nobody changed', () => {
  it('has drifted from one download to the other by no more than it can', () => {
    // Asked in the first 0.1 s, it showed 1 s: 0.9 to 2 s ahead. 9,000 s later it is 10.9 to 12 s ahead, of which 9.009 s
    // at the most came from drift: so at most 11.009 s, and at least 1.891 s at first.
    const stamps = [
      stamp(1000, { within: { lo: 0, hi: 100 } }),
      stamp(4_001_000),
      stamp(9_001_000, { within: { lo: 8_990_000, hi: 8_990_100 } }),
    ];
    const { best, overflow, stories } = follow(
      chain(stamps, { first: { lo: 900, hi: 2000 }, last: { lo: 10_900, hi: 12_000 } }),
    );
    expect({ best, overflow }).toEqual({ best: 0, overflow: false });
    expect(stories).toHaveLength(1);
    expect(stories[0]).toMatchObject({ what: '', cost: 0 });
    const [epoch] = stories[0]?.epochs ?? [];
    expect(epoch?.['stamps']).toEqual([0, 2]);
    near(epoch?.['atFirst'] as never, 10_900 - drifted(9_000_000), 2000);
    near(epoch?.['atLast'] as never, 10_900, 2000 + drifted(9_000_000));
    expect(epoch?.['when']).toEqual([0, 10_000_000]);
    expect(epoch?.['within']).toEqual([0, Number.POSITIVE_INFINITY]);
  });

  it('is as well known at a download as its neighbours leave it', () => {
    // What is left of the second is less than its own answer: that is what counts, and is carried back.
    const stamps = [
      stamp(1000, { within: { lo: 0, hi: 100 } }),
      stamp(9_001_000, { within: { lo: 8_990_000, hi: 8_990_100 } }),
    ];
    const last = { lo: 11_000, hi: 11_005 };
    const { stories } = follow(chain(stamps, { first: { lo: 900, hi: 2000 }, last }));
    expect(stories[0]?.epochs[0]?.['atLast']).toEqual([11_000, 11_005]);
    near(stories[0]?.epochs[0]?.['atFirst'] as never, 11_000 - drifted(9_000_000), 2000);
  });

  it('is out of the question where it would have to drift any more', () => {
    const cost = (first: Span, last: Span, drift: number) =>
      follow(chain([stamp(1000, { within: { lo: 0, hi: 3000 } }), stamp(9_001_000)], { first, last, drift })).best;
    expect(cost({ lo: 0, hi: 1000 }, { lo: 1000, hi: 1900 }, 0)).toBe(0);
    expect(cost({ lo: 0, hi: 1000 }, { lo: 1001, hi: 1900 }, 0)).toBeGreaterThan(0);
    expect(cost({ lo: 1000, hi: 1900 }, { lo: 0, hi: 1000 }, 0)).toBe(0);
    expect(cost({ lo: 1001, hi: 1900 }, { lo: 0, hi: 1000 }, 0)).toBeGreaterThan(0);
    const most = drifted(9_000_000);
    expect(cost({ lo: 0, hi: 1000 }, { lo: 1000 + most - 0.001, hi: 20_000 }, DRIFT)).toBe(0);
    expect(cost({ lo: 0, hi: 1000 }, { lo: 1000 + most + 0.001, hi: 20_000 }, DRIFT)).toBeGreaterThan(0);
    expect(cost({ lo: 0, hi: 1000 }, { lo: -20_000, hi: -most + 0.001 }, DRIFT)).toBe(0);
    expect(cost({ lo: 0, hi: 1000 }, { lo: -20_000, hi: -most - 0.001 }, DRIFT)).toBeGreaterThan(0);
  });

  it('is known only by the order where no download saw it', () => {
    const { stories } = follow(chain([stamp(1_000_000), stamp(4_000_000)]));
    // The first was made in the window, the second not before it and not behind the window: at most 6,000 s of it are left.
    const [epoch] = stories[0]?.epochs ?? [];
    expect(stories[0]?.cost).toBe(0);
    near(epoch?.['atLast'] as never, -6_000_000, 1_001_000 + drifted(3_000_000));
    near(epoch?.['atFirst'] as never, -6_000_000 - drifted(3_000_000), 1_001_000);
  });
});

it('a chain without stamps has no story', () => {
  expect(follow(chain([]))).toEqual({ best: Number.POSITIVE_INFINITY, overflow: false, tried: 0, stories: [] });
});

describe('a stretch of clock in which a download stands that did not see it', () => {
  const [told, after] = [
    { lo: 0, hi: 5_000_000 },
    { lo: 5_000_000, hi: 10_000_000 },
  ];
  const only = (...stamps: Stamp[]) => follow(chain(stamps)).stories[0]?.epochs[0];

  it('was at most as far behind as it was at a test that was told then', () => {
    // Stamped 1,000, 4,000 and 6,000 s, the second told at 5,000 s: the clock was 1,000 s behind then at the most. The last
    // was made by 10,000 s: 4,000 s behind at the most.
    const epoch = only(stamp(1_000_000), stamp(4_000_000, { within: told }), stamp(6_000_000));
    expect(epoch?.['atLast']?.[0]).toBeCloseTo(-1_000_000 - drifted(5_000_000), 2);
    expect(epoch?.['atFirst']?.[0]).toBeCloseTo(-1_000_000 - 2 * drifted(5_000_000), 2);
    // By the last one alone where that says more.
    const later = only(stamp(1_000_000), stamp(4_000_000, { within: told }), stamp(9_900_000));
    expect(later?.['atLast']?.[0]).toBe(-100_000);
  });

  it('was at most as far ahead as it was at a test that was made later', () => {
    // The second was made after 5,000 s: the clock was 1,001 s behind at least. At the first it may have been 1,001 s ahead.
    const epoch = only(stamp(1_000_000), stamp(4_000_000, { within: after }), stamp(6_000_000));
    expect(epoch?.['atLast']?.[1]).toBeCloseTo(-999_000 + drifted(5_000_000), 2);
    expect(epoch?.['atFirst']?.[1]).toBeCloseTo(-999_000 + 2 * drifted(5_000_000), 2);
  });
});

describe('stories within the margin', () => {
  it('are those that cost up to exactly 3 more than the cheapest', () => {
    // Ten hours after a right clock it shows 10.5 hours of its default date, and an hour of it at a test in between: it lost
    // power after half an hour and was moved on by an hour (2, 2 and 4), or was changed in some other way at once (2 and 9).
    const day = { lo: 0, hi: 10 * HOUR };
    const reset = -1e10;
    const stamps = [
      stamp(0, { within: { lo: 0, hi: 100 } }),
      stamp(reset + HOUR, { within: day }),
      stamp(reset + 10.5 * HOUR, { within: { lo: 10 * HOUR - 100, hi: 10 * HOUR } }),
    ];
    const { stories } = follow(
      chain(stamps, {
        window: day,
        calendar: [{ offset: 0, when: day, exchanged: [], shifted: () => [] }],
        first: { lo: -100, hi: 1000 },
        last: { lo: reset + 0.5 * HOUR, hi: reset + 0.5 * HOUR + 1100 },
        resets: [reset],
        drift: 0,
      }),
    );
    expect(stories.map(({ what, cost }) => [what, cost])).toEqual([
      ['unexplained', 11],
      ['loss,hour, moved', 8],
    ]);
    expect(stories[1]?.epochs[1]?.['when']).toEqual([0.5 * HOUR - 1100, 0.5 * HOUR]);
  });

  it('are none where a test was told before it can have been made', () => {
    // Both stamped 1 s; the first was made after 5,000.5 s, the second, which is not older, told by then.
    const told = (hi: number) =>
      follow(
        chain([stamp(1000, { within: { lo: 5_000_500, hi: 10_000_000 } }), stamp(1000, { within: { lo: 0, hi } })]),
      );
    expect(told(5_000_500).best).toBe(0);
    expect(told(5_000_499)).toMatchObject({ best: Number.POSITIVE_INFINITY, stories: [] });
  });
});

describe('a clock that jumps on further than its gap is long', () => {
  it('was changed each time, up to six times beyond what is certain', () => {
    // A day and more from one stamp to the next, where all were made within 10,000 s: nothing explains that (2 + 9 each).
    const jumps = (n: number) => Array.from({ length: n }, (_, i) => stamp((i + 1) * 100_000_000));
    const six = follow(chain([stamp(0), ...jumps(6)]));
    expect(six.best).toBe(2 + 6 * 9);
    expect(six.stories.map(({ epochs }) => epochs.length)).toEqual([7]);
    // Set right between two stamps before that it would cost 2 more; but that is a seventh change.
    const seventh = follow(chain([stamp(0), stamp(1000), ...jumps(6)]));
    expect(seventh.best).toBe(2 + 6 * 9);
    expect(seventh.stories.map(({ epochs }) => epochs.length)).toEqual([7]);
    expect(follow(chain([stamp(0), ...jumps(7)])).best).toBe(Number.POSITIVE_INFINITY);
  });
});

it('a clock that was slow at a test in between is no other one later, when it may have drifted further', () => {
  // Right at 0 and stamped 1,000 s, it showed 1,001,000 ms at the most and had lost 1,001.001: made at 1,002,001 ms or before.
  const first = { lo: 0, hi: 0 };
  const undisturbed = (notBefore: number) =>
    follow(
      chain(
        [stamp(0, { within: first }), stamp(1_000_000, { within: { lo: notBefore, hi: window.hi } }), stamp(9_000_000)],
        {
          first,
        },
      ),
    ).stories.some(({ what }) => what === '');
  expect(undisturbed(1_002_001)).toBe(true);
  expect(undisturbed(1_002_003)).toBe(false);
});

it('a clock that shows its very default date may have lost power at the last moment', () => {
  const { stories } = follow(chain([stamp(8_000_000), stamp(0)], { resets: [0] }));
  const lost = stories.find(({ what }) => what === 'loss');
  // At the earliest at 0; the second that it shows is over then, and has drifted by 1,000 / 999 ms.
  expect(lost?.epochs[1]).toMatchObject({ atFirst: [-window.hi, 1.001], when: [0, window.hi] });
});

describe('a clock that went back from one stamp to the next', () => {
  // 1,500 s ahead at 500 s; then a test is stamped 1,000 s.
  const before = stamp(2_000_000, { within: { lo: 500_000, hi: 500_100 } });
  const first = { lo: 1_499_900, hi: 1_501_000 };
  const followed = (test: Partial<Stamp> & { wall: number }, more: Partial<Chain> = {}) =>
    follow(chain([before, stamp(test.wall, test)], { first, ...more }));

  it('was set right, or an hour behind, or moved back by an hour: what costs at most 3 more', () => {
    const { best, stories } = followed({ wall: 1_000_000 });
    expect(best).toBe(4);
    expect(stories.map(({ what, cost }) => [what, cost])).toEqual([
      ['set-right', 4],
      ['hour', 6],
      ['hour, moved', 6],
    ]);
  });

  it('and was set right, can have drifted from that moment to the test', () => {
    const [before, after] = followed({ wall: 1_000_000 }).stories[0]?.epochs ?? [];
    // Set at 500 s at the earliest. Most behind: 300 s and 1 in 1,000 of what passed until t = 1,001 s + offset.
    const latest = (1_001_000 + HAND - 500) / 0.999;
    const earliest = (1_000_000 - HAND + 500) / 1.001;
    near(after?.['atFirst'] as never, -HAND - (latest - 500_000) / 1000, HAND + (earliest - 500_000) / 1000);
    expect(after?.['atLast']).toEqual(after?.['atFirst']);
    // Set just before the test it had not drifted: 1,001 s and 300 s.
    expect(after?.['when']).toEqual([500_000, 1_301_000]);
    expect(after?.['within']).toEqual([500_000, Number.POSITIVE_INFINITY]);
    expect(before?.['within']).toEqual([500_000, 1_301_000]);
    expect(before?.['atLast']).toEqual([1_499_900, 1_501_000]);
    expect([before?.['stamps'], after?.['stamps']]).toEqual([
      [0, 0],
      [1, 1],
    ]);
  });

  it('drifted no longer than to the last moment at which the test can have been made, nor shorter than to the first', () => {
    // Stamped to the minute: it can have been made until 1,330 s, and from 720 s on.
    const late = followed({ wall: 1_000_000, resolutionMs: 60_000, within: { lo: 0, hi: 1_330_000 } });
    expect(late.stories[0]?.epochs[1]?.['atFirst']?.[0]).toBeCloseTo(-HAND - 830, 2);
    const early = followed({ wall: 1_000_000, resolutionMs: 60_000, within: { lo: 720_000, hi: 10_000_000 } });
    expect(early.stories[0]?.epochs[1]?.['atFirst']?.[1]).toBeCloseTo(HAND + 220, 2);
    expect(early.stories[0]?.epochs[1]?.['within']).toEqual([720_000, Number.POSITIVE_INFINITY]);
  });

  it('and was moved back by an hour, drifted on all the while', () => {
    const [before, after] = followed({ wall: 1_000_000 }).stories[2]?.epochs ?? [];
    // From 2,000 s on the clock to 1,001 s and an hour.
    const across = drifted(1_001_000 + HOUR - 2_000_000);
    near(after?.['atFirst'] as never, 1_499_900 - HOUR - across, 1_501_000 - HOUR + across);
    expect(before?.['atLast']).toEqual([1_499_900, 1_501_000]);
    near(after?.['when'] as never, 500_000, 1_001_000 - 1_499_900 + HOUR + across);
  });

  it('was not moved by an hour where it would have run backwards meanwhile', () => {
    // Known to two hours only. Back by an hour and 1 s, it may have been read at one moment; back by more it was not.
    const wide = { lo: -5_700_000, hi: 1_501_000 };
    const kinds = (wall: number) => followed({ wall }, { first: wide }).stories.map(({ what }) => what);
    expect(kinds(2_000_000 - HOUR - 1000)).toContain('hour, moved');
    expect(kinds(2_000_000 - HOUR - 1001)).not.toContain('hour, moved');
    expect(kinds(2_000_000 - HOUR - 1001)).toContain('hour');
  });

  it('was moved by an hour, and may have drifted to what a later download finds', () => {
    // 6,000 s by the clock behind the test: 6 s more or less than right after it was moved, known to some seconds.
    const found = (lo: number) =>
      follow(
        chain([before, stamp(1_000_000), stamp(7_000_000, { within: { lo: 9_000_000, hi: 9_200_000 } })], {
          first,
          last: { lo, hi: lo + 1000 },
        }),
      ).stories.map(({ what }) => what);
    const across = drifted(1_001_000 + HOUR - 2_000_000);
    expect(found(1_501_000 - HOUR + across + 3000)).toContain('hour, moved');
    expect(found(1_501_000 - HOUR + across + 6100)).not.toContain('hour, moved');
    expect(found(1_499_900 - HOUR - across - 4000)).toContain('hour, moved');
    expect(found(1_499_900 - HOUR - across - 7100)).not.toContain('hour, moved');
  });

  it('may be known exactly', () => {
    // 1,500 s ahead to the millisecond, and not drifting: moved back by an hour it is 2,100 s behind.
    const exact = { lo: 1_500_000, hi: 1_500_000 };
    const { stories } = followed({ wall: 1_000_000 }, { first: exact, drift: 0 });
    const moved = stories.find(({ what }) => what === 'hour, moved');
    expect(moved?.epochs[0]?.['atLast']).toEqual([1_500_000, 1_500_000]);
    expect(moved?.epochs[1]?.['atFirst']).toEqual([1_500_000 - HOUR, 1_500_000 - HOUR]);
    // And is that of a later download that says so much at the most, or at the least.
    const found = (last: Span) =>
      follow(
        chain([before, stamp(1_000_000), stamp(7_000_000, { within: { lo: 9_000_000, hi: 9_200_000 } })], {
          first: exact,
          last,
          drift: 0,
        }),
      ).stories.map(({ what }) => what);
    expect(found({ lo: 1_499_000 - HOUR, hi: 1_500_000 - HOUR })).toContain('hour, moved');
    expect(found({ lo: 1_500_000 - HOUR, hi: 1_501_000 - HOUR })).toContain('hour, moved');
    expect(found({ lo: 1_499_000 - HOUR, hi: 1_499_999 - HOUR })).not.toContain('hour, moved');
    // It can have been set right at one moment only: when it was last seen.
    const when = { lo: 500_000, hi: 500_000 };
    const calendar = [{ offset: 0, when, exchanged: [], shifted: () => [] }];
    expect(followed({ wall: 1_000_000 }, { calendar }).stories.map(({ what }) => what)).toContain('set-right');
  });

  it('is as well known before it was moved by an hour as a later download knows it', () => {
    // The first answer took 31 s; the next, 5,000 s later, knows to 1.1 s how far the clock is behind.
    const dull = { lo: 1_470_000, hi: 1_501_000 };
    const last = { lo: 1_499_900 - HOUR, hi: 1_501_000 - HOUR };
    const stamps = [
      stamp(2_000_000, { within: { lo: 500_000, hi: 531_000 } }),
      stamp(3_400_000, { within: { lo: 5_499_000, hi: 5_500_100 } }),
    ];
    const { stories } = follow(chain(stamps, { first: dull, last }));
    const moved = stories.find(({ what }) => what === 'hour, moved');
    const across = drifted(3_401_000 + HOUR - 2_000_000);
    const [one, two] = moved?.epochs ?? [];
    near(one?.['atLast'] as never, 1_499_900 - across, 1_501_000);
    expect(two?.['atLast']).toEqual([last.lo, last.hi]);
    expect(two?.['atFirst']).toEqual([last.lo, last.hi]);
  });

  it('was moved by an hour behind a test that the later download dates', () => {
    // No download saw it before. An hour ahead of what it is then, it was 1,500 s ahead at the test: made at 500 s.
    const last = { lo: 1_499_900 - HOUR, hi: 1_501_000 - HOUR };
    const stamps = [stamp(2_000_000), stamp(1_999_000, { within: { lo: 4_098_000, hi: 4_099_100 } })];
    const { stories } = follow(chain(stamps, { last }));
    const moved = stories.find(({ what }) => what === 'hour, moved');
    near(moved?.epochs[1]?.['when'] as never, 499_000 - drifted(HOUR), 4_100_100);
  });

  it('and runs from its default date, has run for as long as it shows since', () => {
    // Power was lost: it began at -5,000 s and shows -4,900 s.
    const { best, stories } = followed({ wall: -4_900_000 }, { resets: [-5_000_000] });
    expect(best).toBe(4);
    expect(stories.map(({ what }) => what)).toEqual(['loss']);
    const [, after] = stories[0]?.epochs ?? [];
    // Lost at 500 s at the earliest; the test was made by 10,000 s: 9,900 s after that date, give or take the drift of 101 s.
    near(after?.['atFirst'] as never, -14_900_000, -5_500_000 + drifted(101_000));
    near(after?.['when'] as never, 500_000, 9_900_000 + 1.01 * 101);
  });

  it('may have begun at a default date by which the downloads date the loss', () => {
    // Seen 3,000 s later by the clock: then it was 9,000 s behind the default date and the 4,000 s that passed.
    const stamps = [before, stamp(-4_900_000), stamp(-2_000_000, { within: { lo: 6_999_900, hi: 7_000_000 } })];
    const last = { lo: -9_000_000, hi: -8_998_900 };
    const { stories } = follow(chain(stamps, { first, last, resets: [-5_000_000] }));
    // Or it was lost once more on the way.
    expect(stories.map(({ what }) => what)).toEqual(['loss', 'loss,loss']);
    const [, after] = stories[0]?.epochs ?? [];
    const toLast = drifted(2_900_000);
    near(after?.['atLast'] as never, -9_000_000, -8_998_900);
    near(after?.['atFirst'] as never, -9_000_000 - toLast, -8_998_900 + toLast);
    // -5,000 s less these offsets, and what it drifted until the test, 1 % more.
    near(after?.['when'] as never, 3_998_900 - toLast - 1.01 * 101, 4_000_000 + toLast + 1.01 * 101);
  });
});

describe('what stamps alone prove', () => {
  const counts = (...all: (number | undefined)[]) =>
    certainChanges(all.map((lossCount, i) => stamp(i * 10_000, { lossCount })));

  it('is a change where they go back by a whole unit, rest too long, count a loss, or the clock was seen unset', () => {
    const change = (a: number, b: Partial<Stamp> & { wall: number }) =>
      certainChanges([stamp(a), stamp(b.wall, b)]).change;
    expect(change(5000, { wall: 4000 })).toEqual([true]);
    expect(change(5000, { wall: 4001 })).toEqual([false]);
    const rest = 400 * 86_400_000;
    expect(change(0, { wall: rest })).toEqual([false]);
    expect(change(0, { wall: rest + 1 })).toEqual([true]);
    expect(change(0, { wall: 1, clockSeenUnset: true })).toEqual([true]);
    expect(certainChanges([stamp(0), stamp(1, { clockSeenUnset: true })]).loss).toEqual([true]);
    expect(certainChanges([stamp(5000), stamp(0)]).loss).toEqual([false]);
    expect(certainChanges([stamp(0)])).toEqual({ change: [], loss: [], counted: [], somewhere: [] });
  });

  it('is a loss where the count differs, and none where it stays, also across stamps that do not tell it', () => {
    expect(counts(3, 4, 4)).toEqual({
      change: [true, false],
      loss: [true, false],
      counted: [true, true],
      somewhere: [],
    });
    expect(counts(3, undefined, undefined, 3)).toMatchObject({
      loss: [false, false, false],
      counted: [true, true, true],
    });
    expect(counts(undefined, 3, undefined, 3, undefined)).toMatchObject({ counted: [false, true, true, false] });
    expect(counts(3, undefined, 4, 4)).toEqual({
      change: [false, false, false],
      loss: [false, false, false],
      counted: [false, false, true],
      somewhere: [{ lo: 0, hi: 1 }],
    });
    expect(counts(undefined, 3, undefined, undefined, 4, undefined, 5).somewhere).toEqual([
      { lo: 1, hi: 3 },
      { lo: 4, hi: 5 },
    ]);
    expect(counts(0, undefined, 0).counted).toEqual([true, true]);
  });

  it('proves a change at one place or among some', () => {
    expect(provesChange(counts(3, 3))).toBe(false);
    expect(provesChange(counts(3, 4))).toBe(true);
    expect(provesChange(counts(3, undefined, 4))).toBe(true);
  });

  it('is met by an epoch that begins at one of the boundaries', () => {
    const beginning = { kind: 'loss', cost: 2, when: window } as const;
    const met = (from: number) => beginsIn({ beginning, from }, { lo: 1, hi: 3 });
    expect([1, 2, 4, 5].map(met)).toEqual([false, true, true, false]);
    expect(beginsIn({ beginning: undefined, from: 2 }, { lo: 1, hi: 3 })).toBe(false);
  });
});

describe('what following costs', () => {
  const DAY = 24 * HOUR;
  const HALF = 12 * HOUR;
  /** A right clock on the first day, a test each day, and on the day after them a clock that is half a day ahead. */
  const halfDayAhead = (tests: number, more: (i: number) => Partial<Stamp> = () => ({}), half = HALF) => {
    const end = (tests + 1) * DAY;
    const days = { lo: 0, hi: end };
    const stamps = [
      stamp(0, { within: { lo: 0, hi: 100 } }),
      ...Array.from({ length: tests }, (_, i) => stamp((i + 1) * DAY, { within: days, ...more(i) })),
      stamp(end - 1000 + half, { within: { lo: end - 1100, hi: end } }),
    ];
    return chain(stamps, {
      window: days,
      calendar: [{ offset: 0, when: days, exchanged: [], shifted: () => [] }],
      first: { lo: -100, hi: 1000 },
      last: { lo: half - 1000, hi: half + 100 },
      drift: 0,
    });
  };
  const cost = (given: Chain) => {
    let visits = 0;
    const { best, overflow, tried } = followStories(given, () => {
      visits++;
    });
    return { best, overflow, tried, visits };
  };

  it('is nothing where no change is called for', () => {
    const days = Array.from({ length: 10 }, (_, i) => stamp(i * 100_000));
    const undisturbed = chain(days, { first: { lo: 0, hi: 1000 } });
    expect(follow(undisturbed).tried).toBe(0);
    // Not even a calendar is made.
    const noCalendar = {
      ...undisturbed,
      get calendar(): never {
        throw new Error('nobody needs it');
      },
    };
    expect(follow(noCalendar).best).toBe(0);
  });

  it('is one try to find the cheapest, then one for every story within the margin', () => {
    // Without tests: half a day ahead at the only boundary, found, and told.
    expect(cost(halfDayAhead(0))).toEqual({ best: 6, overflow: false, tried: 2, visits: 1 });
    expect(cost(halfDayAhead(0, undefined, -HALF))).toEqual({ best: 6, overflow: false, tried: 2, visits: 1 });
    // With 10: found at the first of 11 boundaries, told at each; or set right at one of the first 10, after which it was
    // set half a day ahead at any that follows (55 ways, but for the last boundary alone).
    expect(cost(halfDayAhead(10))).toEqual({ best: 6, overflow: false, tried: 1 + 11 + 10 + 55, visits: 11 + 55 });
  });

  it('is none for an offset that no drift leads to the one that was found in the end', () => {
    // Half a day behind from the sixth test on, by the stamps; as above, and an hour more or less is not tried.
    const behind = halfDayAhead(10, (i) => (i >= 5 ? { wall: (i + 1) * DAY - HALF } : {}), -HALF);
    expect(cost(behind)).toEqual({ best: 6, overflow: false, tried: 1 + 11 + 10 + 55, visits: 11 + 55 });
  });

  it('is none for a part of the calendar that is over, or still to come', () => {
    // As before, but the zone of the dock changes between the sixth test and the seventh, if only in name.
    const ten = halfDayAhead(10);
    const change = 5.5 * DAY;
    const [part] = ten.calendar;
    if (!part) throw new Error('a calendar');
    const calendar = [
      { ...part, when: { lo: 0, hi: change - 1 } },
      { ...part, when: { lo: change, hi: 11 * DAY } },
    ];
    // The sixth boundary lies in both. Half a day ahead: 6 and 6 ways. Set right before: 6 and 5 ways, and half a day ahead
    // behind that: 15 ways in the first part, 35 in one and the other, 15 in the second.
    expect(cost({ ...ten, calendar })).toEqual({
      best: 6,
      overflow: false,
      tried: 1 + 12 + 11 + 65,
      visits: 12 + 65,
    });
  });

  it('is no more where it is certain at which boundary the clock was changed', () => {
    // Unset between the fourth test and the fifth: a loss, and half a day ahead on top of it. Besides, it may have been set
    // right before (4 ways), or been set right there and half a day ahead later (5 boundaries).
    const certain = halfDayAhead(9, (i) => ({ clockSeenUnset: i === 4 }));
    const { best, visits } = cost(certain);
    expect([best, visits]).toEqual([8, 10]);
  });

  it('counts with what the certain changes that are still to come cost at the least', () => {
    // Each test was made within 10 minutes of its stamp, in hours one after the other: the clock can only have been right.
    // It lost power before the second, third and fourth, and was set right each time: 2 for anything, 2 and 2 for each.
    const stamps = [0, 0, 1, 2, 3].map((lossCount, hour) =>
      stamp(hour * HOUR, { lossCount, within: { lo: hour * HOUR, hi: hour * HOUR + 600_000 } }),
    );
    // Three tries find it, three tell it; it may have been set right before the first test besides (four), which is looked
    // for behind the others, too, in vain (three).
    const day = { lo: 0, hi: 5 * HOUR };
    const calendar = [{ offset: 0, when: day, exchanged: [], shifted: () => [] }];
    const { best, tried, visits } = cost(chain(stamps, { window: day, calendar, drift: 0 }));
    expect({ best, tried, visits }).toEqual({ best: 14, tried: 3 + 3 + 4 + 3, visits: 2 });
  });

  it('is all there is to follow up to 60,000 tries', () => {
    // 10 tests, and docks in 32 zones that never differ: half a day ahead in any of them at 11 boundaries; or set right in
    // one of them at 10 boundaries, and half a day ahead in another at a later one. Beyond: gap-times.test.ts.
    const ten = halfDayAhead(10);
    const calendar = ten.calendar.flatMap((part) => Array.from({ length: 32 }, () => part));
    expect(cost({ ...ten, calendar })).toEqual({
      best: 6,
      overflow: false,
      tried: 1 + 11 * 32 + 10 * 32 + 55 * 32 * 32,
      visits: 11 * 32 + 55 * 32 * 32,
    });
    // Without a test, one try for each dock behind the one that finds the cheapest.
    const none = halfDayAhead(0);
    const docks = (n: number) => ({ ...none, calendar: Array.from({ length: n }, () => none.calendar).flat() });
    expect(cost(docks(59_999))).toMatchObject({ overflow: false, tried: 60_000 });
    expect(cost(docks(60_000))).toMatchObject({ overflow: true });
  });
});
