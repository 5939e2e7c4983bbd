/** Why a test has its time, in one sentence. */
import { describe, expect, it } from 'vitest';
import { reasonOf } from '../../src/clock/sentences.ts';
import { anchorAt, reportOf } from './hand-made.ts';

describe('the sentence that explains a time', () => {
  // Known to a tenth of a second; the middle of the offset is given as it is to be said.
  const first = anchorAt('D1', '2026-03-02T10:00:00', '2026-03-02T10:00:00');
  const last = anchorAt('D2', '2026-03-12T10:00:59', '2026-03-12T10:00:59');
  const exactly = (ms: number) => ({ lo: ms - 50, hi: ms + 50 });
  const { gap } = reportOf({ first, last });
  const ends = { first: exactly(-120_000), last: exactly(42_000) };

  it('names both downloads where the clock ran undisturbed between them', () => {
    expect(reasonOf('between', gap, ends, undefined, false)).toBe(
      "The meter's clock ran undisturbed between the downloads of 2026-03-02 10:00 (2 min behind) and 2026-03-12 10:00 (42 s ahead).",
    );
  });

  it('names the download from which a time is reckoned, and whether the clock may have been changed', () => {
    expect(reasonOf('first', gap, ends, undefined, false)).toBe(
      "Reckoned onwards from the download of 2026-03-02 10:00, when the meter's clock was 2 min behind.",
    );
    expect(reasonOf('first', gap, ends, undefined, true)).toBe(
      "Reckoned onwards from the download of 2026-03-02 10:00, when the meter's clock was 2 min behind; the bounds allow for the clock having been changed earlier or later.",
    );
    expect(reasonOf('last', gap, ends, undefined, true)).toBe(
      "Reckoned back from the download of 2026-03-12 10:00, when the meter's clock was 42 s ahead; the bounds allow for the clock having been changed earlier or later.",
    );
  });

  it('calls a clock right that is off by less than a second', () => {
    const said = (ms: number) => reasonOf('first', gap, { first: exactly(ms) }, undefined, false).split(' was ')[1];
    expect(said(999)).toBe('right to the second.');
    expect(said(-999)).toBe('right to the second.');
    expect(said(1000)).toBe('1 s ahead.');
    expect(said(-1000)).toBe('1 s behind.');
  });

  it('compares the clock with local time', () => {
    const summer = anchorAt('D1', '2026-07-02T10:00:00', '2026-07-02T10:00:00', { zone: 'Europe/Lisbon' });
    expect(reasonOf('first', reportOf({ first: summer }).gap, { first: exactly(0) }, undefined, false)).toBe(
      "Reckoned onwards from the download of 2026-07-02 11:00, when the meter's clock was 1 h behind.",
    );
  });

  const nobody = "No download saw the meter's clock while it ran like this";
  const bounded = '; the time is bounded by the tests and downloads before and after.';

  it.each([
    ['loss', ': it had lost power and ran from its default date'],
    ['set-right', ': it had been set by hand'],
    ['hour', ': it had been set by hand, an hour off'],
    ['half-day', ': it had been set by hand, twelve hours off'],
    ['day-month', ': it had been set by hand with day and month exchanged'],
    ['year', ': it had been set by hand with a wrong year'],
    ['unexplained', ': it had been changed in a way that fits no usual cause'],
    [undefined, ''],
  ] as const)('says where no download saw the clock how that stretch of it began: %s', (began, why) => {
    expect(reasonOf('loose', gap, ends, began, true)).toBe(`${nobody}${why}${bounded}`);
  });

  it('names no download that is not there', () => {
    const open = [
      ['between', { first }, ends],
      ['between', { last }, ends],
      ['between', { first, last }, { first: ends.first }],
      ['between', { first, last }, { last: ends.last }],
      ['first', { last }, ends],
      ['first', { first, last }, { last: ends.last }],
      ['last', { first }, ends],
      ['last', { first, last }, { first: ends.first }],
    ] as const;
    for (const [place, given, known] of open)
      expect(reasonOf(place, reportOf(given).gap, known, undefined, false)).toBe(`${nobody}${bounded}`);
  });
});
