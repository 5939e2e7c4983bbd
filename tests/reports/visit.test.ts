/** The sheet of a visit: what was read, what to key in, what to ask. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { takeBack } from '../../src/record/lending.ts';
import { gatherVisit } from '../../src/reports/gather-visit.ts';
import { tallyPicture } from '../../src/reports/tally-picture.ts';
import { visitPage } from '../../src/reports/visit.ts';
import { VISIT_WORDS } from '../../src/reports/visit-words.ts';
import type { Store } from '../../src/store/store.ts';
import { stampAt } from '../intake/told-meter.ts';
import { context, DAY, METER, NOW, readMeter, seededStore, T0, ZONE } from './seeded.ts';

const PRINTED = '2026-06-21 10:00 (Europe/Lisbon)';
const gather = (store: Store, meterId = METER) =>
  gatherVisit(store, { meterId, now: NOW, zone: ZONE, policy: context.policy });
const wordsOf = (html: string): string =>
  html
    .replace(/<style>[\s\S]*?<\/style>/, '')
    .replace(/<\/?span[^>]*>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ');

describe('the visit sheet', () => {
  it('says what was new since the download before, beside what was known', () => {
    const report = gather(seededStore());
    expect(report.new).toBe(2);
    expect(report.strokes.map((s) => s.isNew)).toEqual([...new Array(17).fill(false), true, true]);
    expect(report.newValues.map((row) => row.values[0]?.value)).toEqual(['2.5', '2.2']);
    expect(wordsOf(visitPage(report, PRINTED))).toContain('2 new tests; 17 known. The whole memory was read.');
  });

  it('says what to key in: the time, the target of the person, the code of the lot, and why', () => {
    const said = wordsOf(visitPage(gather(seededStore()), PRINTED));
    expect(said).toContain('date and time 2026-06-21 10:00 when this was made');
    expect(said).toContain('target range 2.0 to 3.0 lost with the power');
    expect(said).toContain('strip code 4417 lot 1200003, good until 2027-03');
  });

  it('tells of the power loss in its sentence, and asks the person about it and about missed weeks', () => {
    const said = wordsOf(visitPage(gather(seededStore()), PRINTED));
    expect(said).toContain('Power was lost once, as far as is known.');
    expect(said).toMatch(/The meter lost power between 2026-06-05 \d\d:\d\d and/);
    expect(said).toContain('No test for 19 days, from 2026-05-17 to 2026-06-05');
    expect(said).not.toContain('No test for 28 days'); // before the last visit: asked then
    expect(said).toContain('were the batteries changed');
  });

  it('says the same in German, dates and numbers as they are written there, and no English word is left', () => {
    const page = visitPage(gather(seededStore()), PRINTED, VISIT_WORDS.de);
    expect(page).toContain('<html lang="de">');
    const said = wordsOf(page);
    expect(said).toContain('2 neue Tests; 17 bekannt. Der ganze Speicher wurde gelesen.');
    expect(said).toContain('Datum und Uhrzeit 21.06.2026 10:00, als dies erstellt wurde');
    expect(said).toContain('Zielbereich 2,0 bis 3,0 mit dem Strom verloren');
    expect(said).toContain('19 Tage ohne Test, von 17.05.2026 bis 05.06.2026');
    expect(said).toContain('Soweit bekannt, verlor es einmal den Strom.');
    expect(said).toContain('nicht zum Dosieren');
    expect(said.match(/\b(the|of|and|is|are|with|not|since|between|waits?|test|read)\b/g) ?? []).toEqual([]);
  });

  it('lists what waits, forecasts the overwriting, and leaves room for a signature', () => {
    const report = gather(seededStore());
    const said = wordsOf(visitPage(report, PRINTED));
    expect(report.waits).toHaveLength(3);
    expect(said).toContain('INR 6.1 is far from this person');
    expect(report.forecast).toMatchObject({ kind: 'forecast', room: 200, isCapacityAssumed: false });
    expect(said).toContain(`Next download: ${report.forecast.sentence}`);
    expect(said).toContain('signature');
    expect(said).toContain('Not a medical device');
  });

  it('takes all downloads of one day for one visit', () => {
    const store = seededStore();
    readMeter(store, 160.1, [], 0);
    const report = gather(store);
    expect(report.new).toBe(2);
    expect(new Date(report.before?.at ?? 0).toISOString().slice(0, 10)).toBe('2026-05-18');
  });

  it('speaks of no person where the meter is not lent, and asks for no target', () => {
    const store = seededStore();
    takeBack(store, context, METER, instant(T0 + 129 * DAY));
    const report = gather(store);
    expect(report.person).toBeUndefined();
    const said = wordsOf(visitPage(report, PRINTED));
    expect(said).toContain('not lent to anybody');
    expect(said).toContain('target range the meter is shared: none');
  });

  it('names the newest few of many, so that the sheet stays one page', () => {
    const store = seededStore();
    const many = Array.from({ length: 40 }, (_, i) => ({
      stamp: stampAt(T0 + 160 * DAY + (i + 1) * 1_800_000),
      inr: (5 + i / 10).toFixed(1),
    }));
    readMeter(store, 161, many);
    const report = gather(store);
    const html = visitPage(report, PRINTED);
    expect(report.new).toBe(40);
    expect([...html.matchAll(/<tr>/g)].length).toBeLessThan(15);
    expect([...html.matchAll(/<li>/g)].length).toBeLessThan(15);
    expect(wordsOf(html)).toContain('40 new values are critical');
    expect(wordsOf(html)).toContain('35 older new values stand in the report on the person.');
  });

  it('refuses a meter that is not there', () => {
    expect(() => gather(seededStore(), 'NONE')).toThrow(/no meter "NONE"/);
  });

  it('asks for nothing from outside and shows markup in a name as text', () => {
    const html = visitPage(gather(seededStore()), PRINTED);
    expect(html).not.toMatch(/https?:|<script|<link|<img|\ssrc=|\shref=/i);
    expect(html).not.toContain('<b>Calloway');
  });
});

describe('the tally as a picture', () => {
  it('has one stroke a test, a foot under a control test, breaks in an error test, dots where one is to come', () => {
    const { html } = tallyPicture(
      {
        strokes: [
          { kind: 'patient', isNew: false },
          { kind: 'control', isNew: true },
          { kind: 'error', isNew: true },
        ],
        open: 2,
        isTorn: true,
      },
      VISIT_WORDS.en.tally,
    );
    expect([...html.matchAll(/<line/g)]).toHaveLength(5 + 1);
    expect([...html.matchAll(/stroke-dasharray="6 4"/g)]).toHaveLength(1);
    expect([...html.matchAll(/stroke-dasharray="1 4"/g)]).toHaveLength(2);
    expect(html).toContain('<polyline');
    expect(html).toContain('2 new, 1 known, 2 not read');
  });
});
