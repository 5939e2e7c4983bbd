/** The times of the tests in one gap: its stamps, how equally cheap stories are weighed, and where there is no story. */
import { describe, expect, it } from 'vitest';
import { gapsOf } from '../../src/clock/anchors.ts';
import { stampsOf, timesInGap } from '../../src/clock/gap-times.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { download, historyOf, setting, showing, stamped, utc, wallOf } from './hand-made.ts';

type Items = Parameters<typeof historyOf>[0];

/** The only gap of a history of a clock that does not drift, and what becomes of it. */
function only(items: Items, options?: Parameters<typeof historyOf>[1]) {
  const history = historyOf(items, { habits: { driftPpm: 0, resets: 'new-year' }, ...options });
  const [gap] = gapsOf(history);
  if (!gap) throw new Error('a history with a gap');
  const ends = {
    ...(gap.first ? { first: gap.first.offset } : {}),
    ...(gap.last ? { last: gap.last.offset } : {}),
    usualDrift: 0,
  };
  return { gap, times: timesInGap(gap, ends, history.habits) };
}
const right = (id: string, at: string, more: Parameters<typeof download>[2] = {}) =>
  download(id, [showing(at, at)], more);

describe('the stamps of a gap', () => {
  const blind = (at: string) => download('S', [setting(at, at, 'refused')]);

  it('are those of its tests and anchors, each with when it can have been made', () => {
    const { gap } = only([
      right('D1', '2026-03-02T10:00:00', { lossCount: 3 }),
      stamped('a', '2026-03-03T10:00', 3),
      blind('2026-03-04T10:00:00'),
      { ...stamped('unread', undefined), unset: false },
      stamped('b', '2026-03-05T10:00:00'),
      right('D2', '2026-03-12T10:00:00', { lossCount: 4 }),
    ]);
    const at = (day: string) => utc(`2026-03-${day}T10:00:00`);
    const window = { lo: at('02'), hi: at('12') + 100 };
    const plain = { resolutionMs: 1000, clockSeenUnset: false };
    const { stamps, test, window: found } = stampsOf(gap);
    expect(found).toEqual(window);
    expect(test).toEqual([-1, 0, 2, -1]);
    expect(stamps).toEqual([
      { ...plain, wall: at('02'), lossCount: 3, within: { lo: at('02'), hi: at('02') + 100 } },
      { ...plain, wall: at('03'), resolutionMs: 60_000, lossCount: 3, within: { lo: window.lo, hi: at('04') + 100 } },
      { ...plain, wall: at('05'), within: { lo: at('04'), hi: window.hi } },
      { ...plain, wall: at('12'), lossCount: 4, within: { lo: at('12'), hi: window.hi } },
    ]);
  });

  it('of a gap without downloads at its ends lie between the earliest and the latest that any of its tests can be', () => {
    const at = '2026-03-04T10:00:00';
    const { gap } = only([stamped('a', at), blind(at), stamped('b', '2026-03-05T10:00:00')], {
      inUseSince: utc('2026-01-01T00:00:00'),
      end: '2026-04-01T00:00:00',
    });
    const { window, stamps } = stampsOf(gap);
    expect(window).toEqual({ lo: utc('2026-01-01T00:00:00'), hi: utc('2026-04-01T00:00:00') });
    expect(stamps.map(({ within }) => within)).toEqual([
      { lo: window.lo, hi: utc(at) + 100 },
      { lo: utc(at), hi: window.hi },
    ]);
  });

  it('know where the clock was seen unset: before a test, by one, or before the download at the end', () => {
    const unset = download('S', [{ kind: 'unset', from: utc('2026-03-04T10:00:00'), to: utc('2026-03-04T10:00:01') }]);
    const seen = (...items: Items) =>
      stampsOf(only([right('D1', '2026-03-02T10:00:00'), ...items, right('D2', '2026-03-12T10:00:00')]).gap).stamps.map(
        ({ clockSeenUnset }) => clockSeenUnset,
      );
    const [a, b] = [stamped('a', '2026-03-03T10:00:00'), stamped('b', '2026-03-05T10:00:00')];
    expect(seen(a, b)).toEqual([false, false, false, false]);
    expect(seen(a, unset, b)).toEqual([false, false, true, false]);
    expect(seen(a, b, unset)).toEqual([false, false, false, true]);
    expect(seen(a, stamped('u', undefined), b)).toEqual([false, false, true, false]);
    expect(seen(a, b, stamped('u', undefined))).toEqual([false, false, false, true]);
    expect(seen(a, unset, { ...stamped('u', undefined), unset: false }, b)).toEqual([false, false, true, false]);
  });
});

describe('the times of a gap', () => {
  it('may all be the same second', () => {
    // Both downloads and the test at 10:00:00, the second 0.3 s after the first.
    const later = showing('2026-03-02T10:00:00', '2026-03-02T10:00:00');
    const second = { ...later, from: later.from + 300, to: later.to + 300 } as typeof later;
    const { times } = only([
      right('D1', '2026-03-02T10:00:00'),
      stamped('t', '2026-03-02T10:00:00'),
      download('D2', [second]),
    ]);
    // By the first download: its offset of -0.1 to 1 s; in its middle 0.45 s, as far as the order allows.
    expect(times.tests[0]).toMatchObject({ place: 'between', estimate: utc('2026-03-02T10:00:00') + 50 });
  });

  it('are by the kind of change that has most room, where several cost the same', () => {
    // 100 days ahead at 10:00; a test stamped 09:30 of that day; right again 20 hours later. Somebody had set it an hour
    // behind within half an hour, or half a day behind within half a day: that was likelier.
    const { times } = only([
      download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')]),
      stamped('t', '2026-03-20T09:30:00'),
      right('D2', '2026-03-21T06:00:00'),
    ]);
    expect(times.cost).toBe(8);
    expect(times.tests[0]).toMatchObject({
      place: 'loose',
      began: 'half-day',
      estimate: utc('2026-03-20T21:30:00') + 500,
    });
    // Bounds cover both.
    expect(times.tests[0]?.earliest).toBeLessThan(utc('2026-03-20T10:30:00'));
    expect(times.tests[0]?.latest).toBeGreaterThan(utc('2026-03-20T21:30:00'));
    // Set half a day behind since the first download, 5 minutes after the stamp would then be at the latest; set right since
    // 5 minutes before that.
    const at = (text: string) => utc(`2026-03-20T${text}`);
    expect(times.changes.map(({ kind, when }) => [kind, when])).toEqual([
      ['half-day', { lo: at('10:00:00'), hi: at('21:35:01') }],
      ['set-right', { lo: at('21:25:00'), hi: utc('2026-03-21T06:00:00') + 100 }],
    ]);
    // Right again at 21:40, there was little room behind the half day, and much behind the hour.
    const early = only([
      download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')]),
      stamped('t', '2026-03-20T09:30:00'),
      right('D2', '2026-03-20T21:40:00'),
    ]).times;
    expect(early.tests[0]).toMatchObject({ began: 'hour', estimate: at('10:30:00') + 500 });
    expect(early.changes.map(({ kind, when }) => [kind, when])).toEqual([
      ['hour', { lo: at('10:00:00'), hi: at('10:35:01') }],
      ['set-right', { lo: at('10:25:00'), hi: at('21:40:00') + 100 }],
    ]);
    // With 13 hours in all there was as little room behind the half day as before the hour.
    const short = only([
      download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')]),
      stamped('t', '2026-03-20T05:00:00'),
      right('D2', '2026-03-20T18:00:00'),
    ]);
    expect(short.times.tests[0]).toMatchObject({ began: 'half-day', estimate: utc('2026-03-20T17:00:00') + 500 });
  });

  it('are those of the story seen first where two are exactly as likely', () => {
    // As above, with as much room before the hour as behind the half day, and the other way round.
    const { times } = only([
      download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')]),
      stamped('t', '2026-03-20T09:30:00'),
      download('D2', [showing('2026-03-20T22:00:00.900', '2026-03-20T22:00:00')]),
    ]);
    expect(times.tests[0]).toMatchObject({ began: 'hour', estimate: utc('2026-03-20T10:30:00') + 500 });
    expect(times.changes.map(({ kind }) => kind)).toEqual(['hour', 'set-right']);
  });

  it('are by the likelier story also where power was lost so often that no number holds the odds', () => {
    // Half a day behind has 20 times the room of an hour behind; then 25 losses, each somewhere in two months.
    const { times } = only(
      [
        download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')], { lossCount: 0 }),
        stamped('t', '2026-03-20T09:30:00', 0),
        ...Array.from({ length: 25 }, (_, i) => stamped(`x${i}`, '2000-01-01T01:00:00', i + 1)),
      ],
      { end: '2026-05-20T10:00:00', habits: { driftPpm: 0, resets: [wallOf('2000-01-01T00:00:00')] } },
    );
    expect(times.cost).toBe(2 + 4 + 25 * 2);
    expect(times.tests[0]).toMatchObject({ began: 'half-day', estimate: utc('2026-03-20T21:30:00') + 500 });
    expect(times.changes[0]).toMatchObject({ kind: 'half-day' });
  });

  it('come with the kinds of stories, the cheapest first; where power was surely lost, that and what came on top', () => {
    // The count rises between a and b: set right there it costs 2 more than set right elsewhere beside a loss there.
    const { times } = only([
      right('D1', '2026-03-02T10:00:00', { lossCount: 3 }),
      stamped('a', '2026-03-03T10:00:00', 3),
      stamped('b', '2026-03-05T10:00:00', 4),
      right('D2', '2026-03-12T10:00:00', { lossCount: 4 }),
    ]);
    const setRight = times.stories.find(({ changes }) => changes.join() === 'set-right');
    expect(setRight).toEqual({ changes: ['set-right'], cost: 6, ways: 1 });
    const twice = times.stories.find(({ changes }) => changes.join() === 'set-right,set-right');
    expect(twice).toEqual({ changes: ['set-right', 'set-right'], cost: 8, ways: 2 });
    expect(times.changes).toMatchObject([{ kind: 'set-right', lossProven: true }]);
  });

  it('come with the cheapest kind first, whichever was seen first', () => {
    // 13 hours ahead: one change that fits nothing (2 + 9), or half a day and an hour on (2 + 4 + 4).
    const { times } = only([
      right('D1', '2026-03-02T10:00:00'),
      stamped('t', '2026-03-05T12:00:00'),
      download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T23:00:00')]),
    ]);
    expect(times.stories.slice(0, 2)).toEqual([
      { changes: ['half-day', 'hour'], cost: 10, ways: 1 },
      { changes: ['unexplained'], cost: 11, ways: 2 },
    ]);
  });

  it('tell the least cost of a kind, whichever of its ways was seen first', () => {
    // On New Year's night a clock that lost power at midnight is right. It was seen unset between a and b. Lost before a, and
    // set right between (2 + 2 + 2 + 2); or lost between, and set right behind b (2 + 2 + 2).
    const { times } = only([
      right('D1', '2025-12-31T23:50:00'),
      stamped('a', '2026-01-01T00:01:00'),
      download('S', [{ kind: 'unset', from: utc('2026-01-01T00:02:00'), to: utc('2026-01-01T00:02:01') }]),
      stamped('b', '2026-01-01T00:03:00'),
      right('D2', '2026-01-01T00:10:00'),
    ]);
    const found = times.stories.find(({ changes }) => changes.join() === 'loss,set-right');
    expect(found).toEqual({ changes: ['loss', 'set-right'], cost: 6, ways: 2 });
  });

  it('tell of the likelier of two equally cheap stories, of which one begins like the other', () => {
    // An hour behind, and right again on New Year's morning; power was lost between a and b. Set right behind the loss, within
    // the hour between them; or set right hours before, and lost at midnight, when a clock that starts again is right.
    const { times } = only([
      download('D1', [showing('2025-12-31T20:00:00', '2025-12-31T19:00:00')], { lossCount: 3 }),
      stamped('a', '2025-12-31T23:30:00', 3),
      stamped('b', '2026-01-01T01:30:00', 4),
      right('D2', '2026-01-01T01:45:00', { lossCount: 4 }),
    ]);
    expect(times.cost).toBe(6);
    expect(times.changes).toMatchObject([
      { kind: 'set-right', lossProven: false, when: { lo: utc('2025-12-31T20:00:00') } },
      { kind: 'loss', lossProven: true },
    ]);
    expect(times.changes[0]?.when.hi).toBeLessThan(utc('2026-01-01T00:00:00'));
  });

  it('tell of a change at all moments of its likeliest kind, also where another kind was the likelier one meanwhile', () => {
    // Half a day behind at a, right again from b or from c on, and an hour behind since New Year's night: power was lost
    // at 1 o'clock. Stories of other changes cost the same.
    const { times } = only([
      right('D1', '2025-12-29T10:00:00'),
      stamped('a', '2025-12-29T01:30:00'),
      stamped('b', '2025-12-29T14:48:00'),
      stamped('c', '2025-12-31T18:00:00'),
      stamped('d', '2026-01-01T07:18:00'),
      download('D2', [showing('2026-01-01T17:18:00', '2026-01-01T16:18:00')]),
    ]);
    expect(times.changes.map(({ kind }) => kind)).toEqual(['half-day', 'set-right', 'loss']);
    // a was made at 13:30 with a clock set up to 5 minutes wrong; c at 18:00 at the latest.
    expect(times.changes[1]?.when).toEqual({ lo: utc('2025-12-29T13:25:00'), hi: utc('2025-12-31T18:05:01') });
  });

  it('tell the size by the likelier place of the change', () => {
    // 2 hours ahead to the minute (-0.1 to 60 s), right at 20:00 (-0.1 to 1 s). Set right behind t, which has more room: t,
    // made after 10:29:30, was stamped no more than 2 h 31 s ahead. So 2 h 15.45 s before, 0.45 s behind.
    const { times } = only([
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T12:00')]),
      download('S', [setting('2026-03-02T10:29:30', '2026-03-02T10:29:30', 'refused')]),
      stamped('t', '2026-03-02T12:30:00'),
      right('D2', '2026-03-02T20:00:00'),
    ]);
    expect(times.changes.map(({ kind, size, when }) => [kind, size, when])).toEqual([
      ['set-right', -7_215_000, { lo: utc('2026-03-02T10:00:00'), hi: utc('2026-03-02T20:00:00') + 100 }],
    ]);
  });

  it('tell the size of a change only where it is known to less than 10 minutes', () => {
    // Set right within 5 minutes either way, and seen by no download since.
    const { times } = only(
      [download('D1', [showing('2026-03-20T10:00:00', '2026-06-28T10:00:00')]), stamped('t', '2026-03-20T15:00:00')],
      { end: '2026-03-21T10:00:00' },
    );
    expect(times.changes.map(({ kind }) => kind)).toEqual(['set-right']);
    expect(times.changes[0]).not.toHaveProperty('size');
  });

  it('are unknown, but for the order, where no story holds or where there are too many', () => {
    // The PC's clock was put back by a day between the downloads.
    const { times } = only([
      right('D1', '2026-03-02T10:00:00'),
      stamped('t', '2026-03-02T12:00:00'),
      right('D2', '2026-03-01T10:00:00'),
    ]);
    expect(times).toMatchObject({ tests: [undefined], overflow: true, changes: [], stories: [] });
    expect(times.cost).toBe(Number.POSITIVE_INFINITY);
    // A test each day for 10 days, after which the clock is half a day ahead; docks in 33 zones, which end one after the
    // other. Set right in any of them and half a day ahead in any other later on: 55 x 33 x 33 ways are too many.
    const day = (i: number) => new Date(Date.UTC(2026, 0, 20, 10) + i * 86_400_000).toISOString().slice(0, 19);
    const { gap } = only([
      right('D1', day(0)),
      ...Array.from({ length: 10 }, (_, i) => stamped(`t${i}`, day(i + 1))),
      download('D2', [showing(day(11), day(11.5))]),
    ]);
    if (!gap.first || !gap.last) throw new Error('a gap between two downloads');
    const ends = { first: gap.first.offset, last: gap.last.offset, usualDrift: 0 };
    const habits = { driftPpm: 0, resets: [] };
    const inZones = (n: number) => {
      const zones = Array.from({ length: n }, (_, k) => ({
        ...gap.zone,
        stretches: (from: Instant, to: Instant) => [{ from, to: instant(to - k), offset: 0 }],
      }));
      return timesInGap({ ...gap, zones }, ends, habits);
    };
    expect(inZones(2)).toMatchObject({ overflow: false, cost: 6 });
    const many = inZones(33);
    expect(many).toMatchObject({ overflow: true, cost: 6 });
    expect(many.tests).toEqual(Array.from({ length: 10 }, () => undefined));
  });

  it('keep the default date that the meter told last', () => {
    const reset = (text: string) => ({ resetStamp: wallOf(text) });
    const kinds = (first: object, last: object) =>
      only([
        right('D1', '2026-03-02T10:00:00', first),
        download('D2', [showing('2026-03-12T10:00:00', '2009-06-18T20:00:00')], last),
      ]).times.changes.map(({ kind }) => kind);
    expect(kinds({}, reset('2009-06-15T08:00:00'))).toEqual(['loss']);
    expect(kinds(reset('2009-06-15T08:00:00'), {})).toEqual(['loss']);
    expect(kinds(reset('2009-06-15T08:00:00'), reset('2001-06-15T08:00:00'))).toEqual(['unexplained']);
    expect(kinds({}, {})).toEqual(['unexplained']);
  });
});
