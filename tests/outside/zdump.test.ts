/**
 * The zone table against tzdata's own `zdump -v` (tz code, part of the IANA Time Zone Database; on Debian it comes
 * with libc-bin): every change of offset from 2000 to 2037, to the second, for zones with half hours, quarter hours
 * and changed rules. Node carries its own copy of tzdata. Where the copy of one is of a later year than that of the
 * other, it may know rules that were made in that year (as those of Morocco in 2026), so that the two are held against
 * each other up to that year only; copies of one year must agree in everything.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { zoneOf } from '../../src/core/zone.ts';

const FROM = Date.UTC(2000, 0, 1);

/** The first line of the system's copy names its version, such as 2025b; undefined where it has none to read. */
function systemVersion(): string | undefined {
  const file = '/usr/share/zoneinfo/tzdata.zi';
  return existsSync(file) ? /^# version (\d{4}\w*)/.exec(readFileSync(file, 'utf8'))?.[1] : undefined;
}

/** The year up to which two copies must agree. */
function commonUntil(one: string | undefined, other: string | undefined): number {
  const [a, b] = [one, other].map((version) => Number(version?.slice(0, 4)));
  return a && b && a !== b ? Math.max(a, b) : 2037;
}

const UNTIL = commonUntil(process.versions['tz'], systemVersion());
const TO = Date.UTC(UNTIL, 0, 1);

const ZONES = [
  'Europe/Lisbon',
  'Europe/Berlin',
  'Europe/Istanbul', // gave up summer time in 2016
  'Europe/Moscow', // changed its offset in 2011 and 2014
  'America/New_York', // new rules in 2007
  'America/St_Johns', // half an hour; changed at 00:01 until 2011
  'America/Sao_Paulo', // gave up summer time in 2019
  'America/Caracas', // moved by half an hour in 2007 and 2016
  'Asia/Kathmandu', // three quarters of an hour
  'Asia/Tehran', // gave up summer time in 2022
  'Asia/Pyongyang', // moved by half an hour in 2015 and 2018
  'Australia/Lord_Howe', // summer time of half an hour
  'Pacific/Apia', // left out 30 December 2011
  'Pacific/Auckland',
  'Africa/Casablanca', // summer time suspended in Ramadan
];

const hasZdump = spawnSync('zdump', ['--version']).error === undefined;

interface Change {
  readonly at: string;
  readonly offsetS: number;
}

/** Changes as zdump prints them: pairs of lines, the last second before and the first second after. */
function changesByZdump(name: string): Change[] {
  const text = spawnSync('zdump', ['-v', '-c', '2000,2037', name], { encoding: 'utf8' }).stdout;
  const changes: Change[] = [];
  let before: number | undefined;
  for (const line of text.split('\n')) {
    const m = /^\S+\s+\w{3} (\w{3})\s+(\d+) (\d{2}:\d{2}:\d{2}) (\d{4}) UTC? = .* gmtoff=(-?\d+)$/.exec(line);
    if (!m) continue;
    const at = Date.parse(`${m[2]} ${m[1]} ${m[4]} ${m[3]} UTC`);
    const offsetS = Number(m[5]);
    const isFirstAfter = before !== undefined && before !== offsetS;
    if (isFirstAfter && at >= FROM && at < TO) changes.push({ at: new Date(at).toISOString(), offsetS });
    before = offsetS;
  }
  return changes;
}

function changesByTable(name: string): Change[] {
  return zoneOf(name)
    .stretches(instant(FROM), instant(TO - 1))
    .slice(1)
    .map((stretch) => ({ at: new Date(stretch.from).toISOString(), offsetS: stretch.offset / 1000 }));
}

describe.skipIf(!hasZdump)(`the zone table and zdump tell the same changes of offset from 2000 to ${UNTIL}`, () => {
  it.each(ZONES)('in %s', (name) => {
    expect(changesByTable(name)).toEqual(changesByZdump(name));
  });

  it('and zdump did tell changes where there were some', () => {
    expect(changesByZdump('Europe/Lisbon')).toHaveLength(2 * (UNTIL - 2000));
    expect(changesByZdump('Asia/Kathmandu')).toHaveLength(0);
  });
});

it.each([
  ['2025c', '2025b', 2037],
  ['2026c', '2025b', 2026],
  ['2025b', '2026c', 2026],
  [undefined, '2025b', 2037],
  ['2026c', undefined, 2037],
])('copies of the versions %s and %s must agree up to %s', (one, other, year) => {
  expect(commonUntil(one, other)).toBe(year);
});
