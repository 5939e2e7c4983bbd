/** Where things stand in the pictures: the tally, the course, the zoom. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DEFAULT_POLICY } from '../../../src/clinic/rules/policy.ts';
import { instant } from '../../../src/core/instant.ts';
import type { PersonPage } from '../../../src/desk/api/people.ts';
import { controlPoints, RIM_SD } from '../../../src/desk/page/controls/control-points.ts';
import { afterKey, inside, ZOOM_KEYS } from '../../../src/desk/page/parts/chart/zoom.ts';
import { tallyStrokes } from '../../../src/desk/page/parts/tally-strokes.ts';
import { courseFacts, shapeOf } from '../../../src/desk/page/people/course-facts.ts';
import { openAfterDays } from '../../../src/reports/course-chart.ts';
import { gatherPatient } from '../../../src/reports/gather-patient.ts';
import { NOW, PATIENT, seededStore, ZONE } from '../../reports/seeded.ts';

describe('the tally', () => {
  const place = (kind: 'patient' | 'control' | 'error', isNew: boolean) => ({ kind, isNew });

  it('has one stroke a test in bundles of five, the fifth across the four', () => {
    const places = Array.from({ length: 7 }, () => place('patient', true));
    const { strokes } = tallyStrokes({ places, read: 0, open: 0, isTorn: false }, 10);
    expect(strokes).toHaveLength(7);
    for (const i of [0, 1, 2, 3, 5, 6]) expect(strokes[i]?.x1).toBe(strokes[i]?.x2);
    expect(strokes[4]?.x1).toBeLessThan(strokes[0]?.x1 ?? 0);
    expect(strokes[4]?.x2).toBeGreaterThan(strokes[3]?.x1 ?? 0);
  });

  it('tells new from known, control from error, read from still to come, by shape alone', () => {
    const places = [place('patient', false), place('control', true), place('error', true)];
    const { strokes } = tallyStrokes({ places, read: 1, open: 2, isTorn: true }, 10);
    expect(strokes.map((s) => s.look)).toEqual(['known', 'new', 'new', 'read', 'open', 'open']);
    expect(strokes.map((s) => s.foot !== undefined)).toEqual([false, true, false, false, false, false]);
    expect(strokes.map((s) => s.isBroken)).toEqual([false, false, true, false, false, false]);
  });

  it('stays within its width and height however many tests and however narrow', () => {
    fc.assert(
      fc.property(fc.nat(400), fc.integer({ min: 1, max: 60 }), (open, bundles) => {
        const { strokes, width, height } = tallyStrokes({ places: [], read: 0, open, isTorn: false }, bundles);
        expect(strokes).toHaveLength(open);
        for (const { x1, x2, y1, y2 } of strokes) {
          expect(Math.min(x1, x2)).toBeGreaterThanOrEqual(0);
          expect(Math.max(x1, x2)).toBeLessThanOrEqual(width);
          expect(Math.max(y1, y2)).toBeLessThanOrEqual(height);
        }
      }),
    );
  });
});

describe('zooming', () => {
  const span = fc.tuple(fc.double({ min: -1e6, max: 1e6, noNaN: true }), fc.double({ min: 1, max: 1e6, noNaN: true }));

  it('never leaves the whole, never shows less than the least, whatever keys are pressed', () => {
    fc.assert(
      fc.property(span, fc.array(fc.constantFrom(...ZOOM_KEYS), { maxLength: 40 }), ([min, width], keys) => {
        const whole = { min, max: min + width };
        const least = width / 100;
        let shown = whole;
        for (const key of keys) {
          shown = afterKey(key, shown, whole, least);
          const slack = 1e-6 * Math.max(1, Math.abs(min) + width);
          expect(shown.min).toBeGreaterThanOrEqual(whole.min - slack);
          expect(shown.max).toBeLessThanOrEqual(whole.max + slack);
          expect(shown.max - shown.min).toBeGreaterThanOrEqual(least - slack);
        }
        expect(afterKey('Home', shown, whole, least)).toEqual(whole);
      }),
    );
  });

  it('is nearer after plus, farther after minus, and moves to the side it is told', () => {
    const whole = { min: 0, max: 900 };
    const near = afterKey('+', { min: 300, max: 600 }, whole, 1);
    expect(near).toEqual({ min: 350, max: 550 });
    expect(afterKey('-', near, whole, 1)).toEqual({ min: 300, max: 600 });
    expect(afterKey('ArrowRight', near, whole, 1).min).toBeGreaterThan(near.min);
    expect(afterKey('ArrowLeft', near, whole, 1).max).toBeLessThan(near.max);
    expect(inside({ min: -50, max: 10 }, whole, 1)).toEqual({ min: 0, max: 60 });
  });
});

describe('the course', () => {
  const page = (): PersonPage => {
    const report = gatherPatient(seededStore(), { patientId: PATIENT, now: NOW, zone: ZONE, policy: DEFAULT_POLICY });
    return {
      report,
      openAfterDays: openAfterDays(report.course),
      targetNos: [],
      holds: {},
      newReadings: [],
      lends: [],
      lab: [{ no: 1, at: NOW - 86_400_000 * 20, analyte: 'INR', value: '2.4', laboratory: '' }],
      appointments: [],
    };
  };

  it('shows every test that counts, and every one that waits, each on its whisker; none that was struck out', () => {
    const given = page();
    const facts = courseFacts(given);
    const { course, values } = given.report;
    const held = values.filter((row) => row.status === 'held' && row.time);
    expect(facts?.points.filter((p) => !p.isWaiting).map((p) => [p.id, p.value])).toEqual(
      course.tests.map(({ test }) => [test.id, test.value]),
    );
    expect(facts?.points.filter((p) => p.isWaiting)).toHaveLength(held.length);
    for (const { test } of course.tests)
      expect(facts?.points.find((p) => p.id === test.id)).toMatchObject({ ...test.time });
    expect(facts?.lab).toEqual([{ at: NOW - 86_400_000 * 20, value: 2.4 }]);
  });

  it('steps its band where the target changed, and covers the picture without overlap', () => {
    const facts = courseFacts(page());
    const bands = facts?.bands ?? [];
    expect(bands.map((b) => [b.low, b.high])).toEqual([
      [2.5, 3.5],
      [2, 3],
    ]);
    for (const [i, band] of bands.entries()) expect(band.from).toBe(i === 0 ? facts?.from : bands[i - 1]?.to);
    expect(bands.at(-1)?.to).toBe(facts?.to);
  });

  it('is left open where no test was made for longer than planned, with the days in it', () => {
    const facts = courseFacts(page());
    expect(facts?.gaps.map((g) => g.days)).toContain(35); // the test within was struck out
    const ends = new Set(facts?.gaps.flatMap((g) => [`${g.from} ${g.to}`]));
    for (const run of facts?.runs ?? [])
      for (const [i, p] of run.entries()) expect(ends.has(`${run[i - 1]?.at} ${p.at}`)).toBe(false);
  });

  it('says by shape alone where a value stood', () => {
    expect([
      shapeOf('in'),
      shapeOf('above'),
      shapeOf('below'),
      shapeOf('critical-high'),
      shapeOf('critical-low'),
      shapeOf('no-target'),
    ]).toEqual(['round', 'up', 'down', 'up', 'down', 'ring']);
  });

  it('is nothing to draw without a test', () => {
    const given = page();
    const empty = { ...given, report: { ...given.report, values: [], course: { ...given.report.course, tests: [] } } };
    expect(courseFacts(empty)).toBeUndefined();
  });
});

describe('a control chart', () => {
  const point = (i: number, z: number, more = {}) => ({
    id: `D1-${i}`,
    index: i,
    run: i,
    time: { at: instant(i) },
    value: 1,
    z,
    isNewStripLot: false,
    outcome: 'accept' as const,
    rules: [],
    ...more,
  });
  const chart = (n: number) => ({
    meter: '1',
    analyte: 'INR',
    kind: 'liquid' as const,
    level: '1',
    lots: [
      {
        controlLot: 'QC7731',
        first: 0,
        limits: { mean: 1.2, sd: 0.06 } as never,
        lines: [],
        points: Array.from({ length: n }, (_, i) => point(i, 0.5)),
      },
      {
        controlLot: 'QC7732',
        first: n,
        limits: { mean: 1.3, sd: 0.06 } as never,
        lines: [],
        points: [
          point(n, 9, { outcome: 'reject' }),
          point(n + 1, -9, { outcome: 'reject' }),
          point(n + 2, 2.5, { outcome: 'warn' }),
        ],
      },
    ],
  });

  it('shows the newest sixty, each lot in its own stretch, side by side', () => {
    const { stretches, all, shown } = controlPoints(chart(70));
    expect([all, shown]).toEqual([73, 60]);
    expect(stretches.map((s) => s.points.length)).toEqual([57, 3]);
    expect(stretches[1]?.from).toBe(stretches[0]?.to);
  });

  it('keeps values that lie farther out at the rim, and says by shape what the rules said', () => {
    const last = controlPoints(chart(2)).stretches[1]?.points ?? [];
    expect(last.map((p) => p.shape)).toEqual(['up', 'down', 'ring']);
    for (const { y } of last) expect(Math.abs(y)).toBeLessThan(RIM_SD);
  });
});
