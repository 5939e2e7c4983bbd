/** The report on one person: what it says of a known story, and that it needs nothing from outside. */
import { describe, expect, it } from 'vitest';
import { courseOf } from '../../src/clinic/course/course-of.ts';
import { instant } from '../../src/core/instant.ts';
import { release } from '../../src/record/deciding.ts';
import { gatherPatient, type PatientAsk } from '../../src/reports/gather-patient.ts';
import { CAUTIONS, escapeText } from '../../src/reports/page.ts';
import { patientPage } from '../../src/reports/patient.ts';
import { plainData } from '../../src/reports/plain-data.ts';
import type { Store } from '../../src/store/store.ts';
import { context, DAY, NOW, PATIENT, seededStore, T0, ZONE } from './seeded.ts';

const PRINTED = '2026-06-21 10:00 (Europe/Lisbon)';
const gather = (store: Store, rest: Partial<PatientAsk> = {}) =>
  gatherPatient(store, { patientId: PATIENT, now: NOW, zone: ZONE, policy: context.policy, ...rest });
/** The words of a page, without its markup and style. */
const wordsOf = (html: string): string =>
  html
    .replace(/<style>[\s\S]*?<\/style>/, '')
    .replace(/<\/?span[^>]*>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\u00a0/g, ' ')
    .replace(/\s+/g, ' ');

describe('the report on a person', () => {
  const store = () => seededStore();

  it('shows a name with markup in it as it is written, and never as markup', () => {
    const html = patientPage(gather(store()), PRINTED);
    expect(html).not.toContain('<b>Calloway');
    expect(html).toContain('Ines &lt;b&gt;Calloway&lt;/b&gt; &amp; &quot;Co&quot; (ALDER-017)');
  });

  it('asks for nothing from outside and runs no script', () => {
    const html = patientPage(gather(store()), PRINTED);
    expect(html).not.toMatch(/https?:|<script|<link|<img|<iframe|@import|url\(|\ssrc=|\shref=|\son[a-z]+=/i);
    expect(html).toContain("default-src 'none'");
  });

  it('has the person and the date at the head of every sheet, and the cautions at the foot', () => {
    const html = patientPage(gather(store()), PRINTED);
    expect(html).toMatch(/<thead><tr><td class="running">Ines &lt;b&gt;[\s\S]*?ALDER-017[\s\S]*?Made 2026-06-21 10:00/);
    for (const caution of CAUTIONS) expect(html).toContain(escapeText(caution));
    expect(html).toContain('counter(page)');
  });

  it('names every rule set of time in range, with the range that the bounds of the times allow', () => {
    const report = gather(store());
    const said = wordsOf(patientPage(report, PRINTED));
    expect(report.course.timeInRange.map((t) => t.rules.source.name)).toEqual([
      'Rosendaal 1993',
      'CMS179',
      'NICE NG196',
    ]);
    for (const { rules } of report.course.timeInRange)
      expect(said).toContain(`${rules.source.name}, ${rules.source.edition}`);
    const [first] = report.course.timeInRange;
    if (first?.kind !== 'known' || first.bounds.kind !== 'known') throw new Error('a figure is expected');
    expect(said).toContain(`${Math.floor(first.bounds.low * 100)} to ${Math.ceil(first.bounds.high * 100)} %`);
    expect(said).toContain(first.days.below.toFixed(1));
  });

  it('keeps what waits and what was struck out away from every figure, and shows both', () => {
    const report = gather(store());
    const said = wordsOf(patientPage(report, PRINTED));
    expect(report.course.tests.map(({ test }) => test.value)).not.toContain(6.1);
    expect(report.course.tests.map(({ test }) => test.value)).not.toContain(3.3);
    expect(said).toContain('INR 6.1 of 2026-05-10 10:00 waits and would be critically high: look at it first.');
    expect(said).toContain('struck out: finger was squeezed');
    expect(said).toContain('3 readings below are in no figure of this page');
  });

  it('names a critical value first once somebody has released it, and doubles its mark', () => {
    const here = store();
    const held = here.judged.list({ status: 'held' }).filter((j) => j.value === 6.1);
    release(
      here,
      context,
      held.map((j) => j.reading),
      'seen, confirmed by phone',
    );
    const html = patientPage(gather(here), PRINTED);
    expect(wordsOf(html)).toContain(
      'INR 6.1 on 2026-05-10 10:00 was critically high: confirm and act by local policy.',
    );
    expect(wordsOf(html)).toContain('6.1 critical');
    expect(wordsOf(html)).toContain('critically high; confirm in a laboratory');
  });

  it('draws each test as a shape: round in its band, up above it, down below it', () => {
    const html = patientPage(gather(store()), PRINTED);
    const marks = (pattern: RegExp): number => [...html.matchAll(pattern)].length;
    expect(marks(/<circle [^>]*r="4" fill="#111"/g)).toBe(13);
    expect(marks(/<path d="M[\d.]+ [\d.]+l5.5 10h-11z" fill="#111"/g)).toBe(1); // 3.8 above 2.5 to 3.5
    expect(marks(/<path d="M[\d.]+ [\d.]+l5.5 -10h-11z" fill="#111"/g)).toBe(1); // 1.8 below 2.0 to 3.0
    expect(wordsOf(html)).toContain('target 2.5 to 3.5');
    expect(wordsOf(html)).toContain('target 2.0 to 3.0');
  });

  it('leaves the line open where no test was made for longer than planned, with the days in it', () => {
    const html = patientPage(gather(store()), PRINTED);
    expect(wordsOf(html)).toContain('35 days, no test');
    expect([...html.matchAll(/<polyline/g)]).toHaveLength(2);
  });

  it('says of every time how sure it is', () => {
    const said = wordsOf(patientPage(gather(store()), PRINTED));
    expect(said).toMatch(/2026-06-12 10:30 between 2026-05-25 \d\d:\d\d and 2026-06-12 \d\d:\d\d INR 2.2 waits/);
    expect(said).toMatch(/2026-04-26 10:00 ± 3 min \d+ s INR 2.6 in range/);
  });

  it('tells of the power loss, of overdue tests and of the history of targets', () => {
    const said = wordsOf(patientPage(gather(store()), PRINTED));
    expect(said).toContain('1 The meter lost power between 2026-06-05');
    expect(said).toContain('The test planned for 2026-05-24 is 28 days overdue.');
    expect(said).toMatch(/2026-02-26 09:00 2.0 to 3.0 Tamsin .* the beginning 2.5 to 3.5 Tamsin/);
  });

  it('shows a part of the course where one is asked for', () => {
    const report = gather(store(), { since: instant(T0 + 40 * DAY), until: instant(T0 + 70 * DAY) });
    expect(report.course.period).toEqual({ from: '2026-02-19', until: '2026-03-21' });
    expect(report.values.map((row) => row.values[0]?.value)).toEqual(['2.2', '1.8', '2.3', '2.6']);
    expect(wordsOf(patientPage(report, PRINTED))).toContain('2026-02-19 to 2026-03-21');
  });

  it('says what failed tests usually mean, and names a cluster', () => {
    const report = gather(store());
    const errors = [10, 11, 12].map((n) => {
      const at = instant(T0 + n * DAY);
      return { id: `E${n}`, time: { at, earliest: at, latest: at }, code: 'E5' };
    });
    const points = report.course.tests.map(({ test }) => test);
    const course = courseOf({
      points,
      errors,
      targets: [],
      now: NOW,
      localDate: (at) => new Date(at).toISOString().slice(0, 10),
    });
    const said = wordsOf(patientPage({ ...report, course }, PRINTED));
    expect(said).toContain('3 errors among 3 tests from 2026-01-20 to 2026-01-22: watch a test together.');
    expect(said).toContain('E5 3 2026-01-22');
    expect(said).toContain('too little blood');
  });

  it('gives the same as plain data, with moments as in all our JSON', () => {
    const plain = JSON.parse(JSON.stringify(plainData(gather(store()))));
    expect(plain.now).toBe('2026-06-21T09:00:00.000Z');
    expect(plain.patient).toMatchObject({ id: PATIENT, birth_year: 1957, plan_days: 7 });
    expect(plain.targets[0]).toMatchObject({ from: '1970-01-01T00:00:00.000Z', low: '2.5' });
    expect(plain.course.time_in_range[0].fraction).toBeCloseTo(0.895, 2);
  });

  it('says so where there is nothing yet', () => {
    const report = gather(store(), { since: instant(T0 - 90 * DAY), until: instant(T0 - 80 * DAY) });
    const said = wordsOf(patientPage(report, PRINTED));
    expect(said).toContain('There are no tests to draw.');
    expect(said).toContain('At least 2 tests are needed; 0 count.');
  });
});
