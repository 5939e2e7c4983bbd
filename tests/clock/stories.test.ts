/**
 * The stories of a gap against a second way to them (shortest-paths.ts): small gaps of a clock that does not drift, to
 * which something happened. The cheapest cost, the number of stories within the margin and every bound must be the same.
 */
import { describe, expect, it } from 'vitest';
import { gapsOf } from '../../src/clock/anchors.ts';
import { timesInGap } from '../../src/clock/gap-times.ts';
import type { ClockHistory, ClockReadout, ClockTest } from '../../src/clock/history.ts';
import { placeGap } from '../../src/clock/place-gap.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { seedOr } from '../support/seed.ts';
import { byShortestPaths } from './shortest-paths.ts';
import { random } from './worlds.ts';

const seed = seedOr(20260301);
const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const RESET = Date.UTC(2000, 0, 1);
const ZONE = zoneOf('Asia/Kolkata');
const ZONE_OFFSET = 5.5 * HOUR;
/** A clock within half a minute of local time, as its downloads found it. */
const START = Date.UTC(2026, 2, 5, 9);
/** What the meter is known to gain, where no bound speaks against it: 0.2 s in two days. */
const USUAL_DRIFT = 1e-6;

type Happening =
  | 'loss'
  | 'set right'
  | 'an hour on'
  | 'moved back'
  | 'twelve hours off'
  | 'exchanged'
  | 'last year'
  | 'odd'
  | 'tested unset'
  | 'seen unset'
  | 'looked at';
type Ends = 'both' | 'first' | 'last';
type Counting = 'no' | 'all' | 'downloads';

interface Row {
  readonly happenings: readonly Happening[];
  readonly tests: number;
  readonly ends: Ends;
  readonly counting: Counting;
  readonly resolutionMs: number;
}

/** The history of a clock to which these things happened, each between two tests or downloads picked at random. */
function historyOf({ happenings, tests, ends, counting, resolutionMs }: Row, worldSeed: number): ClockHistory {
  const r = random(worldSeed);
  let now = START;
  let offset = Math.round(ZONE_OFFSET + (r() - 0.5) * MINUTE);
  let count = 3;
  const near = (by: number): number => Math.round(ZONE_OFFSET + by + (r() - 0.5) * 4 * MINUTE);
  const happen = (what: Happening): void => {
    const local = new Date(now + ZONE_OFFSET);
    const [y, m, d] = [local.getUTCFullYear(), local.getUTCMonth(), local.getUTCDate()];
    if (what === 'loss') {
      offset = RESET - now;
      count++;
    } else if (what === 'set right') offset = near(0);
    else if (what === 'an hour on') offset = near(HOUR);
    else if (what === 'moved back') offset -= HOUR;
    else if (what === 'twelve hours off') offset = near(-12 * HOUR);
    else if (what === 'exchanged') offset = near(Date.UTC(y, d - 1, m + 1) - Date.UTC(y, m, d));
    else if (what === 'last year') offset = near(Date.UTC(y - 1, m, d) - Date.UTC(y, m, d));
    else if (what === 'odd') offset = near(-100 * HOUR);
    else {
      // A test that the meter could not stamp, a download that found the clock unset, or one that did not see it at all.
      const [from, to] = [instant(now - 100), instant(now + 50)];
      if (what === 'tested unset') items.push({ kind: 'test', id: 'unset', unset: true, toldBy: from });
      else if (what === 'seen unset') download(what, { kind: 'unset', from, to });
      else download(what, { kind: 'set', asked: wall(now), from, to, outcome: 'refused' });
      if (what === 'looked at') return;
      offset = near(0);
      count++;
    }
  };
  const items: (ClockTest | ClockReadout)[] = [];
  const download = (id: string, event?: ClockEvent): void => {
    const [from, to] = [instant(now - 100), instant(now + 50)];
    const shown = meterTimeOf(wall(now + offset), 1000);
    items.push({
      kind: 'readout',
      id,
      zone: ZONE,
      mayPrecede: 0,
      resetStamp: wall(RESET),
      ...(counting === 'no' ? {} : { lossCount: count }),
      events: [event ?? { kind: 'anchor', shown, from, to }],
    });
  };
  if (ends !== 'last') download('A');
  const places = happenings.map(() => Math.floor(r() * (tests + 1))).sort((a, b) => a - b);
  for (let i = 0; i <= tests; i++) {
    const next = now + Math.round((0.1 + r()) * DAY);
    happenings.forEach((what, k) => {
      if (places[k] !== i) return;
      now += Math.round(r() * (next - now));
      happen(what);
    });
    now = next;
    if (i < tests)
      items.push({
        kind: 'test',
        id: `t${i}`,
        stamp: meterTimeOf(wall(now + offset), resolutionMs),
        unset: false,
        ...(counting === 'all' ? { lossCount: count } : {}),
        toldBy: instant(0),
      });
  }
  if (ends !== 'first') download('B');
  return {
    items: items.map((item, i) => {
      if (item.kind === 'readout') return item;
      const teller = items.slice(i).find((x) => x.kind === 'readout');
      return { ...item, toldBy: teller?.events[0]?.to ?? instant(now + 50) };
    }),
    habits: { driftPpm: 0, resets: [wall(RESET)] },
    inUseSince: instant(START - 100),
    zone: ZONE,
  };
}

/** Holds what the clock room makes of the only gap of a history to what shortest paths make of it. */
function saysTheSame(history: ClockHistory): void {
  const [gap] = gapsOf(history);
  if (!gap) throw new Error('a history with a gap');
  const ends = {
    ...(gap.first ? { first: gap.first.offset } : {}),
    ...(gap.last ? { last: gap.last.offset } : {}),
    usualDrift: USUAL_DRIFT,
  };
  const times = timesInGap(gap, ends, history.habits);
  const window = {
    lo: gap.first?.at.lo ?? Math.min(...gap.notBefore),
    hi: gap.last?.at.hi ?? Math.max(...gap.tests.map((t) => t.toldBy)),
  };
  const known = { reset: RESET, zoneOffset: ZONE_OFFSET, window, usualDrift: USUAL_DRIFT };
  const theirs = byShortestPaths(gap, known, Math.min(16, times.cost + 3));
  expect(times.cost).toBe(theirs.best);
  expect(times.overflow).toBe(false);
  const bounds = placeGap({ gap, ends, times }).map(({ placement: p }) => [p.earliest, p.latest]);
  const isStamped = gap.tests.map(({ stamp }) => stamp !== undefined);
  expect(bounds.filter((_, i) => isStamped[i])).toEqual(theirs.tests.map(({ lo, hi }) => [lo, hi]));
  expect(times.tests.map((t) => t !== undefined)).toEqual(isStamped);
  const stamped = times.tests.filter((t) => t !== undefined);
  expect(stamped.map((t) => [t.place, t.began])).toEqual(theirs.tests.map((t) => [t.place, t.began]));
  stamped.forEach((t, i) => {
    expect(t.estimate).toBeCloseTo(theirs.tests[i]?.estimate ?? Number.NaN, 1);
  });
  expect(times.changes.map(({ kind, when, lossProven }) => ({ kind, when, lossProven }))).toEqual(
    theirs.changes.map(({ kind, when, lossProven }) => ({ kind, when, lossProven })),
  );
  expect(times.changes.map(({ size }) => size)).toEqual(theirs.changes.map(({ size }) => size));
  const byName = (all: Iterable<readonly [string, unknown]>) => [...all].sort(([a], [b]) => (a < b ? -1 : 1));
  expect(byName(times.stories.map(({ changes, cost, ways }) => [changes.join(', '), [cost, ways]] as const))).toEqual(
    byName(theirs.stories),
  );
  const costs = times.stories.map(({ cost }) => cost);
  expect(costs).toEqual(costs.toSorted((a, b) => a - b));
}

const HISTORIES: readonly (readonly Happening[])[] = [
  [],
  ['loss'],
  ['set right'],
  ['an hour on'],
  ['moved back'],
  ['twelve hours off'],
  ['exchanged'],
  ['last year'],
  ['odd'],
  ['loss', 'set right'],
  ['an hour on', 'set right'],
  ['loss', 'loss'],
  ['tested unset'],
  ['seen unset'],
  ['looked at', 'set right'],
  ['loss', 'looked at'],
];

describe(`the bounds of small gaps are those of shortest paths over every story (SEED=${seed})`, () => {
  const rows = HISTORIES.flatMap((happenings, h) =>
    (['both', 'first', 'last'] as const).flatMap((ends) =>
      (['no', 'all', 'downloads'] as const).flatMap((counting) =>
        [1, 2, 3].map((tests) => ({
          what: happenings.join(', then ') || 'nothing',
          happenings,
          ends,
          counting,
          tests,
          resolutionMs: (h + tests) % 2 === 0 ? 1000 : MINUTE,
        })),
      ),
    ),
  );

  it.each(rows)('$what, $tests tests, downloads: $ends, counted: $counting', (row) => {
    saysTheSame(historyOf(row, seed));
  });
});

it('changes are weighed by the second where rests are that short', () => {
  // 3 s ahead, two tests, and right at the end: set right before, between or behind them. From 5 s to 12 s until the first.
  for (let until = 5000; until <= 12_000; until += 250) {
    const moments = [0, until, until + 4000, until + 9000].map((ms) => START + ms);
    const [first = 0, a = 0, b = 0, last = 0] = moments;
    const ahead = ZONE_OFFSET + 3000;
    const readout = (id: string, at: number, offset: number): ClockReadout => ({
      kind: 'readout',
      id,
      zone: ZONE,
      mayPrecede: 0,
      events: [
        { kind: 'anchor', shown: meterTimeOf(wall(at + offset), 1000), from: instant(at - 100), to: instant(at + 50) },
      ],
    });
    const test = (id: string, at: number): ClockTest => ({
      kind: 'test',
      id,
      stamp: meterTimeOf(wall(at + ahead), 1000),
      unset: false,
      toldBy: instant(last + 50),
    });
    saysTheSame({
      items: [readout('A', first, ahead), test('a', a), test('b', b), readout('B', last, ZONE_OFFSET)],
      habits: { driftPpm: 0, resets: [wall(RESET)] },
      zone: ZONE,
    });
  }
});
