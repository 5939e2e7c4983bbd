/** The times of `--since` and `--until`: local times of the dock, or exact ones with a zone. */
import { describe, expect, it } from 'vitest';
import { filterOf } from '../../src/cli/reading-filter.ts';

const iso = (at: number | undefined) => at !== undefined && new Date(at).toISOString();
const LISBON = 'Europe/Lisbon';

describe('the filter of a call', () => {
  it('is empty where nothing was asked for', () => {
    expect(filterOf({}, LISBON)).toEqual({});
  });

  it('hands on meter, patient and kind as they are', () => {
    const asked = { meter: 'PA00042', patient: 'ALDER-017', kind: 'control' } as const;
    expect(filterOf(asked, LISBON)).toEqual(asked);
  });

  it('reads local times in the zone of the dock, summer time included', () => {
    expect(iso(filterOf({ since: '2026-07-01T14:30' }, LISBON).since)).toBe('2026-07-01T13:30:00.000Z');
    expect(iso(filterOf({ since: '2026-01-01T14:30:20' }, LISBON).since)).toBe('2026-01-01T14:30:20.000Z');
  });

  it('reads a time with a zone as exactly that', () => {
    expect(iso(filterOf({ until: '2026-07-01T14:30:00+02:00' }, LISBON).until)).toBe('2026-07-01T12:30:00.000Z');
  });

  it('counts a day without an hour whole, at both ends', () => {
    const july = filterOf({ since: '2026-07-01', until: '2026-07-31' }, LISBON);
    expect(iso(july.since)).toBe('2026-06-30T23:00:00.000Z');
    expect(iso(july.until)).toBe('2026-07-31T23:00:00.000Z');
  });

  it('takes the first of two meanings in the repeated hour, and the hour after a gap', () => {
    expect(iso(filterOf({ since: '2026-10-25T01:30' }, LISBON).since)).toBe('2026-10-25T00:30:00.000Z');
    expect(iso(filterOf({ since: '2026-03-29T01:30' }, LISBON).since)).toBe('2026-03-29T00:30:00.000Z');
  });

  it.each(['yesterday', '2026-02-30', '01.03.2026', '2026-03-01T25:00', ''])(
    'refuses "%s" and names the option',
    (text) => {
      expect(() => filterOf({ until: text }, LISBON)).toThrowError(
        expect.objectContaining({ code: 'CALL_WRONG', message: expect.stringContaining('--until') }),
      );
    },
  );
});
