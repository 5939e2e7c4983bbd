/** One gap from end to end: what becomes of the times that its stories left, and of a setting that was not answered. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { gapsOf } from '../../src/clock/anchors.ts';
import type { TestTime } from '../../src/clock/gap-times.ts';
import type { ClockTest } from '../../src/clock/history.ts';
import { followGap, gapIncidents, placeGap } from '../../src/clock/place-gap.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { anchorAt, download, historyOf, reportOf, setting, showing, stamped, told, utc } from './hand-made.ts';

const NOON = utc('2026-03-05T12:00:00');
const first = anchorAt('D1', '2026-03-02T10:00:00', '2026-03-02T10:00:00');
const last = anchorAt('D2', '2026-03-12T10:00:00', '2026-03-12T10:00:00');

/** A test that was told at `toldBy`, ms from noon of 5 March; its stamp is noon unless given. */
const test = (id: string, toldBy: number, stamp: string | undefined = '2026-03-05T12:00:00'): ClockTest => ({
  ...stamped(id, stamp),
  toldBy: (NOON + toldBy) as ClockTest['toldBy'],
});
/** A time as the stories left it, ms from noon. */
const time = (estimate: number, earliest: number, latest: number, more: Partial<TestTime> = {}): TestTime => ({
  estimate: NOON + estimate,
  earliest: NOON + earliest,
  latest: NOON + latest,
  place: 'between',
  began: undefined,
  ...more,
});
/** Placements: estimate and bounds in ms from noon, and the basis. */
const placements = (...given: Parameters<typeof reportOf>) =>
  placeGap(reportOf(...given)).map(({ placement: p }) => {
    const from = (at: number | undefined) => (at === undefined ? undefined : at - NOON);
    return [from(p.takenAt), from(p.earliest), from(p.latest), p.basis];
  });
const FAR = 10_000_000;

describe('the placement of a test', () => {
  it('is what the stories left, rounded so that no bound cuts off the truth', () => {
    const times = [
      time(10.5, 0.5, 20.5),
      time(12.4, 0.5, 20.5, { place: 'first' }),
      time(13, 5, 30, { place: 'last' }),
    ];
    const tests = [test('s', FAR), test('t', FAR), test('u', FAR)];
    expect(placements({ first, last, tests }, { tests: times })).toEqual([
      [11, 0, 21, 'interpolated'],
      [12, 0, 21, 'anchored'],
      [13, 5, 30, 'anchored'],
    ]);
    const [placed] = placeGap(reportOf({ first, last, tests }, { tests: times }));
    expect(placed?.id).toBe('s');
    expect(placed?.placement.flags).toEqual([]);
    expect(placed?.placement.reason).toMatch(/^The meter's clock ran undisturbed between the downloads of/);
  });

  it('lies behind the download and the moment before which it was not made, and before it was told', () => {
    const t = time(5, -1000, 1000);
    const only = (gap: Parameters<typeof reportOf>[0]) => placements(gap, { tests: [t] })[0]?.slice(1, 3);
    expect(only({ tests: [test('t', 700)] })).toEqual([-1000, 700]);
    expect(only({ tests: [test('t', FAR)], notBefore: [NOON - 600] })).toEqual([-600, 1000]);
    const close = (ms: number) => ({ ...first, at: { lo: NOON + ms, hi: NOON + ms + 4 } });
    expect(only({ tests: [test('t', FAR)], first: close(-500), notBefore: [NOON - 600] })).toEqual([-500, 1000]);
    expect(only({ tests: [test('t', FAR)], first: close(-500), notBefore: [NOON - 400] })).toEqual([-400, 1000]);
    expect(only({ tests: [test('t', FAR)], last: close(300) })).toEqual([-1000, 304]);
    expect(only({ tests: [test('t', 200)], last: close(300) })).toEqual([-1000, 200]);
  });

  it('is bounded by the order alone where the stories say nothing, or what cannot be', () => {
    const gap = { first, tests: [test('t', 800)], notBefore: [NOON - 600] };
    const none = [1, -600, 800, 'bounded']; // the stamp, read as local time, would be half a second
    const local = [500, ...none.slice(1)];
    expect(placements(gap, { tests: [undefined] })).toEqual([local]);
    expect(placements(gap, { tests: [time(900, 801, 1000)] })).toEqual([local]);
    expect(placements(gap, { tests: [time(-700, -1000, -601)] })).toEqual([local]);
    // Told before it can have been made: the PC's clock was put back meanwhile.
    expect(placements({ ...gap, notBefore: [NOON + 900] }, { tests: [time(5, 0, 10)] })).toEqual([
      [800, 800, 800, 'bounded'],
    ]);
    // Bounds of no width hold.
    expect(placements(gap, { tests: [time(800, 800, 900)] })).toEqual([[800, 800, 800, 'interpolated']]);
  });

  it('is its stamp read as local time where that lies in the bounds, else their middle, else not known', () => {
    const gap = (stamp?: string) => ({ tests: [test('t', 800, stamp)], notBefore: [NOON - 600] });
    const loose = { place: 'loose', began: 'set-right' } as const;
    expect(placements(gap(), { tests: [time(5, -600, 800, loose)] })).toEqual([[500, -600, 800, 'bounded']]);
    expect(placements(gap('2026-03-05T12:00:01'), { tests: [time(5, -600, 800, loose)] })).toEqual([
      [100, -600, 800, 'bounded'],
    ]);
    const open = { tests: [test('t', 800, '2026-03-05T12:00:01')] };
    expect(placements(open)).toEqual([[undefined, undefined, 800, 'bounded']]);
    expect(placements({ tests: [test('t', 800)] })).toEqual([[500, undefined, 800, 'bounded']]);
    const [unknown, dated] = placeGap(reportOf({ tests: [...open.tests, test('u', 800)] })).map((p) => p.placement);
    expect(Object.keys(unknown ?? {})).toEqual(['latest', 'basis', 'reason', 'flags']);
    expect(Object.keys(dated ?? {})).toEqual(['takenAt', 'latest', 'basis', 'reason', 'flags']);
    expect([unknown?.flags, dated?.flags]).toEqual([[], []]);
  });

  it('is not before that of the test before it, nor behind the middle of the download that follows', () => {
    const tests = [test('s', FAR), test('t', FAR), test('u', FAR)];
    const times = [time(500, 0, 1000), time(300, 0, 1000), time(700, 0, 1000)];
    const estimates = (gap: Parameters<typeof reportOf>[0], all = times) =>
      placements({ tests, ...gap }, { tests: all }).map(([at]) => at);
    expect(estimates({})).toEqual([500, 500, 700]);
    const at = (lo: number, hi: number) => ({ lo: NOON + lo, hi: NOON + hi });
    expect(estimates({ last: { ...last, at: at(500, 700) } })).toEqual([500, 500, 600]);
    expect(estimates({ first: { ...first, at: at(-100, 1300) } })).toEqual([600, 600, 700]);
    // But always inside its own bounds.
    expect(estimates({}, [time(500, 0, 1000), time(300, 0, 400), time(700, 0, 1000)])).toEqual([400, 400, 700]);
    expect(estimates({}, [time(500, 600, 1000), time(300, 0, 1000), time(300, 0, 1000)])).toEqual([600, 600, 600]);
    // One that is not known leaves the ones around it as they are.
    const gap = { tests: [test('s', FAR), { ...test('t', FAR), stamp: undefined as never }, test('u', FAR)] };
    const known = [time(500, Number.NEGATIVE_INFINITY, 1000), undefined, time(700, 600, 1000)];
    expect(placements(gap, { tests: known }).map(([x]) => x)).toEqual([500, undefined, 700]);
  });

  it('has bounds that are carried along the order of the tests', () => {
    const bounds = (...all: (readonly [number, number])[]) =>
      placements(
        { tests: all.map((_, i) => test(`t${i}`, FAR)) },
        { tests: all.map(([lo, hi]) => time(lo, lo, hi)) },
      ).map(([, lo, hi]) => [lo, hi]);
    // What was made after the first was not made before its earliest moment; what was made before the last, not after.
    expect(bounds([10, 100], [0, 90], [0, 200])).toEqual([
      [10, 90],
      [10, 90],
      [10, 200],
    ]);
    expect(bounds([50, 100], [0, 60], [20, 55])).toEqual([
      [50, 55],
      [50, 55],
      [50, 55],
    ]);
    // As far as they do not contradict each other.
    expect(bounds([50, 100], [0, 40], [0, 200])).toEqual([
      [50, 100],
      [0, 40],
      [50, 200],
    ]);
    expect(bounds([50, 100], [0, 50], [0, 200])).toEqual([
      [50, 50],
      [50, 50],
      [50, 200],
    ]);
  });

  const seed = seedOr(20260301);
  it(`has its estimate inside its bounds, and estimates in the order of the tests where those allow it (SEED=${seed})`, () => {
    const span = fc.tuple(
      fc.integer({ min: -1000, max: 1000 }),
      fc.nat(500),
      fc.double({ min: 0, max: 1, noNaN: true }),
    );
    fc.assert(
      fc.property(fc.array(span, { minLength: 1, maxLength: 12 }), (all) => {
        const tests = all.map((_, i) => test(`t${i}`, FAR));
        const times = all.map(([lo, width, share]) => time(lo + share * width, lo, lo + width));
        let [floor, latest] = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];
        placements({ tests }, { tests: times }).forEach(([at, lo, hi], i) => {
          const [x, a, b] = [Number(at), Number(lo), Number(hi)];
          expect(x).toBeGreaterThanOrEqual(a);
          expect(x).toBeLessThanOrEqual(b);
          expect(a).toBeGreaterThanOrEqual(all[i]?.[0] ?? Number.NaN);
          expect(b).toBeLessThanOrEqual((all[i]?.[0] ?? Number.NaN) + (all[i]?.[1] ?? Number.NaN));
          floor = Math.max(floor, a);
          if (latest <= b) expect(x).toBeGreaterThanOrEqual(latest);
          latest = Math.max(latest, x);
        });
      }),
      { seed, numRuns: runsOr(100) },
    );
  });
});

describe('the sentence of a placement', () => {
  const reason = (t: TestTime, ...changes: ('loss' | 'hour')[]) =>
    placeGap(
      reportOf(
        { first, last, tests: [test('t', FAR)] },
        { tests: [t], changes: changes.map((kind) => ({ kind, when: { lo: 0, hi: 0 }, lossProven: false })) },
      ),
    )[0]?.placement.reason;

  it('says how its stretch of the clock began, and whether anything was changed', () => {
    expect(reason(time(5, 0, 10, { place: 'first' }))).toMatch(/when the meter's clock was right to the second\.$/);
    expect(reason(time(5, 0, 10, { place: 'first' }), 'hour')).toMatch(/changed earlier or later\.$/);
    expect(reason(time(5, 0, 10, { place: 'loose', began: 'loss' }), 'loss')).toContain('it had lost power');
  });

  it('is the same for tests in the same kind of epoch, and another for another', () => {
    const loose = { place: 'loose' } as const;
    const tests = [test('s', FAR), test('t', FAR), test('u', FAR), test('v', FAR)];
    const times = [
      time(5, 0, 10, { place: 'first' }),
      time(5, 0, 10, { ...loose, began: 'loss' }),
      time(5, 0, 10, { ...loose, began: 'hour' }),
      time(5, 0, 10, { ...loose, began: 'loss' }),
    ];
    const all = placeGap(reportOf({ first, last, tests }, { tests: times })).map(({ placement }) => placement.reason);
    expect(new Set(all).size).toBe(3);
    expect(all[1]).toBe(all[3]);
    expect(all[2]).toContain('an hour off');
  });

  it('tells the incidents in the zone of the dock at the end of the gap', () => {
    const away = anchorAt('D2', '2026-03-12T10:00:00', '2026-03-12T10:00:00', { zone: 'Asia/Tokyo' });
    const changes = [{ kind: 'loss', when: { lo: NOON, hi: NOON }, lossProven: false }] as const;
    const [incident] = gapIncidents(reportOf({ first, last: away, zone: away.zone }, { changes }));
    expect(incident?.explanation).toContain('2026-03-05 21:00 (Asia/Tokyo)');
  });
});

describe('a gap that begins with a setting which was not answered', () => {
  // Half an hour behind, then perhaps set to the right time; the test is stamped noon two days later.
  const begun = [
    download('D1', [
      showing('2026-03-03T10:00:00', '2026-03-03T09:30:00'),
      setting('2026-03-03T10:00:05', '2026-03-03T10:00:05', 'unknown'),
    ]),
    stamped('t', '2026-03-05T12:00:00'),
    { ...stamped('unread', undefined), unset: false },
  ];
  const follow = (...more: Parameters<typeof historyOf>[0]) => {
    const history = historyOf([...begun, ...more], { end: '2026-03-05T14:00:00' });
    const [gap] = gapsOf(history);
    if (!gap?.first) throw new Error('a gap that begins with a download');
    const report = followGap(
      gap,
      { first: gap.first.offset, ...(gap.last ? { last: gap.last.offset } : {}), usualDrift: 0 },
      history.habits,
    );
    return { gap, report, placement: placeGap(report)[0]?.placement };
  };
  /** 50 hours of drift at 100 ppm: 18.0018 s. */
  const DRIFT = ((50 * 3_600_000 + 1_800_000) * 1e-4) / (1 - 1e-4);

  it('is that of the clock as it was shown, with bounds that allow for both', () => {
    const { gap, report, placement } = follow();
    expect(report.gap).toBe(gap);
    // Offsets of -1 800 100 to -1 799 000 ms, and of -100 to 1000 ms from 5 s later.
    expect(told(placement as never)).toMatchObject({ at: '2026-03-05T12:30:00.050', basis: 'anchored' });
    const setDrift = ((50 * 3_600_000 - 5_000) * 1e-4) / (1 - 1e-4);
    expect(Math.abs((placement?.earliest ?? 0) - (NOON - 1000 - setDrift))).toBeLessThan(1.5);
    expect(Math.abs((placement?.latest ?? 0) - (NOON + 1_800_000 + 1100 + DRIFT))).toBeLessThan(1.5);
  });

  it('is the likelier one alone where the other calls for a change', () => {
    const asShown = follow(download('D2', [showing('2026-03-08T10:00:00', '2026-03-08T09:30:00')]));
    expect(asShown.report.gap).toBe(asShown.gap);
    expect(asShown.report.times.cost).toBe(0);
    expect(asShown.placement?.earliest).toBeGreaterThan(NOON + 1_780_000);
    const asSet = follow(download('D2', [showing('2026-03-08T10:00:00', '2026-03-08T10:00:00')]));
    expect(asSet.report.gap.first?.wall).toBe(asSet.gap.first?.alternative?.wall);
    expect(asSet.report.ends).toMatchObject({ first: { lo: -100, hi: 1000 }, last: { lo: -100, hi: 1000 } });
    expect(asSet.report.times.cost).toBe(0);
    expect(asSet.placement?.latest).toBeLessThan(NOON + 30_000);
  });
});
