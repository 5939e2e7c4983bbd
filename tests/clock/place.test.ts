/**
 * When a test was made, on small histories written by hand. The expected numbers are reckoned in the comments: a clock's
 * offset is what it shows minus true time; a download that asked at T and was answered at T + 0.1 s that the clock shows
 * M knows the offset to lie between M - T - 0.1 s and M + 1 s - T, for the second that is shown may be all but over.
 */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { download, placed, setting, showing, stamped, told, utc, wallOf } from './hand-made.ts';

/** 100 parts per million of a length in seconds of wall time, ms. */
const drifted = (seconds: number): number => (seconds * 1000 * 1e-4) / (1 - 1e-4);
const DAY_S = 86_400;

describe('a test between two downloads that saw the same undisturbed clock', () => {
  // 30 s ahead at the first download, 90 s ahead 30 days later: offsets 29.9 to 31.0 s and 89.9 to 91.0 s.
  const before = download('D1', [showing('2026-01-01T10:00:00', '2026-01-01T10:00:30')]);
  const after = download('D2', [showing('2026-01-31T10:00:00', '2026-01-31T10:01:30')]);

  it('is interpolated, within what either download allows for drift', () => {
    const { of, incidents } = placed([before, stamped('t', '2026-01-16T10:01:00'), after]);
    // Half way: offset (30.45 + 90.45) / 2 = 60.45 s, the stamp's second taken in its middle: 10:01:00.5 - 60.45 s.
    // Earliest: the offset has grown from 31.0 s by 100 ppm in 15 days and 30 s (129.61596 s): 10:01:00 - 160.61596 s.
    // Latest: it will grow to 89.9 s by the same: 10:01:01 - (89.9 - 129.61596) s.
    expect(told(of('t'))).toEqual({
      at: '2026-01-16T10:00:00.050',
      from: '2026-01-16T09:58:19.384',
      to: '2026-01-16T10:01:40.716',
      basis: 'interpolated',
    });
    expect(incidents).toEqual([]);
    expect(of('t').reason).toBe(
      "The meter's clock ran undisturbed between the downloads of 2026-01-01 10:00 (30 s ahead) and 2026-01-31 10:00 (1 min 30 s ahead).",
    );
  });

  it('has bounds a minute wider where the meter shows minutes only', () => {
    const { of } = placed([before, stamped('t', '2026-01-16T10:01'), after]);
    // As above, but the stamp means 10:01:00 to 10:02:00: middle 10:01:30, latest 59 s later.
    expect(told(of('t'))).toEqual({
      at: '2026-01-16T10:00:29.550',
      from: '2026-01-16T09:58:19.384',
      to: '2026-01-16T10:02:39.716',
      basis: 'interpolated',
    });
  });

  it('is bounded by what the two downloads together leave of the offset at either end', () => {
    // 200 s gained in 30 days of which 259 s are possible: at the first download nothing is cut off, but shortly after
    // it the clock cannot have lost time, or it could not have come so far ahead.
    const { of } = placed([
      before,
      stamped('t', '2026-01-02T10:00:30'),
      download('D2', [showing('2026-01-31T10:00:00', '2026-01-31T10:03:50')]),
    ]);
    // Latest: offset at least 229.9 s less 100 ppm of 29 days 200 s (250.605 s): -20.705 s; from the first, 29.9 s less
    // 100 ppm of 1 day (8.641 s): 21.259 s, which says more. Earliest: at most 31.0 + 8.641 s.
    expect(told(of('t'))).toMatchObject({ from: '2026-01-02T09:59:50.359', to: '2026-01-02T10:00:09.741' });
  });
});

describe('a test with one download in its epoch', () => {
  it('is reckoned back from the first download of a meter', () => {
    const { of } = placed([
      stamped('t', '2026-02-20T10:00:00'),
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:42')]),
    ]);
    // 42.45 s ahead; 10 days and 42 s of drift: 86.413 s more or less. Offset 41.9 - 86.413 s to 43.0 + 86.413 s.
    expect(told(of('t'))).toEqual({
      at: '2026-02-20T09:59:18.050',
      from: '2026-02-20T09:57:50.587',
      to: '2026-02-20T10:00:45.513',
      basis: 'anchored',
    });
    expect(of('t').reason).toBe(
      "Reckoned back from the download of 2026-03-02 10:00, when the meter's clock was 42 s ahead.",
    );
  });

  it('is reckoned onwards from the last download of a meter', () => {
    const { of } = placed(
      [download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T09:58:00')]), stamped('t', '2026-03-12T09:58:00')],
      { end: '2026-04-01T00:00:00' },
    );
    // 119.55 s behind. 10 days of drift: 86.409 s.
    expect(told(of('t'))).toEqual({
      at: '2026-03-12T10:00:00.050',
      from: '2026-03-12T09:58:32.591',
      to: '2026-03-12T10:01:27.509',
      basis: 'anchored',
    });
    expect(of('t').reason).toBe(
      "Reckoned onwards from the download of 2026-03-02 10:00, when the meter's clock was 2 min behind.",
    );
  });
});

describe('a test without a download in its epoch', () => {
  // Right on 2 March; power lost; the test 5 days and 6 hours after the loss; set right; right on 12 March.
  const items = [
    download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
    stamped('t', '2000-01-06T06:00:00'),
    download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')]),
  ];

  it('is bounded by its neighbours and by how long the clock had run from its default date', () => {
    const { of } = placed(items);
    // Not before the first download plus the 5 days 6 h (126 h) that the clock had run, less 100 ppm of that (45.4 s);
    // not after the second download. Its own stamp as local time is far outside, so the estimate is the middle.
    const from = utc('2026-03-02T10:00:00') + 126 * 3_600_000 - drifted(126 * 3600 + 1);
    const p = of('t');
    expect(p.basis).toBe('bounded');
    expect(Math.abs((p.earliest ?? 0) - from)).toBeLessThan(20);
    expect(p.latest).toBe(utc('2026-03-12T10:00:00') + 100);
    expect(Math.abs((p.takenAt ?? 0) - ((p.earliest ?? 0) + (p.latest ?? 0)) / 2)).toBeLessThan(2);
    expect(p.reason).toBe(
      "No download saw the meter's clock while it ran like this: it had lost power and ran from its default date; the time is bounded by the tests and downloads before and after.",
    );
  });

  it('bounds the moment of the loss from above by the time that the stamp has run', () => {
    const { incidents } = placed(items);
    expect(incidents.map((i) => i.kind)).toEqual(['power-loss', 'clock-changed']);
    const loss = incidents[0];
    expect(loss?.earliest).toBe(utc('2026-03-02T10:00:00'));
    // 126 h before the second download; the drift of 126 h is 45.4 s.
    const latest = utc('2026-03-12T10:00:00') - 126 * 3_600_000;
    expect(Math.abs((loss?.latest ?? 0) - latest)).toBeLessThan(46_000);
    expect(incidents[1]?.likelyCause).toBe('set by hand');
  });

  it('is taken to be at its own stamp where that lies within the bounds', () => {
    // Twelve hours ahead at both downloads, and set right for a while in between.
    const { of } = placed([
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T22:00:00')]),
      stamped('t', '2026-03-02T20:00:00'),
      download('D2', [showing('2026-03-12T21:00:00', '2026-03-13T09:00:00')]),
    ]);
    expect(of('t').basis).toBe('bounded');
    expect(of('t').takenAt).toBe(utc('2026-03-02T20:00:00') + 500);
  });
});

describe('a clock that shows no seconds', () => {
  it('may have cut them off when it was set', () => {
    // Set to 15:11:32, it began at 15:11:00: from then on it is 32 s behind, which its minutes do not show.
    const { of } = placed([
      download('D1', [
        showing('2026-03-02T15:11:31', '2026-03-02T14:54'),
        setting('2026-03-02T15:11:32', '2026-03-02T15:11:32'),
        showing('2026-03-02T15:11:32', '2026-03-02T15:11'),
      ]),
      stamped('t', '2026-03-03T10:04'),
    ]);
    // Made at 10:04:59 of its clock, or at 10:04:00 where it had kept the seconds.
    expect(of('t').earliest).toBeLessThanOrEqual(utc('2026-03-03T10:04:00'));
    expect(of('t').latest).toBeGreaterThanOrEqual(utc('2026-03-03T10:05:31'));
    expect(of('t').basis).toBe('anchored');
  });
});

describe('a change of the clock is certain', () => {
  it('where stamps go back, and lies between the two tests', () => {
    const { of, incidents } = placed([
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T12:00:00')]),
      stamped('t', '2026-03-03T12:00:00'),
      stamped('u', '2026-03-03T11:30:00'),
      download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')]),
    ]);
    // Two hours ahead until t (made at 10:00), right from u on (made at 11:30).
    expect(of('t').takenAt).toBe(utc('2026-03-03T10:00:00') + 50);
    expect(of('u').takenAt).toBe(utc('2026-03-03T11:30:00') + 50);
    expect(incidents).toMatchObject([{ kind: 'clock-changed', sizeS: -7200, likelyCause: 'set by hand' }]);
    expect(Math.abs((incidents[0]?.earliest ?? 0) - utc('2026-03-03T10:00:00'))).toBeLessThan(10_000);
    expect(Math.abs((incidents[0]?.latest ?? 0) - utc('2026-03-03T11:30:00'))).toBeLessThan(90_000);
  });

  it('where a stamp lies after what the clock shows at the next download', () => {
    const { of, incidents } = placed([
      download('D1', [showing('2026-03-04T09:00:00', '2026-03-04T09:00:00')]),
      stamped('t', '2026-03-04T10:30:00'),
      download('D2', [showing('2026-03-04T10:00:00', '2026-03-04T10:00:00')]),
    ]);
    // Set an hour ahead by somebody (within 5 minutes) and put right again: 09:30 and 5 minutes either way.
    expect(of('t').basis).toBe('bounded');
    expect(Math.abs((of('t').takenAt ?? 0) - utc('2026-03-04T09:30:00.500'))).toBeLessThan(400);
    expect(Math.abs((of('t').earliest ?? 0) - utc('2026-03-04T09:25:00'))).toBeLessThan(1000);
    expect(Math.abs((of('t').latest ?? 0) - utc('2026-03-04T09:35:01'))).toBeLessThan(1000);
    expect(incidents.map((i) => i.likelyCause)).toEqual([
      'set an hour off: summer time forgotten, or taken the wrong way',
      'set by hand',
    ]);
  });

  it('where two stamps in a row lie more than 400 days apart, and not where it is less', () => {
    const rest = (until: string) =>
      placed([
        download('D1', [showing('2025-01-06T10:00:00', '2025-01-06T10:00:00')]),
        stamped('t', '2025-01-08T10:00:00'),
        download('D2', [showing(until, until)]),
      ]).of('t').basis;
    expect(rest('2026-02-12T09:00:00')).toBe('interpolated'); // 399 days and 23 hours later
    expect(rest('2026-02-12T11:00:00')).toBe('anchored'); // 400 days and 1 hour
  });

  it('where the loss count rises from one download to the next, although no test in between tells it', () => {
    const counted = (after: number) =>
      placed([
        download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')], { lossCount: 3 }),
        stamped('t', '2026-03-04T10:00:00'),
        stamped('u', '2026-03-08T10:00:00'),
        download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:01:00')], { lossCount: after }),
      ]);
    const { of, incidents } = counted(4);
    expect([of('t').basis, of('u').basis]).not.toContain('interpolated');
    // Somebody set it a minute ahead, before t, after u or in between: each is one or the other.
    expect(of('u').earliest).toBeLessThanOrEqual(utc('2026-03-08T09:59:00'));
    expect(of('u').latest).toBeGreaterThanOrEqual(utc('2026-03-08T10:00:00'));
    expect(incidents.map((i) => i.kind)).toEqual(['power-loss', 'clock-changed']);

    expect(counted(3).of('t').basis).toBe('interpolated');
    expect(counted(3).incidents).toEqual([]);
  });

  it('and no power was lost where the loss count stayed, whether or not the tests in between tell it', () => {
    const { of } = placed([
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')], { lossCount: 3 }),
      stamped('t', '2026-01-01T08:00:00'),
      download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')], { lossCount: 3 }),
    ]);
    expect(of('t').reason).not.toContain('lost power');
  });

  it('where the loss count rises, although the clock was put right at once', () => {
    const { of, incidents } = placed([
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')], { lossCount: 3 }),
      stamped('t', '2026-03-04T10:00:00', 3),
      stamped('u', '2026-03-08T10:00:00', 4),
      download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')], { lossCount: 4 }),
    ]);
    expect([of('t').basis, of('u').basis]).toEqual(['anchored', 'anchored']);
    expect(incidents.map((i) => i.kind)).toEqual(['power-loss', 'clock-changed']);
    expect(Math.abs((incidents[0]?.earliest ?? 0) - utc('2026-03-04T10:00:00'))).toBeLessThan(20_000);
    expect(Math.abs((incidents[0]?.latest ?? 0) - utc('2026-03-08T10:00:00'))).toBeLessThan(5 * 60_000 + 40_000);
    expect(incidents[0]?.explanation).toContain('Date, time and the target range in the meter must be entered again.');
  });

  it('where the clock was seen unset by a test or by a download', () => {
    const right = (id: string, at: string) => download(id, [showing(at, at)]);
    const byTest = placed([
      right('D1', '2026-03-02T10:00:00'),
      stamped('t', '2026-03-04T10:00:00'),
      stamped('u', undefined),
      stamped('v', '2026-03-08T10:00:00'),
      right('D2', '2026-03-12T10:00:00'),
    ]);
    expect(['t', 'u', 'v'].map((id) => byTest.of(id).basis)).toEqual(['anchored', 'bounded', 'anchored']);
    // Nothing but the order bounds the test without a stamp: between its neighbours.
    expect(byTest.of('u').earliest).toBe(byTest.of('t').earliest);
    expect(byTest.of('u').latest).toBe(byTest.of('v').latest);
    expect(byTest.incidents[0]?.kind).toBe('power-loss');

    const byDownload = placed([
      right('D1', '2026-03-02T10:00:00'),
      stamped('t', '2026-03-04T10:00:00'),
      download('D2', [{ kind: 'unset', from: utc('2026-03-05T10:00:00'), to: utc('2026-03-05T10:00:01') }]),
      stamped('v', '2026-03-08T10:00:00'),
      right('D3', '2026-03-12T10:00:00'),
    ]);
    expect(['t', 'v'].map((id) => byDownload.of(id).basis)).toEqual(['anchored', 'anchored']);
    expect(byDownload.incidents[0]?.kind).toBe('power-loss');
    expect(byDownload.of('v').earliest).toBeGreaterThanOrEqual(utc('2026-03-05T10:00:00'));
  });
});

describe('the loss count of a meter', () => {
  const items = (after: number | undefined) => [
    download(
      'D1',
      [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')],
      after === undefined ? {} : { lossCount: 3 },
    ),
    stamped('t', '2000-01-06T06:00:00', after),
    download(
      'D2',
      [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')],
      after === undefined ? {} : { lossCount: after },
    ),
  ];

  it('forbids a loss where it does not rise, however much the stamp looks like one', () => {
    expect(placed(items(undefined)).incidents.map((i) => i.kind)).toContain('power-loss');
    expect(placed(items(4)).incidents.map((i) => i.kind)).toContain('power-loss');
    const without = placed(items(3));
    expect(without.incidents.length).toBeGreaterThan(0);
    expect(without.incidents.map((i) => i.kind)).not.toContain('power-loss');
  });
});

describe('the default stamp that a meter tells', () => {
  const items = (resetStamp: string | undefined) => {
    const more = resetStamp === undefined ? {} : { resetStamp: wallOf(resetStamp) };
    return [
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')], more),
      stamped('t', '2009-06-17T08:00:00'),
      download('D2', [showing('2026-03-12T10:00:00', '2009-06-18T20:00:00')], more),
    ];
  };

  it('dates the loss by how long the clock has run since', () => {
    const { of, incidents } = placed(items('2009-06-15T08:00:00'));
    // At the second download the clock had run for 3.5 days from 15 June 08:00: the loss was on 8 March at 22:00, give
    // or take 100 ppm of 3.5 days (30.2 s) and the second shown.
    expect(incidents.map((i) => i.kind)).toEqual(['power-loss']);
    const at = utc('2026-03-08T22:00:00');
    expect(Math.abs((incidents[0]?.earliest ?? 0) - at)).toBeLessThan(32_000);
    expect(Math.abs((incidents[0]?.latest ?? 0) - at)).toBeLessThan(32_000);
    // The test was 36 h before the second download, by the clock's own run.
    expect(of('t').takenAt).toBe(utc('2026-03-10T22:00:00') + 50);
    expect(of('t').basis).toBe('anchored');
  });

  it('is needed where it is not 1 January', () => {
    const { incidents } = placed(items(undefined));
    expect(incidents.map((i) => i.kind)).not.toContain('power-loss');
  });
});

describe('the first download of a meter', () => {
  const items = [
    stamped('t', '2000-01-06T06:00:00'),
    download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
  ];

  it('has nothing before it: nothing was made more than three years earlier', () => {
    const { of } = placed(items);
    // 3 x 365.25 days of 86,400 s.
    expect(of('t').earliest).toBe(utc('2026-03-02T10:00:00') - 1095.75 * DAY_S * 1000);
    expect(of('t').latest).toBe(utc('2026-03-02T10:00:00') + 100);
  });

  it('has nothing before the moment from which the meter is known to have been in use', () => {
    const { of } = placed(items, { inUseSince: utc('2025-12-01T00:00:00') });
    expect(of('t').earliest).toBe(utc('2025-12-01T00:00:00'));
  });
});

describe('a clock that the gateway set', () => {
  // Half an hour behind, then set to the right time at 10:00:05.
  const found = showing('2026-03-02T10:00:00', '2026-03-02T09:30:00');
  const set = (outcome: 'confirmed' | 'refused' | 'unknown') =>
    setting('2026-03-02T10:00:05', '2026-03-02T10:00:05', outcome);
  const later = (outcome: 'confirmed' | 'refused' | 'unknown') => [
    download('D1', [found, set(outcome)]),
    stamped('t', '2026-03-03T12:00:00'),
  ];
  const end = '2026-03-20T00:00:00';

  it('is known exactly from there on, and the setting is no incident', () => {
    const { of, incidents } = placed([stamped('s', '2026-03-01T12:00:00'), ...later('confirmed')], { end });
    expect(of('s').takenAt).toBe(utc('2026-03-01T12:30:00') + 50); // reckoned back with the old offset
    expect(of('t').takenAt).toBe(utc('2026-03-03T12:00:00') + 50);
    // 26 hours of drift: 9.36 s.
    expect((of('t').latest ?? 0) - (of('t').earliest ?? 0)).toBeLessThan(2 * 9_400 + 2_200);
    expect(incidents).toEqual([]);
  });

  it('runs as before where the meter refused', () => {
    expect(placed(later('refused'), { end }).of('t').takenAt).toBe(utc('2026-03-03T12:30:00') + 50);
  });

  it('leaves both possible where no answer came, and the bounds cover both', () => {
    const { of } = placed(later('unknown'), { end });
    expect(of('t').earliest).toBeLessThan(utc('2026-03-03T12:00:00'));
    expect(of('t').latest).toBeGreaterThan(utc('2026-03-03T12:30:00'));
    expect((of('t').latest ?? 0) - (of('t').earliest ?? 0)).toBeLessThan(31 * 60_000);
  });

  it('is decided by the next download where no answer came', () => {
    const next = (clock: string) =>
      placed([...later('unknown'), download('D2', [showing('2026-03-12T10:00:00', clock)])]);
    const wasSet = next('2026-03-12T10:00:00');
    expect(Math.abs((wasSet.of('t').takenAt ?? 0) - utc('2026-03-03T12:00:00'))).toBeLessThan(1000);
    expect(wasSet.of('t').latest).toBeLessThan(utc('2026-03-03T12:05:00'));
    expect(wasSet.incidents).toEqual([]);
    const wasNot = next('2026-03-12T09:30:00');
    expect(Math.abs((wasNot.of('t').takenAt ?? 0) - utc('2026-03-03T12:30:00'))).toBeLessThan(1000);
    expect(wasNot.of('t').earliest).toBeGreaterThan(utc('2026-03-03T12:25:00'));
    expect(wasNot.incidents).toEqual([]);
  });
});

describe('several docks and protocols for one meter', () => {
  it('give one chain, in which an answer of the slower protocol is merely less sharp', () => {
    // The second download could only tell that the clock was read in the 4 s before 10:00:04.
    const chain = (tookMs: number) =>
      placed([
        download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
        stamped('t', '2026-03-03T10:00:00'),
        download('D2', [showing('2026-03-04T10:00:00', '2026-03-04T10:00:02', tookMs)]),
      ]).of('t');
    const sharp = chain(100);
    const dull = chain(4000);
    expect([sharp.basis, dull.basis]).toEqual(['interpolated', 'interpolated']);
    const width = (p: typeof sharp): number => (p.latest ?? 0) - (p.earliest ?? 0);
    // Sharp: offset at the second 1.9 to 3.0 s, so at t from -6.74 to 9.64 s; dull: -2.0 to 3.0 s, -8.74 (the first
    // download's bound) to 9.64 s. Both plus the second of the stamp.
    expect(width(sharp)).toBeGreaterThanOrEqual(17_300);
    expect(width(sharp)).toBeLessThan(17_500);
    expect(width(dull) - width(sharp)).toBeGreaterThan(1900);
    expect(width(dull) - width(sharp)).toBeLessThan(2100);
  });
});

describe('an incomplete download', () => {
  const items = (mayPrecede: number) => [
    download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
    stamped('t', '2026-03-05T10:00:00'),
    download('D2', [showing('2026-03-06T10:00:00', '2026-03-06T10:00:10')], { mayPrecede }),
    stamped('u', '2026-03-05T20:00:00'),
    download('D3', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:20')]),
  ];

  it('is no anchor where some of the tests behind it may have been made before it', () => {
    const { of, incidents } = placed(items(1));
    // u was made before the second download, although it was told after it: no change of the clock is called for.
    expect(of('u').basis).toBe('interpolated');
    expect(of('u').reason).toContain('2026-03-02 10:00');
    expect(of('u').reason).toContain('2026-03-12 10:00');
    expect(incidents).toEqual([]);
    expect(of('u').latest).toBeLessThan(utc('2026-03-05T21:00:00'));
  });

  it('is an anchor where its place is certain, even if that calls for a change', () => {
    const { incidents } = placed(items(0));
    expect(incidents.length).toBeGreaterThan(0);
  });

  it('is an anchor where no test has been told behind it', () => {
    const { of } = placed(items(1).slice(0, 3));
    expect(of('t').basis).toBe('interpolated');
  });
});

it('a meter without any download of its clock has its own stamps, read in the configured zone, up to the download', () => {
  const { of } = placed([stamped('t', '2026-07-10T13:00:00'), stamped('u', undefined)], {
    zone: 'Europe/Lisbon',
    end: '2026-08-01T00:00:00',
  });
  expect(told(of('t'))).toEqual({
    at: '2026-07-10T12:00:00.500',
    from: '-',
    to: '2026-08-01T00:00:00.000',
    basis: 'displayed',
  });
  expect(of('t').reason).toBe(
    "No download showed the meter's clock: this is the meter's own stamp read as local time in Europe/Lisbon.",
  );
  expect(told(of('u'))).toEqual({ at: '-', from: '-', to: '2026-08-01T00:00:00.000', basis: 'displayed' });
  expect(of('u').reason).toBe(
    "No download showed the meter's clock and the test has no readable stamp: only the download bounds its time.",
  );
  expect(of('u').latest).toBe(instant(utc('2026-08-01T00:00:00')));
});

it('a meter whose batteries die a hundred times between two downloads still has an estimate inside bounds for every test', () => {
  // The clock starts again before every test, a minute later each time less, so that every stamp goes back.
  const tests = Array.from({ length: 120 }, (_, i) => {
    const minutes = 120 - i;
    const at = `2000-01-01T0${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}`;
    return stamped(`t${i}`, at);
  });
  const { of } = placed([
    download('D1', [showing('2026-03-01T09:00:00', '2026-03-01T09:00:00')]),
    ...tests,
    download('D2', [showing('2026-04-10T09:00:00', '2000-01-01T01:00:00')], {
      resetStamp: wallOf('2000-01-01T00:00:00'),
    }),
  ]);
  for (const { id } of tests) {
    const { takenAt, earliest, latest } = of(id);
    expect(Number.isFinite(takenAt)).toBe(true);
    expect(takenAt).toBeGreaterThanOrEqual(earliest ?? Number.NaN);
    expect(takenAt).toBeLessThanOrEqual(latest ?? Number.NaN);
  }
});
