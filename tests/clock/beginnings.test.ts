/**
 * What can have happened to a clock before a stamp. A gap of 10 days from 2 March 2026, 10:00; the stamp lies 4 days in.
 * Without drift 1 ms of slack is left, with 100 ppm 86.4 s, 1 % of it and 1 ms: 87.265 s.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Beginning, beginnings, type CalendarPart, calendarOf, type Setting } from '../../src/clock/beginnings.ts';
import type { ChangeKind } from '../../src/clock/costs.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const START = Date.UTC(2026, 2, 2, 10);
const END = START + 10 * DAY;
const STAMP = START + 4 * DAY;
/** How far a hand may be off: 5 minutes. */
const HAND = 300_000;
const window = { lo: START, hi: END };
const SLACK = 87_265;

const part = (offset: number, more: Partial<CalendarPart> = {}): CalendarPart => ({
  offset,
  when: window,
  exchanged: [],
  shifted: () => [],
  ...more,
});
const still = (more: Partial<Setting> = {}): Setting => ({
  wall: STAMP,
  resolutionMs: 1000,
  window,
  calendar: [part(0)],
  resets: [],
  drift: 0,
  ...more,
});
const ofKind = (kind: ChangeKind, ...given: Parameters<typeof beginnings>): Beginning[] =>
  beginnings(...given).filter((b) => b.kind === kind && b.moved === undefined);
const losses = (...given: Parameters<typeof beginnings>): Beginning[] => ofKind('loss', ...given);
const days = (...all: (readonly [number, number, number])[]): number[] => all.map(([y, m, d]) => Date.UTC(y, m - 1, d));

describe('a power loss', () => {
  it('let the clock run from a default stamp that does not lie behind the stamp, for no longer than the gap lasts', () => {
    // The stamp means any moment of its second; what ran for the whole gap may have run for a millisecond more.
    const resets = [STAMP + 1000, STAMP + 999, STAMP, STAMP - 10 * DAY - 1, STAMP - 10 * DAY - 2];
    expect(losses(still({ resets })).map(({ from }) => from)).toEqual([STAMP + 999, STAMP, STAMP - 10 * DAY - 1]);
    expect(losses(still({ resets: [] }))).toEqual([]);
  });

  it('may lie a little further back where the clock drifts', () => {
    // 10 days and the slack, of which a fast clock shows 100 ppm more.
    const longest = (10 * DAY + SLACK) / (1 - 1e-4);
    const from = (ran: number) => losses(still({ resets: [STAMP - ran], drift: 1e-4 })).length;
    expect([from(longest - 1), from(longest + 1)]).toEqual([1, 0]);
  });

  it('let it run from any first of January that is not too long ago, and none before 1970', () => {
    const long = { lo: START - 800 * DAY, hi: START };
    const from = (wall: number, more: Partial<Setting> = {}) =>
      losses(still({ wall, resets: 'new-year', ...more })).map((b) => b.from);
    // 4, 370 and 735 days before; 1100 days before is more than the 800 of the window.
    expect(from(Date.UTC(2010, 0, 5), { window: long })).toEqual(days([2010, 1, 1], [2009, 1, 1], [2008, 1, 1]));
    expect(from(Date.UTC(2010, 0, 5))).toEqual(days([2010, 1, 1]));
    const edge = Date.UTC(2010, 0, 11) + 1;
    expect([from(edge), from(edge + 1)]).toEqual([days([2010, 1, 1]), []]);
    expect(from(Date.UTC(1971, 0, 5), { window: long })).toEqual(days([1971, 1, 1], [1970, 1, 1]));
    expect(from(Date.UTC(1970, 0, 5), { window: { lo: Number.NEGATIVE_INFINITY, hi: START } })).toEqual(
      days([1970, 1, 1]),
    );
  });

  it('was at any moment of the gap where no download saw the clock that it left, but not before the default date', () => {
    const from = STAMP - 2 * DAY;
    expect(losses(still({ resets: [from - DAY * 5] }))).toEqual([
      { kind: 'loss', cost: 2, when: window, from: from - DAY * 5 },
    ]);
    // It was that date first in the zone that is furthest east: an hour before it was so in UTC.
    const calendar = [part(-4 * HOUR), part(HOUR), part(0)];
    expect(losses(still({ resets: [from], calendar }))).toEqual([
      { kind: 'loss', cost: 2, when: { lo: from - HOUR, hi: END }, from },
    ]);
  });

  it('is dated by the download that saw the clock afterwards, within what it can have drifted', () => {
    // It showed its default date a day into the gap, by a download 3 days after the stamp: 25.92 s of drift, its 1 %, that
    // of the stamp's second, and 1 ms.
    const from = STAMP - 20 * DAY;
    const at = START + DAY;
    const lo = from - at;
    const tail = 1.01 * (25_920 + 0.1) + 1;
    const s = still({ resets: [from], drift: 1e-4, wall: from + 3 * DAY });
    const [loss, ...others] = losses(s, { offset: { lo, hi: lo + 1000 }, wall: from + 6 * DAY });
    expect(others).toEqual([]);
    expect(loss?.when.lo).toBeCloseTo(at - 1000 - SLACK - tail, 2);
    expect(loss?.when.hi).toBeCloseTo(at + SLACK + tail, 2);
    expect(loss?.from).toBe(from);
  });

  it('leaves no room for drift before the stamp that the download saw', () => {
    // The download showed an earlier stamp: only the two milliseconds of slack are left.
    const from = STAMP - 20 * DAY;
    const lo = from - (START + DAY);
    const s = still({ resets: [from], wall: from + 3 * DAY });
    const [loss] = losses(s, { offset: { lo, hi: lo }, wall: from });
    expect(loss?.when).toEqual({ lo: START + DAY - 2, hi: START + DAY + 2 });
    // With drift those of the gap, and still 1 ms for what came after the stamp.
    const [drifting] = losses({ ...s, drift: 1e-4 }, { offset: { lo, hi: lo }, wall: from });
    expect(drifting?.when.hi).toBeCloseTo(START + DAY + SLACK + 1, 2);
  });

  it('lies in the gap, and is none where the clock that the download saw would have begun outside of it', () => {
    const from = STAMP - 20 * DAY;
    const begun = (at: number, width = 0) =>
      losses(still({ resets: [from], wall: from + DAY }), {
        offset: { lo: from - at - width, hi: from - at },
        wall: from + DAY,
      }).map(({ when }) => when);
    expect(begun(END + 2)).toEqual([{ lo: END, hi: END }]);
    expect(begun(END + 3)).toEqual([]);
    expect(begun(START - 2)).toEqual([{ lo: START, hi: START }]);
    expect(begun(START - 3)).toEqual([]);
    expect(begun(START - DAY, 20 * DAY)).toEqual([window]);
  });
});

describe('a hand', () => {
  it('can have set the clock right, an hour or twelve hours off, within five minutes, at any moment of the gap', () => {
    const by = (lo: number) => ({ when: window, offset: { lo: lo - HAND, hi: lo + HAND } });
    expect(beginnings(still({ calendar: [part(HOUR)] }))).toEqual([
      { kind: 'set-right', cost: 2, ...by(HOUR) },
      { kind: 'hour', cost: 4, ...by(0) },
      { kind: 'hour', cost: 4, ...by(2 * HOUR) },
      { kind: 'half-day', cost: 4, ...by(-11 * HOUR) },
      { kind: 'half-day', cost: 4, ...by(13 * HOUR) },
      { kind: 'hour', cost: 4, when: window, moved: -HOUR },
      { kind: 'hour', cost: 4, when: window, moved: HOUR },
      { kind: 'unexplained', cost: 9, when: window },
    ]);
  });

  it('can have exchanged day and month, or keyed in a wrong year, on the days on which that gives this jump', () => {
    const when = { lo: START + DAY, hi: START + 3 * DAY };
    const jumpy = part(HOUR, {
      exchanged: [
        { by: DAY, when },
        { by: 2 * DAY, when: { lo: START - DAY, hi: START } },
        { by: 3 * DAY, when: { lo: END + 1, hi: END + DAY } },
      ],
      shifted: (k) => [{ by: k * 365 * DAY, when: { lo: START - DAY, hi: START + DAY } }],
    });
    const at = (by: number) => ({ lo: by + HOUR - HAND, hi: by + HOUR + HAND });
    const s = still({ wall: STAMP + 365 * DAY, calendar: [jumpy] });
    expect(ofKind('day-month', s)).toEqual([]); // the stamp lies a year later than any of them would
    expect(ofKind('year', s)).toEqual([
      { kind: 'year', cost: 4.5, when: { lo: START, hi: START + DAY }, offset: at(365 * DAY) },
    ]);
    expect(ofKind('day-month', { ...s, wall: STAMP + 2 * DAY })).toEqual([
      { kind: 'day-month', cost: 4.5, when, offset: at(DAY) },
      { kind: 'day-month', cost: 4.5, when: { lo: START, hi: START }, offset: at(2 * DAY) },
    ]);
  });

  it('can have keyed in the year that the stamp says, or the one before or after it, if that is a wrong one', () => {
    const asked = (yearsOff: number, offset = 0) => {
      const years: number[] = [];
      const shifted = (k: number) => {
        years.push(k);
        return [];
      };
      beginnings(still({ wall: START + 5 * DAY + yearsOff * 365.2425 * DAY, calendar: [part(offset, { shifted })] }));
      return years;
    };
    expect(asked(0.49)).toEqual([-1, 1]);
    expect(asked(1.49)).toEqual([1, 2]);
    expect(asked(1.51)).toEqual([1, 2, 3]);
    expect(asked(-1.51)).toEqual([-3, -2, -1]);
    // Half a day ahead: six hours beyond the half year are not enough.
    expect(asked(1.5 + 0.25 / 365.2425, 12 * HOUR)).toEqual([1, 2]);
  });

  it('must have set the clock before the stamp, and the stamp lies in the gap', () => {
    // Set right with this offset, the stamp was made 5 minutes either side of STAMP - offset.
    const isPossible = (offset: number) => ofKind('set-right', still({ calendar: [part(offset)] })).length === 1;
    const latest = STAMP + 1000 + HAND + 1 - START;
    expect([isPossible(latest), isPossible(latest + 1)]).toEqual([true, false]);
    const earliest = STAMP - HAND - 1 - END;
    expect([isPossible(earliest), isPossible(earliest - 1)]).toEqual([true, false]);
    // Where the part of the calendar begins later than the gap, it is this part that counts.
    const when = { lo: START + DAY, hi: END };
    const later = (offset: number) => ofKind('set-right', still({ calendar: [part(offset, { when })] })).length === 1;
    expect([later(latest - DAY), later(latest - DAY + 1)]).toEqual([true, false]);
  });

  it('must have left the offset that the next download found, within what drift allows', () => {
    const fits = (lo: number, drift = 0) =>
      ofKind('set-right', still({ drift }), { offset: { lo, hi: lo + 1000 }, wall: STAMP + 3 * DAY }).length === 1;
    expect([fits(HAND + 2), fits(HAND + 3)]).toEqual([true, false]);
    expect([fits(-HAND - 1002), fits(-HAND - 1003)]).toEqual([true, false]);
    // 100 ppm of 10 days and of the 3 until the download, as for a loss.
    const most = HAND + SLACK + 1.01 * (25_920 + 0.1) + 1;
    expect([fits(most - 1, 1e-4), fits(most + 1, 1e-4)]).toEqual([true, false]);
    expect([fits(-most - 999, 1e-4), fits(-most - 1001, 1e-4)]).toEqual([true, false]);
  });

  it('is looked for in the part of the calendar that lies in the gap', () => {
    const set = (lo: number, hi: number) =>
      ofKind('set-right', still({ calendar: [part(0, { when: { lo, hi } })] })).map(({ when }) => when);
    expect(set(START - DAY, START)).toEqual([{ lo: START, hi: START }]);
    expect(set(START - DAY, START - 1)).toEqual([]);
    expect(set(STAMP, END + DAY)).toEqual([{ lo: STAMP, hi: END }]);
    expect(set(END + 1, END + DAY)).toEqual([]);
  });
});

describe('the calendar of a gap', () => {
  const lisbon = zoneOf('Europe/Lisbon');

  it('is split where the offset of the zone changes, and holds what two docks have in common once', () => {
    // Summer time begins in Lisbon on 29 March 2026 at 01:00 UTC.
    const span = { lo: Date.UTC(2026, 2, 28), hi: Date.UTC(2026, 2, 30) };
    const summer = Date.UTC(2026, 2, 29, 1);
    const lisbonParts = [
      { offset: 0, when: { lo: span.lo, hi: summer - 1 } },
      { offset: HOUR, when: { lo: summer, hi: span.hi } },
    ];
    const told = (parts: CalendarPart[]) => parts.map(({ offset, when }) => ({ offset, when }));
    expect(told(calendarOf(span, [lisbon]))).toEqual(lisbonParts);
    expect(told(calendarOf(span, [lisbon, zoneOf('Europe/London'), zoneOf('Etc/UTC')]))).toEqual([
      ...lisbonParts,
      { offset: 0, when: span },
    ]);
    expect(calendarOf(span, [])).toEqual([]);
  });

  it('knows on which days an exchange of day and month gives which date', () => {
    // 1 March 12:00 to 5 March 06:00 in a zone three hours behind: local days 1 to 5 March; the 3rd stays the same.
    const span = { lo: Date.UTC(2026, 2, 1, 12), hi: Date.UTC(2026, 2, 5, 6) };
    const [only, ...others] = calendarOf(span, [zoneOf('America/Sao_Paulo')]);
    expect(others).toEqual([]);
    const local = (d: number) => Date.UTC(2026, 2, d, 3);
    expect(only?.exchanged).toEqual([
      { by: Date.UTC(2026, 0, 3) - Date.UTC(2026, 2, 1), when: { lo: span.lo, hi: local(2) - 1 } },
      { by: Date.UTC(2026, 1, 3) - Date.UTC(2026, 2, 2), when: { lo: local(2), hi: local(3) - 1 } },
      { by: Date.UTC(2026, 3, 3) - Date.UTC(2026, 2, 4), when: { lo: local(4), hi: local(5) - 1 } },
      { by: Date.UTC(2026, 4, 3) - Date.UTC(2026, 2, 5), when: { lo: local(5), hi: span.hi } },
    ]);
  });

  it('knows them by the days of the zone, from the first moment to the last', () => {
    // Nine hours ahead: from 2 March 03:00 to the first moment of 6 March.
    const local = (d: number) => Date.UTC(2026, 2, d, -9);
    const span = { lo: Date.UTC(2026, 2, 1, 18), hi: local(6) };
    const [only] = calendarOf(span, [zoneOf('Asia/Tokyo')]);
    expect(only?.exchanged.map(({ when }) => when)).toEqual([
      { lo: span.lo, hi: local(3) - 1 },
      { lo: local(4), hi: local(5) - 1 },
      { lo: local(5), hi: local(6) - 1 },
      { lo: local(6), hi: local(6) },
    ]);
  });

  it('has no exchange for days beyond the twelfth, in January one for all but the first', () => {
    const months = (lo: number, hi: number) =>
      calendarOf({ lo, hi }, [zoneOf('Etc/UTC')])[0]?.exchanged.map(({ when }) => new Date(when.lo).getUTCDate());
    expect(months(Date.UTC(2026, 0, 1), Date.UTC(2026, 0, 31))).toEqual([2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
    expect(months(Date.UTC(2026, 11, 10), Date.UTC(2026, 11, 14))).toEqual([10, 11]);
  });

  it('knows how far a wrong year lies off, and that only leap years have a 29 February', () => {
    const span = { lo: Date.UTC(2024, 1, 27, 12), hi: Date.UTC(2024, 2, 2, 12) };
    const [only] = calendarOf(span, [zoneOf('Etc/UTC')]);
    const march = Date.UTC(2024, 2, 1);
    expect(only?.shifted(1)).toEqual([
      { by: 366 * DAY, when: { lo: span.lo, hi: march - DAY - 1 } },
      { by: 365 * DAY, when: { lo: march, hi: span.hi } },
    ]);
    expect(only?.shifted(-1)).toEqual([
      { by: -365 * DAY, when: { lo: span.lo, hi: march - DAY - 1 } },
      { by: -366 * DAY, when: { lo: march, hi: span.hi } },
    ]);
    // From one leap year to the next every day can be keyed in.
    expect(only?.shifted(4)).toEqual([{ by: (4 * 365 + 1) * DAY, when: span }]);
    expect(only?.shifted(4)).toBe(only?.shifted(4)); // made once
  });

  it('takes the 29th of another month for any other day', () => {
    const at = Date.UTC(2024, 2, 29);
    const [only] = calendarOf({ lo: at, hi: at + DAY - 1 }, [zoneOf('Etc/UTC')]);
    expect(only?.shifted(1)).toEqual([{ by: 365 * DAY, when: { lo: at, hi: at + DAY - 1 } }]);
  });

  const seed = seedOr(20260301);
  it(`has every moment in exactly one part, and in at most one exchange and one jump of a year (SEED=${seed})`, () => {
    const at = fc.integer({ min: Date.UTC(2023, 0, 1), max: Date.UTC(2027, 0, 1) });
    fc.assert(
      fc.property(at, fc.nat(100 * DAY), fc.double({ min: 0, max: 1, noNaN: true }), (lo, length, share) => {
        const parts = calendarOf({ lo, hi: lo + length }, [lisbon]);
        const moment = Math.floor(lo + share * length);
        const holds = ({ when }: { when: { lo: number; hi: number } }) => when.lo <= moment && moment <= when.hi;
        const mine = parts.filter(holds);
        expect(mine.map(({ offset }) => offset)).toEqual([lisbon.offsetAt(moment as never)]);
        const local = new Date(moment + (mine[0]?.offset ?? 0));
        const keyed = (mine[0]?.exchanged ?? []).filter(holds).map(({ by }) => new Date(local.getTime() + by));
        const [day, month] = [local.getUTCDate(), local.getUTCMonth() + 1];
        expect(keyed.map((d) => [d.getUTCDate(), d.getUTCMonth() + 1, d.getUTCFullYear()])).toEqual(
          day > 12 || day === month ? [] : [[month, day, local.getUTCFullYear()]],
        );
        const years = (mine[0]?.shifted(2) ?? []).filter(holds).map(({ by }) => new Date(local.getTime() + by));
        expect(years.map((d) => [d.getUTCDate(), d.getUTCMonth() + 1, d.getUTCFullYear()])).toEqual(
          day === 29 && month === 2 ? [] : [[day, month, local.getUTCFullYear() + 2]],
        );
      }),
      { seed, numRuns: runsOr(100) },
    );
  });
});
