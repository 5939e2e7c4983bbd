/** The PC's own clock: what its time service says, on answers as the tools give them. */
import { describe, expect, it } from 'vitest';
import {
  askTimeService,
  type RunTool,
  readChrony,
  readSntp,
  readTimedatectl,
  readW32tm,
} from '../../../src/dock/guards/time-service.ts';

// Form of timedatectl(1) "show" of systemd 252; written from memory.
const timedatectl = (ntp: string, synchronised: string) => `Timezone=Europe/Lisbon
LocalRTC=no
CanNTP=yes
NTP=${ntp}
NTPSynchronized=${synchronised}
TimeUSec=Mon 2026-03-02 10:15:00 WET
RTCTimeUSec=Mon 2026-03-02 10:15:00 WET
`;

// Form of chronyc(1) "-c tracking", fields in the order of "tracking"; written from memory.
const chrony = (off: string, leap: string) =>
  `CB00710F,ntp.example,3,1772446500.123456789,${off},-0.000006747,0.000035822,3.225,0.000,0.129,0.013639022,0.001100737,64.2,${leap}\n`;

// Example of https://www.check-ntp.net/windows-time-troubleshooting.html, read in November 2026; the name is changed.
const W32TM = `Leap Indicator: 0(no warning)\r
Stratum: 4 (secondary reference - syncd by (S)NTP)\r
Precision: -23 (119.209ns per tick)\r
Root Delay: 0.0312500s\r
Root Dispersion: 7.7902343s\r
ReferenceId: 0xC0A80001 (source IP:  192.168.0.1)\r
Last Successful Sync Time: 6/19/2026 9:14:02 AM\r
Source: time.example\r
Poll Interval: 10 (1024s)\r
`;
// The same service in German, on a PC that follows only its own crystal; written from memory.
const W32TM_GERMAN = `Sprungindikator: 0(keine Warnung)\r
Stratum: 1 (Primärreferenz - synchron. über Funkuhr)\r
Präzision: -23 (119.209ns pro Tick)\r
Stammverzögerung: 0.0000000s\r
Stammabweichung: 10.0000000s\r
Referenz-ID: 0x4C4F434C (Quellname:  "LOCL")\r
Letzte erfolgr. Synchronisierungszeit: 02.03.2026 10:15:00\r
Quelle: Local CMOS Clock\r
`;

// Example of https://apple.stackexchange.com/questions/117864, read in November 2026; the names are changed.
const sntp = (correction: string) => `sntp 4.2.8p10@1.3728-o Tue Mar 21 14:36:42 UTC 2017 (136.200.1~2533)
2018-09-29 19:42:41.448103 (-0200) ${correction} +/- 0.183462 time.example 192.0.2.7 s2 no-leap
`;

describe('what the time service says', () => {
  it.each([
    ['timedatectl, synchronised', readTimedatectl(timedatectl('yes', 'yes')), 'kept'],
    ['timedatectl, switched off', readTimedatectl(timedatectl('no', 'no')), 'not kept'],
    ['timedatectl, on but without a server', readTimedatectl(timedatectl('yes', 'no')), 'not kept'],
    ['timedatectl, which says something else', readTimedatectl('Failed to connect to bus'), 'not known'],
    ['chrony, right to the millisecond', readChrony(chrony('0.000006523', 'Normal')), 'kept'],
    ['chrony, still putting right 12 s', readChrony(chrony('-12.000006523', 'Normal')), 'not kept'],
    ['chrony without a server', readChrony(chrony('0.000000000', 'Not synchronised')), 'not kept'],
    ['chrony that is not running', readChrony('506 Cannot talk to daemon'), 'not known'],
    ['Windows, synchronised', readW32tm(W32TM), 'kept'],
    ['Windows, not synchronised', readW32tm(W32TM.replace('0(no warning)', '3(not synchronized)')), 'not kept'],
    ['Windows without a source', readW32tm(W32TM.replace('4 (secondary', '0 (unspecified')), 'not kept'],
    ['Windows in German on its own crystal', readW32tm(W32TM_GERMAN), 'not kept'],
    [
      'Windows, the service stopped',
      readW32tm('The following error occurred: The service has not been started. (0x80070426)'),
      'not known',
    ],
    ['macOS, right', readSntp(sntp('-0.004512')), 'kept'],
    ['macOS, a quarter of an hour off', readSntp(sntp('+1087.742403')), 'not kept'],
    ['macOS without a network', readSntp('sntp: Exchange failed: Timeout\n'), 'not known'],
    ['nothing at all, timedatectl', readTimedatectl(''), 'not known'],
    ['nothing at all, chrony', readChrony(''), 'not known'],
    ['nothing at all, Windows', readW32tm(''), 'not known'],
    ['nothing at all, macOS', readSntp(''), 'not known'],
  ])('is understood: %s', (_, clock, kind) => {
    expect(clock.kind).toBe(kind);
  });

  it('tells how far the clock is off', () => {
    expect(readChrony(chrony('-0.250000000', 'Normal'))).toEqual({ kind: 'kept', by: 'chrony', offByS: 0.25 });
    expect(readSntp(sntp('+1087.742403'))).toMatchObject({ why: expect.stringContaining('1087.7 s off') });
  });
});

describe('asking the time service', () => {
  const answering =
    (answers: Readonly<Record<string, string>>): RunTool =>
    async (program) =>
      answers[program];

  it('takes the platform’s own tool, and on Linux the one that knows more', async () => {
    const linux = { timedatectl: timedatectl('yes', 'yes'), chronyc: chrony('0.001', 'Normal') };
    expect(await askTimeService('linux', answering(linux))).toMatchObject({ kind: 'kept', by: 'chrony' });
    const { timedatectl: only } = linux;
    expect(await askTimeService('linux', answering({ timedatectl: only }))).toMatchObject({ kind: 'kept' });
    expect(await askTimeService('win32', answering({ w32tm: W32TM }))).toMatchObject({ kind: 'kept' });
    expect(await askTimeService('darwin', answering({ sntp: sntp('+0.01') }))).toMatchObject({ kind: 'kept' });
  });

  it.each(['linux', 'win32', 'darwin', 'freebsd'] as const)(
    'says on %s that nothing is known where no tool answers',
    async (platform) => {
      expect((await askTimeService(platform, answering({}))).kind).toBe('not known');
    },
  );

  it('says the same for a tool that is really not there', async () => {
    const run: RunTool = async (program, args) =>
      (await import('../../../src/dock/guards/time-service.ts')).runTool(`no-${program}`, args);
    expect((await askTimeService('linux', run)).kind).toBe('not known');
  });
});
