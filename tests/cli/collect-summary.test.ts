/** What is said after a download: what was new, what was repaired, how the clock was, what to do next. */
import { describe, expect, it } from 'vitest';
import { type DownloadFacts, summaryText } from '../../src/cli/collect-summary.ts';
import type { Stroke } from '../../src/cli/tally.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { downloadId } from '../../src/core/reading.ts';
import type { StoredDownload } from '../../src/store/downloads.ts';

const at = instant(Date.UTC(2026, 6, 2, 9, 15));
const download = (rest: Partial<StoredDownload> = {}): StoredDownload => ({
  id: downloadId(17, 0),
  captureNo: 17,
  ordinal: 0,
  meterNo: 1,
  meterId: 'PA00042',
  meterModel: 'GM-10',
  at,
  until: at,
  protocol: 'line',
  profile: 'tlp-generic',
  zone: 'Europe/Lisbon',
  port: '/dev/ttyUSB0',
  held: 3,
  complete: true,
  bytes: 1000,
  damagedLines: 0,
  retries: 0,
  durationMs: 1000,
  clockOffS: 4,
  clockSet: false,
  new: 1,
  known: 2,
  vanished: 0,
  possiblyLost: false,
  runRestarted: false,
  doubtful: false,
  ...rest,
});
const strokes: Stroke[] = [
  { kind: 'patient', isNew: false },
  { kind: 'control', isNew: false },
  { kind: 'patient', isNew: true },
];
const set = (outcome: 'confirmed' | 'refused' | 'unknown'): ClockEvent => ({
  kind: 'set',
  asked: wall(at),
  from: at,
  to: at,
  outcome,
});
const say = (rest: Partial<DownloadFacts> = {}): string =>
  summaryText(
    {
      download: download(),
      strokes,
      clock: [],
      capacity: 200,
      hasLostPower: false,
      losesTargets: true,
      isClockSettable: true,
      now: at,
      ...rest,
    },
    'ascii',
    80,
  );

describe('the summary of a download', () => {
  it('shows meter, tally, counts, clock and the next step', () => {
    expect(say()).toBe(
      [
        'GM-10 PA00042 on /dev/ttyUSB0',
        "  ',|",
        "  | new   ' known   , known control",
        '  3 of 3 tests read: 1 new, 2 known. Nothing was deleted on the meter.',
        '  Clock: 4 s fast.',
        '  Next: tallydock readings --meter PA00042',
        '',
      ].join('\n'),
    );
  });

  it('says what is missing after a cut, and that running again brings it', () => {
    const text = say({ download: download({ complete: false, held: 10 }) });
    expect(text).toContain("',|__ _____");
    expect(text).toContain('3 of 10 tests read: 1 new, 2 known. The rest was not read.');
    expect(text).toContain('Next: run the same command again to read the rest');
  });

  it('tears the edge of the tally where the memory is full', () => {
    expect(say({ capacity: 3 })).toContain("~ ',|");
    expect(say({ capacity: undefined })).not.toContain('~');
  });

  it('counts damaged lines, and calls them repaired only where everything was read', () => {
    expect(say({ download: download({ damagedLines: 2 }) })).toContain(
      '2 damaged lines came over the cable; all repaired.',
    );
    expect(say({ download: download({ damagedLines: 1, complete: false }) })).toContain(
      '1 damaged line came over the cable.',
    );
  });

  it('warns where tests may have been overwritten unread', () => {
    expect(say({ download: download({ possiblyLost: true }) })).toContain(
      'Tests may have been overwritten before anybody read them',
    );
  });

  it.each([
    [
      'set right',
      { download: download({ clockOffS: -192, clockSet: true }), clock: [set('confirmed')] },
      'Clock: 3 min 12 s slow; set right just now.',
    ],
    [
      'not set although it could be',
      { download: download({ clockOffS: 3600 }) },
      'Clock: 1 h fast; it was left as it is.',
    ],
    [
      'not settable',
      { download: download({ clockOffS: 3600 }), isClockSettable: false },
      'Clock: 1 h fast; set it by hand to 2026-07-02 10:15 (Europe/Lisbon).',
    ],
    [
      'refusing to be set',
      { download: download({ clockOffS: 3600 }), clock: [set('refused')] },
      'setting it did not work: set it by hand to 2026-07-02 10:15 (Europe/Lisbon).',
    ],
    ['right enough', { download: download({ clockOffS: -42 }) }, 'Clock: 42 s slow.'],
  ])('says of a clock that was %s what a person needs to know', (_, facts, text) => {
    expect(say(facts)).toContain(text);
  });

  it('says that a clock without a time was not set', () => {
    const { clockOffS: _, ...unseen } = download();
    expect(say({ download: unseen, clock: [{ kind: 'unset', from: at, to: at }] })).toContain(
      'Clock: not set; it was left as it is.',
    );
  });

  it('reminds after a power loss that date, time and target range must be entered again', () => {
    expect(say({ hasLostPower: true })).toContain('date, time and target range must be entered again.');
    expect(say({ hasLostPower: true, download: download({ clockSet: true }) })).toContain(
      'Date and time were set just now; enter the target range on the meter.',
    );
  });

  it('does not speak of a target range on a meter that keeps it', () => {
    expect(say({ hasLostPower: true, losesTargets: false })).not.toContain('target range');
  });
});
