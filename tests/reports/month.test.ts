/** The report on a month: counts against plain filters, each person's figures against the report on that person. */
import { describe, expect, it } from 'vitest';
import { courseOf } from '../../src/clinic/course/course-of.ts';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { localDay } from '../../src/core/local-words.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { addPatient } from '../../src/record/people.ts';
import { gatherMonth } from '../../src/reports/gather-month.ts';
import { monthPage } from '../../src/reports/month.ts';
import { CAUTIONS, escapeText } from '../../src/reports/page.ts';
import { plainData } from '../../src/reports/plain-data.ts';
import type { Store } from '../../src/store/store.ts';
import { seedOr } from '../support/seed.ts';
import { FILLED_NOW, filledStore } from './filled.ts';
import { context, DAY, NAME, NOW, PATIENT, seededStore, ZONE } from './seeded.ts';

const SEED = seedOr(61);
const gather = (store: Store, month?: string, now = NOW) =>
  gatherMonth(store, { now, zone: ZONE, policy: DEFAULT_POLICY, ...(month !== undefined && { month }) });

describe('the report on a month', () => {
  it('counts each value of the month once, by its standing, and leaves out what was struck out or waits', () => {
    const store = seededStore();
    const from = Date.UTC(2026, 3, 1) - 3_600_000;
    const until = Date.UTC(2026, 4, 1) - 3_600_000;
    const inApril = store.judged
      .list({ kind: 'patient' })
      .filter((j) => j.takenAt !== undefined && j.takenAt >= from && j.takenAt < until);
    const clear = inApril.filter((j) => j.status === 'settled' || j.status === 'provisional');
    const report = gather(store, '2026-04');
    expect([report.from, report.until]).toEqual([from, until]);
    expect(inApril.length).toBeGreaterThan(2);
    expect(report.tests.clear).toBe(clear.length);
    expect(report.tests.standings.reduce((sum, s) => sum + s.tests, 0)).toBe(clear.length);
    for (const { standing, tests } of report.tests.standings)
      expect(tests).toBe(clear.filter((j) => (j.standing ?? 'no-target') === standing).length);
    expect(report.tests.void).toBe(inApril.filter((j) => j.status === 'void').length);
    expect(report.tests.void).toBe(1);
    expect(report.tests.held).toBe(inApril.filter((j) => j.status === 'held').length);
  });

  it('counts values of another analyte apart: they have no place among the standings of the INR', () => {
    const store = seededStore();
    const { tests: before } = gather(store, '2026-04');
    expect(before.others).toBe(0);
    expect(monthPage(gather(store, '2026-04'), 'now')).not.toContain('other analytes');
    store.db
      .statement(
        `UPDATE judged SET analyte = 'GLU', standing = NULL WHERE reading_id = (SELECT reading_id FROM judged
          WHERE kind = 'patient' AND status = 'settled' AND standing = 'in' AND taken_at >= ? AND taken_at < ? LIMIT 1)`,
      )
      .run(Date.UTC(2026, 3, 2), Date.UTC(2026, 3, 30));
    const report = gather(store, '2026-04');
    const inside = (tests: typeof before) => tests.standings.find(({ standing }) => standing === 'in')?.tests;
    expect([report.tests.clear, report.tests.others, inside(report.tests)]).toEqual([
      before.clear - 1,
      1,
      (inside(before) ?? 0) - 1,
    ]);
    expect(report.tests.standings.reduce((sum, s) => sum + s.tests, 0)).toBe(report.tests.clear);
    expect(monthPage(report, 'now')).toContain('1 value of other analytes counts too and is not in this table.');
  });

  it('names critical values first, also those that wait', () => {
    const report = gather(seededStore(), '2026-05');
    expect(report.critical.map((c) => [c.value, c.standing, c.person])).toEqual([[6.1, 'critical-high', PATIENT]]);
    const html = monthPage(report, 'now');
    expect(html.indexOf('Critical values')).toBeLessThan(html.indexOf('Tests made'));
    expect(html).toContain('6.1');
  });

  it('says of each critical value of what it is: a clinic may have limits for others than the INR', () => {
    const store = seededStore();
    const [critical] = gather(store, '2026-05').critical;
    store.db
      .statement("UPDATE judged SET analyte = 'GLU', value = 2.1, standing = 'critical-low' WHERE reading_id = ?")
      .run(critical?.reading ?? '');
    const report = gather(store, '2026-05');
    expect(report.critical).toMatchObject([{ analyte: 'GLU', value: 2.1, standing: 'critical-low' }]);
    expect(monthPage(report, 'now')).toContain('GLU 2.1');
  });

  it(`finds the same time in range, criteria and delay for each person as the course of that person (SEED=${SEED})`, () => {
    const store = filledStore(SEED, 12, 60);
    const now = instant(FILLED_NOW);
    const report = gather(store, '2026-03', now);
    const courses = store.patients.list().map(({ patientNo, id, planDays }) => {
      const points = store.judged
        .list({ patientNo, kind: 'patient', status: 'settled' })
        .flatMap(({ reading, takenAt, earliest, latest, value }) =>
          takenAt === undefined || earliest === undefined || latest === undefined || value === undefined
            ? []
            : [{ id: reading, time: { at: takenAt, earliest, latest }, value }],
        );
      const targets = store.patients
        .targets(patientNo)
        .map(({ from, low, high }) => ({ from, low: Number(low), high: Number(high) }));
      const localDate = (at: Instant) => localDay(at, zoneOf(ZONE));
      const plan = planDays === undefined ? {} : { planDays };
      return { id, course: courseOf({ points, targets, now: instant(now - 1), localDate, ...plan }) };
    });
    const figures = courses.flatMap(({ id, course }) => {
      const { figure } = course.reassessment.timeInRange;
      return figure.kind === 'known' ? [{ id, fraction: figure.fraction }] : [];
    });
    expect(figures.length).toBe(12);
    expect([report.timeInRange.known, report.timeInRange.unknown]).toEqual([12, 0]);
    const low = figures.filter((f) => f.fraction < 0.65).toSorted((a, b) => a.fraction - b.fraction);
    expect(low.length).toBeGreaterThan(1);
    expect(report.timeInRange.under).toEqual(low);
    expect(report.timeInRange.tenths.reduce((sum, n) => sum + n, 0)).toBe(12);
    expect(report.reassess.map((p) => p.id)).toEqual(
      courses.filter(({ course }) => course.reassessment.isDue).map(({ id }) => id),
    );
    expect(report.overdue.map((p) => [p.id, p.overdueDays]).toSorted()).toEqual(
      courses.flatMap(({ id, course: { plan } }) => (plan.overdueDays > 0 ? [[id, plan.overdueDays]] : [])),
    );
  });

  it('takes the last month that is over where none is named, and refuses what is none or has not begun', () => {
    const store = seededStore();
    expect(gather(store).month).toBe('2026-05');
    expect(() => gather(store, '2026-5')).toThrow(/not a month/);
    expect(() => gather(store, '2026-13')).toThrow(/not a month/);
    expect(() => gather(store, '2026-07')).toThrow(/not begun/);
  });

  it('does not count people who had left before, or who came after', () => {
    const store = seededStore();
    addPatient(store, context, { id: 'ALDER-020', left: instant(NOW - 100 * DAY) });
    addPatient(store, context, { id: 'ALDER-021', since: instant(NOW - DAY) });
    expect(gather(store, '2026-05').people).toBe(1);
    expect(gather(store, '2026-06').people).toBe(2);
  });

  it('is one page that needs nothing from outside, shows names as text, and ends with the cautions', () => {
    const html = monthPage(gather(seededStore(), '2026-06'), 'now');
    expect(html).not.toMatch(/https?:|<script|<link|<img|<iframe|@import|url\(|\ssrc=|\shref=|\son[a-z]+=/i);
    expect(html).toContain(escapeText(NAME));
    expect(html).not.toContain(NAME);
    for (const caution of CAUTIONS) expect(html).toContain(escapeText(caution));
  });

  it('is JSON with moments as RFC 3339', () => {
    const data = plainData(gather(seededStore(), '2026-05')) as { from: string; critical: { taken_at: string }[] };
    expect(data.from).toBe('2026-04-30T23:00:00.000Z');
    expect(data.critical[0]?.taken_at).toMatch(/^2026-05-10T/);
  });
});
