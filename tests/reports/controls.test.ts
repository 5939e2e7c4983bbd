/** The report on control tests: verdicts, charts apart by kind, and what was measured while out of control. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { putControl } from '../../src/record/registers.ts';
import { controlsPage } from '../../src/reports/controls.ts';
import { gatherControls } from '../../src/reports/gather-controls.ts';
import { CAUTIONS, escapeText } from '../../src/reports/page.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { FILLED_NOW, filledStore } from './filled.ts';
import { context } from './seeded.ts';

const NOW = instant(FILLED_NOW);
const DAY = 86_400_000;
const ask = { now: NOW, zone: 'Europe/Lisbon', wants: () => true };

/** A control test on meter 1, so many days before now, of the level of that number. */
function control(store: Store, id: string, daysAgo: number, value: number, levelNo: number): void {
  const at = FILLED_NOW - daysAgo * DAY;
  store.db
    .statement(
      `INSERT INTO judged (reading_id, version, meter_no, kind, level_no, status, holds, taken_at, earliest, latest, lot,
        analyte, value, digest) VALUES (?, 1, 1, 'control', ?, 'settled', '[]', ?, ?, ?, '1200003', 'INR', ?, 'x')`,
    )
    .run(id, levelNo, at, at, at, value);
}

/** Liquid levels 1 and 2 in control, an electronic one too; then level 1 fails 30 days ago and passes 20 days ago. */
function withControls(): Store {
  const store = filledStore(5, 3, 40);
  const put = (level: string, kind: 'liquid' | 'electronic', mean: string): number =>
    putControl(store, context, { lot: `C-${kind}`, level, analyte: 'INR', kind, mean, sd: '0.1', rangeSd: 2 });
  const low = put('1', 'liquid', '1.2');
  const high = put('2', 'liquid', '4.0');
  const bench = put('E', 'electronic', '2.5');
  for (const [n, daysAgo] of [60, 50, 40].entries()) {
    control(store, `C1-${n}`, daysAgo, 1.2, low);
    control(store, `C2-${n}`, daysAgo, 4.05, high);
    control(store, `CE-${n}`, daysAgo, 2.5, bench);
  }
  control(store, 'C1-bad', 30, 1.7, low);
  control(store, 'C1-good', 20, 1.21, low);
  control(store, 'C2-good', 20, 4.0, high);
  return store;
}

describe('the report on control tests', () => {
  it('draws each level on a chart of its own, liquid and electronic apart', () => {
    const [meter] = gatherControls(withControls(), ask).meters;
    expect(meter?.charts.map((c) => [c.kind, c.level, c.lots[0]?.points.length])).toEqual([
      ['electronic', 'E', 3],
      ['liquid', '1', 5],
      ['liquid', '2', 4],
    ]);
    expect(meter?.tests).toBe(12);
  });

  it('says in a sentence why a control was rejected', () => {
    const report = gatherControls(withControls(), ask);
    const rejected = report.meters[0]?.verdicts.filter((v) => v.outcome === 'reject') ?? [];
    expect(rejected.map((v) => v.reading)).toEqual(['C1-bad']);
    expect(rejected[0]?.sentences.join(' ')).toContain('rule 1-3s');
    expect(controlsPage(report, 'now')).toContain('rule 1-3s');
  });

  it('lists every value that counts though it was made out of control, released ones named so', () => {
    const store = withControls();
    const [from, until] = [FILLED_NOW - 30 * DAY, FILLED_NOW - 20 * DAY];
    const made = store.judged
      .list({ meterNo: 1, kind: 'patient', status: 'settled' })
      .filter((j) => j.latest !== undefined && j.earliest !== undefined && j.latest >= from && j.earliest < until);
    expect(made.length).toBeGreaterThan(2);
    const holds = JSON.stringify([{ code: 'control-failed', sentence: 'It failed.', isReleased: true }]);
    store.db.statement('UPDATE judged SET holds = ? WHERE reading_id = ?').run(holds, made[0]?.reading ?? '');
    store.db.statement("UPDATE judged SET status = 'held' WHERE reading_id = ?").run(made[1]?.reading ?? '');
    const [span, ...others] = gatherControls(store, ask).meters[0]?.outOfControl ?? [];
    expect(others).toEqual([]);
    expect([span?.span.from, span?.span.until]).toEqual([from, until]);
    expect(span?.waiting).toBe(1);
    const [first, , ...rest] = made;
    expect(span?.counting.map((c) => [c.reading, c.isReleased])).toEqual([
      [first?.reading, true],
      ...rest.map((j) => [j.reading, false]),
    ]);
  });

  it('names the outlets that have such a value, and not those whose filter leaves it out or that are not there yet', () => {
    const store = withControls();
    const inDoubt = gatherControls(store, ask).meters[0]?.outOfControl[0]?.counting[0]?.reading ?? '';
    const log = store.db.statement(
      'INSERT INTO outgoing (seq, reading_id, version, at, status) VALUES (?, ?, 1, ?, ?)',
    );
    log.run(7, inDoubt, NOW, 'settled');
    const setup = { kind: 'csv', settings: '{}' };
    const has = store.outlets.add({ ...setup, name: 'record', filter: '{}' }, 0, 'Tamsin', NOW);
    store.outlets.add({ ...setup, name: 'behind', filter: '{}' }, 0, 'Tamsin', NOW);
    const other = store.outlets.add({ ...setup, name: 'controls-only', filter: '{"kinds":["control"]}' }, 0, 'T', NOW);
    for (const no of [has, other]) store.outlets.offer(no, 7, []);
    const report = gatherControls(store, { ...ask, wants: (filter) => filter === '{}' });
    expect(report.meters[0]?.outOfControl[0]?.counting[0]?.forwardedTo).toEqual(['record']);
  });

  it('names a meter that is out of control now first, with its strip lot', () => {
    const store = withControls();
    expect(controlsPage(gatherControls(store, ask), 'now')).not.toContain('Out of control now');
    control(store, 'C1-worse', 5, 1.8, 1);
    const html = controlsPage(gatherControls(store, ask), 'now');
    expect(html).toContain('Out of control now: PA00001 (strip lot 1200003). Its results wait.');
  });

  it('says which meters are overdue by the plan, and which were never controlled', () => {
    const store = withControls();
    store.db
      .statement("INSERT INTO meter (meter_no, meter_id, model, memory_order) VALUES (2, 'PA00002', 'GM-10', 'newest')")
      .run();
    const report = gatherControls(store, ask);
    expect(report.meters[0]?.due.status).toBe('overdue');
    expect(report.never).toEqual(['PA00002']);
    const html = controlsPage(report, 'now');
    expect(html).toContain('overdue');
    expect(html).toContain('42 CFR 493.1269(b)');
  });

  it('is one page that needs nothing from outside, and ends with the cautions', () => {
    for (const store of [withControls(), tempStore()]) {
      const html = controlsPage(gatherControls(store, ask), 'now');
      expect(html).not.toMatch(/https?:|<script|<link|<img|<iframe|@import|url\(|\ssrc=|\shref=|\son[a-z]+=/i);
      expect(html).not.toMatch(/NaN|undefined|Infinity/);
      for (const caution of CAUTIONS) expect(html).toContain(escapeText(caution));
    }
  });
});
