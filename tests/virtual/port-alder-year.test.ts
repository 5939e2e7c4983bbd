import { describe, expect, it } from 'vitest';
import { passesCheck } from '../../src/clinic/people/check-digit.ts';
import { instant } from '../../src/core/instant.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { townsId } from '../../src/virtual/port-alder-people.ts';
import { portAlderYear } from '../../src/virtual/port-alder-year.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { tempStore } from '../store/temp-store.ts';
import { judgeHistory } from '../support/judge-history.ts';

const SEED = Number(process.env['SEED'] ?? 20260301);
const OPTIONS = { seed: SEED, until: instant(Date.UTC(2026, 10, 20, 9, 30)), zone: zoneOf('Europe/Lisbon') };
const profiles = loadProfiles('/nowhere');
const year = portAlderYear(OPTIONS);
const small = portAlderYear({ ...OPTIONS, homes: 13, days: 120 });
const meter = (id: string) => {
  const found = year.meters.find((m) => m.id === id);
  if (!found) throw new Error(`no meter ${id}`);
  return found.history;
};
const tests = year.meters.flatMap((m) => m.history.tests);
const cells = (table: string): string[][] =>
  table
    .trim()
    .split('\n')
    .slice(1)
    .map((row) => row.split(','));

describe(`the year of Port Alder (SEED=${SEED})`, () => {
  it('is the same for the same seed and end, and another for another seed', () => {
    const again = portAlderYear(OPTIONS);
    const bytes = (of: typeof year) => of.captures.map(({ capture }) => formatCapture(capture)).join('');
    expect(bytes(again) === bytes(year)).toBe(true);
    expect([again.present, again.laboratory]).toEqual([year.present, year.laboratory]);
    expect(bytes(portAlderYear({ ...OPTIONS, seed: SEED + 1 })) === bytes(year)).toBe(false);
  });

  it('has 40 home testers with a meter each, 42 meters beside the two on the dock, and captures in the order of time', () => {
    expect(cells(year.present).filter((row) => row[9] !== '')).toHaveLength(40);
    expect(year.meters).toHaveLength(42);
    const opened = year.captures.map(({ capture }) => capture.openedAt);
    expect(opened).toEqual(opened.toSorted((a, b) => a - b));
    expect(Math.max(...opened)).toBeLessThan(OPTIONS.until);
  });

  it('gives every person an id that passes MOD 11,10, and no two the same', () => {
    const ids = Array.from({ length: 500 }, (_, i) => townsId(i + 1));
    expect(ids.filter((id) => !passesCheck(id, 'mod11-10'))).toEqual([]);
    expect(new Set(ids).size).toBe(500);
  });

  it('keeps INR between 1 and the end of the range, most of it near the targets, some far away', () => {
    const values = tests.filter((t) => t.kind === 'patient').map((t) => Number(t.values[0]?.value.replace('>', '')));
    expect(Math.min(...values)).toBeGreaterThanOrEqual(1);
    expect(Math.max(...values)).toBeLessThanOrEqual(8);
    const near = values.filter((v) => v >= 2 && v <= 3.5).length / values.length;
    expect(near).toBeGreaterThan(0.6);
    expect(near).toBeLessThan(0.95);
    expect(values.filter((v) => v > 4.5).length).toBeGreaterThan(5);
  });

  it('has every trouble of the clock: lost, set a year, a month or twelve hours off', () => {
    const how = (id: string) => meter(id).clockEvents.map((e) => e.how ?? e.kind);
    expect(how('PA-H003')).toContain('power-loss');
    expect(how('PA-H004')).toEqual(expect.arrayContaining(['power-loss', 'year']));
    expect(how('PA-H005').some((h) => h === 'day-month' || h === 'hour')).toBe(true);
    expect(how('PA-H006')).toContain('twelve-hours');
  });

  it('has every trouble of the memory: tests overwritten unread, deleted, and cut downloads', () => {
    expect(meter('PA-H007').downloads.some((d) => d.overwrittenUnread > 0)).toBe(true);
    expect(meter('PA-H008').deletions.map((d) => d.kind)).toEqual(['delete-one', 'delete-one']);
    expect(meter('PA-H009').deletions.map((d) => d.kind)).toEqual(['delete-all']);
    expect(meter('PA-H010').downloads.filter((d) => !d.isComplete)).toHaveLength(2);
  });

  it('has strips used after their expiry, a cluster of errors, a control that fails, and ids keyed wrongly or not', () => {
    const expiry = new Map(year.lots.map((l) => [l.lot, Date.parse(l.expiry) + 86_400_000]));
    const late = meter('PA-H011').tests.filter((t) => t.at > (expiry.get(t.lot ?? '') ?? t.at));
    expect(late.length).toBeGreaterThan(3);
    const errors = (id: string) => meter(id).tests.filter((t) => t.kind === 'error').length;
    expect(errors('PA-H012')).toBeGreaterThan(4);
    expect(errors('PA-H012')).toBeGreaterThan(3 * errors('PA-H013'));
    const controls = meter('PA-C003').tests.filter((t) => t.kind === 'control' && t.lot !== undefined);
    expect(controls.filter((t) => Math.abs(Number(t.values[0]?.value) - 3.9) < 0.25).length).toBeGreaterThan(0);
    const shared = meter('PA-C001').tests.filter((t) => t.kind === 'patient');
    expect(shared.some((t) => t.patientId === undefined)).toBe(true);
    expect(shared.some((t) => t.patientId !== undefined && !passesCheck(t.patientId, 'mod11-10'))).toBe(true);
  });

  it('has one strip lot that reads higher than the others, meters that change hands, and targets that change', () => {
    const mean = (lot: string | undefined): number => {
      const logs = tests
        .filter((t) => t.kind === 'patient' && t.lot === lot)
        .map((t) => Math.log(Number(t.values[0]?.value.replace('>', ''))));
      return Math.exp(logs.reduce((sum, x) => sum + x, 0) / logs.length);
    };
    const [, second, third, fourth] = year.lots.map((l) => mean(l.lot));
    expect((third ?? 0) / (second ?? 1)).toBeGreaterThan(1.05);
    expect((third ?? 0) / (fourth ?? 1)).toBeGreaterThan(1.05);
    expect(year.pastLends.map((l) => l.meter)).toEqual(['PA-H001', 'PA-H002']);
    const before = new Map(cells(year.present).map((row) => [row[0], row[6]]));
    expect(cells(year.targets).filter(([id, low]) => before.get(id) !== low)).toHaveLength(2);
    expect(cells(year.laboratory).length).toBeGreaterThan(40);
  });

  it('settles: no test that was told is lost, none is there twice, and the truth lies within nearly all bounds', () => {
    const judged = small.meters.map((m) => judgeHistory(m.history, profiles, true));
    expect(judged.flatMap((j) => j.lost)).toEqual([]);
    expect(judged.flatMap((j) => j.surplus)).toEqual([]);
    const times = judged.flatMap((j) => j.times);
    expect(times.length).toBeGreaterThan(300);
    expect(times.filter((t) => t.outside === 0).length / times.length).toBeGreaterThan(0.98);
  });

  it('stands in the store once, test for test, however often its captures come', () => {
    const store = tempStore();
    const context = { now: OPTIONS.until, actor: 'test' };
    const some = new Set(['PA-H001', 'PA-H004', 'PA-H010', 'PA-C001']);
    const histories = small.meters.filter((m) => some.has(m.id)).map((m) => m.history);
    const captures = histories.flatMap((h) => h.captures).sort((a, b) => a.openedAt - b.openedAt);
    for (const capture of [...captures, ...captures]) replayCapture(store, capture, profiles, context);
    const told = histories.flatMap((h) => h.tests.filter((t) => t.toldIn.length > 0)).length;
    const broken = histories.flatMap((h) =>
      h.tests.filter((t) => t.toldIn.length === 0 && t.brokenIn.length > 0),
    ).length;
    const kept = [...store.readings.pages({})].flat().length;
    expect(kept).toBeGreaterThanOrEqual(told);
    expect(kept).toBeLessThanOrEqual(told + broken);
  });
});
