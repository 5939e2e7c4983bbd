/** Local time of an IANA zone, both ways. The table itself is checked against tzdata in tests/outside/zdump.test.ts. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';

const seed = seedOr(20260301);
const utc = (text: string) => instant(Date.parse(`${text}Z`));
const local = (text: string) => wall(Date.parse(`${text}Z`));

describe('a zone', () => {
  const lisbon = zoneOf('Europe/Lisbon');

  it('knows what a correct clock shows at an instant, in winter and in summer', () => {
    expect(lisbon.wallAt(utc('2026-01-10T12:00:00'))).toBe(local('2026-01-10T12:00:00'));
    expect(lisbon.wallAt(utc('2026-07-10T12:00:00'))).toBe(local('2026-07-10T13:00:00'));
  });

  it('knows the one instant that an ordinary local time means', () => {
    expect(lisbon.momentOf(local('2026-07-10T13:00:00'))).toEqual({ kind: 'unique', at: utc('2026-07-10T12:00:00') });
  });

  // The last Sunday of March and of October at 01:00 UTC: European Union Directive 2000/84/EC.
  it('gives both instants of the hour that happens twice', () => {
    expect(lisbon.momentOf(local('2026-10-25T01:30:00'))).toEqual({
      kind: 'repeated',
      earlier: utc('2026-10-25T00:30:00'),
      later: utc('2026-10-25T01:30:00'),
    });
  });

  it('says that the hour which a spring change skips does not exist, and gives both readings of it', () => {
    expect(lisbon.momentOf(local('2026-03-29T01:30:00'))).toEqual({
      kind: 'skipped',
      earlier: utc('2026-03-29T00:30:00'),
      later: utc('2026-03-29T01:30:00'),
    });
  });

  it('knows a change of half an hour', () => {
    // Lord Howe Island moves by 30 minutes: 02:00 becomes 02:30 on the first Sunday of October (tzdata, australasia).
    const howe = zoneOf('Australia/Lord_Howe');
    expect(howe.offsetAt(utc('2026-07-01T00:00:00'))).toBe(10.5 * 3_600_000);
    expect(howe.offsetAt(utc('2026-12-01T00:00:00'))).toBe(11 * 3_600_000);
    expect(howe.momentOf(local('2026-10-04T02:15:00')).kind).toBe('skipped');
    expect(howe.momentOf(local('2026-10-04T02:45:00')).kind).toBe('unique');
  });

  it('lists its stretches of constant offset without a hole between them', () => {
    const from = utc('2026-01-01T00:00:00');
    const to = utc('2027-01-01T00:00:00');
    const stretches = lisbon.stretches(from, to);
    expect(stretches.map((s) => s.offset)).toEqual([0, 3_600_000, 0]);
    expect(stretches[0]?.from).toBe(from);
    expect(stretches.at(-1)?.to).toBe(to);
    for (const [i, s] of stretches.entries()) if (i > 0) expect(s.from).toBe((stretches[i - 1]?.to ?? 0) + 1);
  });

  it('is refused with a clear fault where the platform does not know it', () => {
    expect(() => zoneOf('Atlantis/Port_Alder')).toThrowError(expect.objectContaining({ code: 'ZONE_UNKNOWN' }));
  });

  it(`finds every instant again among the meanings of the local time that it shows (SEED=${seed})`, () => {
    const zones = [
      'Europe/Lisbon',
      'America/St_Johns',
      'Australia/Lord_Howe',
      'Asia/Kathmandu',
      'Africa/Casablanca',
      'Pacific/Apia',
    ];
    const moment = fc.integer({ min: Date.UTC(1991, 0), max: Date.UTC(2059, 0) });
    fc.assert(
      fc.property(fc.constantFrom(...zones), moment, (name, ms) => {
        const zone = zoneOf(name);
        const found = zone.momentOf(zone.wallAt(instant(ms)));
        const meanings = found.kind === 'unique' ? [found.at] : [found.earlier, found.later];
        expect(found.kind).not.toBe('skipped');
        expect(meanings).toContain(ms);
      }),
      { seed, numRuns: runsOr(2000) },
    );
  });
});
