/** Small histories written by hand: the tests and downloads of one meter in order, with true times in UTC. */
import { type Anchor, anchorsOf, type Gap } from '../../src/clock/anchors.ts';
import type { GapEnds, GapReport, GapTimes } from '../../src/clock/gap-times.ts';
import type { ClockHistory, ClockReadout, ClockTest } from '../../src/clock/history.ts';
import { type PlaceResult, place } from '../../src/clock/place.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { type MeterTime, parseMeterTime, type Wall } from '../../src/core/meter-time.ts';
import type { Placement } from '../../src/core/placement.ts';
import { zoneOf } from '../../src/core/zone.ts';

/** True time from text in UTC: `2026-03-02T10:00:00`. */
export const utc = (text: string): Instant => instant(Date.parse(`${text}Z`));

/** What a meter's clock shows: `2026-03-02T10:00:00`, or without seconds. */
function shown(text: string): MeterTime {
  const time = parseMeterTime(text);
  if (!time.ok) throw new Error(time.problem);
  return time.value;
}

/** The wall clock's milliseconds of such a text. */
export const wallOf = (text: string): Wall => shown(text).wall;

/** A download asked the clock at `at` and was answered 100 ms later (unless told) that it shows `clock`. */
export const showing = (at: string, clock: string, tookMs = 100): ClockEvent => ({
  kind: 'anchor',
  shown: shown(clock),
  from: utc(at),
  to: instant(utc(at) + tookMs),
});

/** The gateway set the clock at `at`, within 100 ms. */
export const setting = (
  at: string,
  clock: string,
  outcome: 'confirmed' | 'refused' | 'unknown' = 'confirmed',
): ClockEvent => ({ kind: 'set', asked: wallOf(clock), from: utc(at), to: instant(utc(at) + 100), outcome });

/** A test that the meter stamped so; no stamp: its clock was not set. It is told by the next download in the history. */
export const stamped = (id: string, stamp: string | undefined, lossCount?: number): Omit<ClockTest, 'toldBy'> => ({
  kind: 'test',
  id,
  ...(stamp === undefined ? {} : { stamp: shown(stamp) }),
  unset: stamp === undefined,
  ...(lossCount === undefined ? {} : { lossCount }),
});

type Download = Omit<ClockReadout, 'zone'> & { readonly zone?: string };

/** A download with what it showed of the clock, behind the tests that it told. */
export const download = (
  id: string,
  events: readonly ClockEvent[],
  more: Partial<Pick<Download, 'lossCount' | 'resetStamp' | 'mayPrecede' | 'zone'>> = {},
): Download => ({ kind: 'readout', id, events, mayPrecede: 0, ...more });

/** The anchor of a download that asked the clock at `at` and was answered `tookMs` later that it shows `clock`. */
export function anchorAt(id: string, at: string, clock: string, { zone = 'Etc/UTC', tookMs = 100 } = {}): Anchor {
  const [anchor] = anchorsOf({ ...download(id, [showing(at, clock, tookMs)]), zone: zoneOf(zone) }).anchors;
  if (!anchor) throw new Error('a clock that was shown gives an anchor');
  return anchor;
}

/** A report about a gap; whatever is not given says nothing. The offsets at its ends are those of its anchors. */
export function reportOf(
  gap: Partial<Gap>,
  times: Partial<GapTimes> = {},
  ends: GapEnds = {
    ...(gap.first ? { first: gap.first.offset } : {}),
    ...(gap.last ? { last: gap.last.offset } : {}),
    usualDrift: 0,
  },
): GapReport {
  const tests = gap.tests ?? [];
  const zone = gap.zone ?? zoneOf('Etc/UTC');
  return {
    gap: {
      tests,
      notBefore: tests.map(() => Number.NEGATIVE_INFINITY),
      clockSeenUnset: tests.map(() => false),
      unsetBeforeLast: false,
      zone,
      zones: [zone],
      ...gap,
    },
    ends,
    times: { tests: tests.map(() => undefined), cost: 0, changes: [], stories: [], overflow: false, ...times },
  };
}

/** Puts a history together. Tests behind the last download were told by `end`. */
export function historyOf(
  items: readonly (Omit<ClockTest, 'toldBy'> | Download)[],
  { zone = 'Etc/UTC', end = '2027-01-01T00:00:00', ...rest }: HistoryOptions = {},
): ClockHistory {
  return {
    zone: zoneOf(zone),
    habits: { driftPpm: 100, resets: 'new-year' },
    ...rest,
    items: items.map((item, i) => {
      if (item.kind === 'readout') return { ...item, zone: zoneOf(item.zone ?? zone) };
      const teller = items.slice(i).find((x) => x.kind === 'readout');
      const events = teller?.kind === 'readout' ? teller.events : [];
      return { ...item, toldBy: events.at(-1)?.to ?? utc(end) };
    }),
  };
}

export interface HistoryOptions extends Partial<Pick<ClockHistory, 'habits' | 'inUseSince'>> {
  /** Zone of the docks, unless a download has its own; UTC unless given. */
  readonly zone?: string;
  readonly end?: string;
}

/** Places such a history; gives placements by the ids of the tests. */
export function placed(
  items: Parameters<typeof historyOf>[0],
  options?: HistoryOptions,
): PlaceResult & { readonly of: (id: string) => Placement } {
  const result = place(historyOf(items, options));
  return {
    ...result,
    of(id) {
      const found = result.tests.find((t) => t.id === id);
      if (!found) throw new Error(`no test ${id} was placed`);
      return found.placement;
    },
  };
}

/** A placement as text to compare with: estimate and bounds in UTC to the millisecond, and the basis. */
export function told(p: Placement): { at: string; from: string; to: string; basis: string } {
  const text = (at: Instant | undefined): string => (at === undefined ? '-' : new Date(at).toISOString().slice(0, -1));
  return { at: text(p.takenAt), from: text(p.earliest), to: text(p.latest), basis: p.basis };
}
