/**
 * The days on which summer time begins and ends in 2026, through the zone table and through placing. Source: the IANA
 * Time Zone Database (2025b), files europe (rule EU: last Sunday of March and of October, 01:00 UTC) and northamerica
 * (rule US: second Sunday of March, first Sunday of November, 02:00 local time).
 */
import { describe, expect, it } from 'vitest';
import { zoneOf } from '../../src/core/zone.ts';
import { placed, stamped, utc } from '../clock/hand-made.ts';

const HOUR = 3_600_000;

describe.each([
  {
    zone: 'Europe/Berlin',
    begins: '2026-03-29T01:00:00',
    ends: '2026-10-25T01:00:00',
    winter: 1,
    // Local times around the two nights: the last and first that exist, and one in the hour that happens twice.
    beforeSpring: '2026-03-29T01:59:59',
    afterSpring: '2026-03-29T03:00:00',
    twice: '2026-10-25T02:30:00',
  },
  {
    zone: 'America/New_York',
    begins: '2026-03-08T07:00:00',
    ends: '2026-11-01T06:00:00',
    winter: -5,
    beforeSpring: '2026-03-08T01:59:59',
    afterSpring: '2026-03-08T03:00:00',
    twice: '2026-11-01T01:30:00',
  },
])('summer time of 2026 in $zone', ({ zone, begins, ends, winter, beforeSpring, afterSpring, twice }) => {
  it('is from the day to the day that tzdata says', () => {
    const stretches = zoneOf(zone).stretches(utc('2026-01-01T00:00:00'), utc('2026-12-31T00:00:00'));
    expect(stretches.map((s) => s.offset / HOUR)).toEqual([winter, winter + 1, winter]);
    expect(stretches[1]?.from).toBe(utc(begins));
    expect(stretches[2]?.from).toBe(utc(ends));
  });

  it('makes two stamps in a row across the spring change lie a second apart', () => {
    const { of } = placed([stamped('t', beforeSpring), stamped('u', afterSpring)], { zone });
    expect((of('t').takenAt ?? 0) - 500).toBe(utc(begins) - 1000);
    expect((of('u').takenAt ?? 0) - 500).toBe(utc(begins));
  });

  it('has an hour in autumn whose stamps the order of the tests tells apart', () => {
    const earlier = twice.replace(':30:', ':10:');
    const { of } = placed([stamped('t', twice), stamped('u', earlier)], { zone });
    expect((of('t').takenAt ?? 0) - 500).toBe(utc(ends) - HOUR / 2); // in summer time still
    expect((of('u').takenAt ?? 0) - 500).toBe(utc(ends) + HOUR / 6); // ten minutes into winter time
  });
});
