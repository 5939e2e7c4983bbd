/** What is said of a dock: in plain words, in both languages, and as news only where something really happened. */
import { describe, expect, it } from 'vitest';
import type { DeskDock, LastDownload } from '../../../src/desk/api/live.ts';
import { dockSentences, isEmpty } from '../../../src/desk/page/dock/dock-words.ts';
import { makeFormat } from '../../../src/desk/page/format.ts';
import { tallyUses } from '../../../src/desk/page/parts/tally-strokes.ts';
import { de } from '../../../src/desk/page/words/de.ts';
import { en } from '../../../src/desk/page/words/en.ts';

const AT = Date.UTC(2026, 2, 3, 9, 52);
const ENGLISH = makeFormat('en', 'Europe/Lisbon', en, () => AT);
const GERMAN = makeFormat('de', 'Europe/Lisbon', de, () => AT);
const METER = { id: 'PA-C001', model: 'GM-40' };

const dock = (more: Partial<DeskDock>): DeskDock => ({ name: 'Dock 1', phase: 'docked', since: AT, ...more });
const download = (more: Partial<LastDownload> = {}): LastDownload => ({
  id: 'D17',
  at: AT,
  meterId: METER.id,
  new: 4,
  known: 31,
  complete: true,
  tally: [],
  open: 0,
  isTorn: false,
  clockSet: false,
  waiting: 0,
  ...more,
});
const said = (of: DeskDock): string[] => dockSentences(of, en, ENGLISH).map((s) => s.says);
const saidInGerman = (of: DeskDock): string[] => dockSentences(of, de, GERMAN).map((s) => s.says);
const news = (of: DeskDock): string[] => dockSentences(of, en, ENGLISH).flatMap((s) => (s.isNews ? [s.says] : []));

describe('a dock', () => {
  it('with nothing on it tells the last download, which is no news', () => {
    const empty = dock({ phase: 'resting', last: download() });
    expect(isEmpty(empty)).toBe(true);
    expect(said(empty)).toEqual(['Last: meter PA-C001, today, 09:52.']);
    expect(saidInGerman(empty)).toEqual(['Zuletzt: Gerät PA-C001, heute, 09:52.']);
    expect(news(empty)).toEqual([]);
  });

  it('that reads tells how far it is, and says nothing aloud of it', () => {
    const reading = dock({ phase: 'reading', meter: METER, read: 57, held: 200 });
    expect(said(reading)).toEqual(['57 of 200 read. Leave it on.']);
    expect(saidInGerman(reading)).toEqual(['57 von 200 gelesen. Bitte stehen lassen.']);
    expect(news(reading)).toEqual([]);
  });

  it('that has read all says that it is safely stored and can be taken off', () => {
    const stored = dock({ meter: METER, last: download({ waiting: 1 }) });
    expect(said(stored)).toEqual([
      'Safely stored: 4 new, 31 known. You can take it off.',
      'Waiting for you: 1 reading of it.',
    ]);
    expect(news(stored)).toEqual(said(stored));
  });

  it('that was taken off too early asks for it again, and never says that all is stored', () => {
    const [first] = dockSentences(dock({ meter: METER, last: download({ complete: false }) }), en, ENGLISH);
    expect(first).toEqual({
      says: 'It broke off: 4 new and 31 known are kept. Put it on again for the rest.',
      needsYou: true,
      isNews: true,
    });
  });

  it('tells of a clock that is off, and says whether it is right now; less than a minute is not worth a word', () => {
    const clock = (clockOffS: number, clockSet: boolean): string[] =>
      said(dock({ meter: METER, last: download({ clockOffS, clockSet }) })).slice(1);
    expect(clock(59, true)).toEqual([]);
    expect(clock(600, true)).toEqual([expect.stringMatching(/^Its clock was .*10.* and is right now\.$/)]);
    expect(clock(-600, false)).toEqual([expect.stringMatching(/^Its clock is .*10.*\.$/)]);
  });

  it('in trouble says what to do and when it is tried again, in the words of each language', () => {
    const trouble = { code: 'METER_SILENT', message: 'm', hint: 'h', at: AT };
    const lost = dock({ phase: 'resting', meter: METER, trouble, nextTryAt: AT + 60_000 });
    expect(news(lost)).toEqual([
      `${en.faults['METER_SILENT']?.says} ${en.faults['METER_SILENT']?.todo} It is tried again at 09:53.`,
    ]);
    expect(saidInGerman(lost)).toEqual([
      `${de.faults['METER_SILENT']?.says} ${de.faults['METER_SILENT']?.todo} Um 09:53 wird es wieder versucht.`,
    ]);
  });

  it('that is empty does not complain that nobody answers', () => {
    const trouble = { code: 'METER_SILENT', message: 'm', hint: 'h', at: AT };
    expect(news(dock({ phase: 'resting', trouble }))).toEqual([]);
  });
});

describe('the legend of a tally', () => {
  it('names only what the row uses', () => {
    const places = [{ kind: 'control', isNew: false } as const];
    expect(tallyUses({ places, read: 0, open: 2, isTorn: false })).toEqual({
      isNew: false,
      isKnown: true,
      isRead: false,
      isControl: true,
      isError: false,
      isOpen: true,
      isTorn: false,
    });
  });
});
