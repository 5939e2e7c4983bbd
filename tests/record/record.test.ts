/** From an empty store to clear readings: people, lends, holds, decisions, and the versions that outlets are told. */
import { describe, expect, it } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import type { ReadingId } from '../../src/core/reading.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { assign, nameControl, release, strikeOut, undoDecision } from '../../src/record/deciding.ts';
import { judgeUnjudged } from '../../src/record/judge.ts';
import { addAppointments, lendMeter, takeBack, undoLend } from '../../src/record/lending.ts';
import { addPatient, changePatient, setTarget } from '../../src/record/people.ts';
import { putControl, putLot } from '../../src/record/registers.ts';
import type { Store } from '../../src/store/store.ts';
import { captureOf, stampAt, type ToldTest, type Visit } from '../intake/told-meter.ts';
import { tempStore } from '../store/temp-store.ts';

const profiles = loadProfiles('/nowhere');
const T0 = Date.UTC(2026, 0, 10, 9, 0, 0);
const DAY = 86_400_000;
const HOUR = 3_600_000;
const context = {
  now: instant(T0 + 60 * DAY),
  by: 'Tamsin',
  policy: { ...DEFAULT_POLICY, idCheck: 'mod11-10' as const },
};
const day = (n: number) => instant(T0 + n * DAY);

const test = (n: number, inr: string, rest: Partial<ToldTest> = {}): ToldTest => ({
  stamp: stampAt(T0 + n * DAY),
  inr,
  ...rest,
});

/** Reads a meter twice, an anchor before its tests and one after them, so that their times are sure. */
function read(store: Store, tests: readonly ToldTest[], rest: Partial<Visit> = {}): void {
  for (const [at, told] of [
    [-1, []],
    [50, tests],
  ] as const)
    replayCapture(store, captureOf({ at: instant(T0 + at * DAY + HOUR), tests: told, ...rest }), profiles, {
      now: context.now,
      actor: 'test',
      policy: context.policy,
    });
}

const all = (store: Store) => store.judged.list({});
const codes = (store: Store, i = 0): string[] => (all(store)[i]?.holds ?? []).map((h) => h.code);
const idOf = (store: Store, i = 0): ReadingId => all(store)[i]?.reading ?? ('' as ReadingId);
const versions = (store: Store): [string, number, string][] =>
  store.db
    .statement<{ reading_id: string; version: number; status: string }>('SELECT * FROM outgoing ORDER BY seq')
    .all()
    .map((r) => [r.reading_id, r.version, r.status]);

describe('without any person', () => {
  it('a store is a plain gateway: nothing waits, and every reading is told once', () => {
    const store = tempStore();
    read(store, [test(1, '2.5'), test(8, '>8.0')]);
    expect(all(store).map((j) => j.status)).toEqual(['settled', 'settled']);
    expect(versions(store).map(([, version, status]) => [version, status])).toEqual([
      [1, 'settled'],
      [1, 'settled'],
    ]);
  });
});

describe('a store of an older program', () => {
  it('has its readings judged once, as if they had just been taken in', () => {
    const store = tempStore();
    read(store, [test(1, '2.5'), test(8, '>8.0')]);
    const before = all(store);
    store.db.script('DELETE FROM judged; DELETE FROM outgoing');
    judgeUnjudged(store, context.policy, context.now);
    expect(all(store)).toEqual(before);
    store.db.script('DELETE FROM judged');
    judgeUnjudged(store, context.policy, context.now);
    expect(all(store)).toEqual([]);
  });
});

describe('with people', () => {
  it('asks of every reading whose it is from the first person on, also of those read before', () => {
    const store = tempStore();
    read(store, [test(1, '2.5')]);
    addPatient(store, context, { id: 'ALDER-017' });
    expect(all(store)[0]).toMatchObject({ status: 'held' });
    expect(codes(store)).toEqual(['person-unknown']);
  });

  it('gives readings of a lent meter to the person, and takes them away when the lend is taken back', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'ALDER-017' });
    const lend = lendMeter(store, context, { meterId: 'PA00042', patientId: 'ALDER-017', from: day(0) });
    read(store, [test(1, '2.5')]);
    expect(all(store)[0]).toMatchObject({ status: 'settled', basis: 'lent', patientNo: 1 });
    undoLend(store, context, lend.lendNo);
    expect(all(store)[0]).toMatchObject({ status: 'held', version: 2 });
    expect(all(store)[0]?.patientNo).toBeUndefined();
  });

  it('holds a reading whose time lies across a change of hands', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'ALDER-017' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'ALDER-017', from: day(0) });
    takeBack(store, context, 'PA00042', instant(T0 + DAY));
    read(store, [test(1, '2.5')]); // made within seconds of the meter's coming back
    expect(codes(store)).toEqual(['person-doubtful']);
  });

  it('refuses to lend a meter twice at a time', () => {
    const store = tempStore();
    for (const id of ['A', 'B']) addPatient(store, context, { id });
    lendMeter(store, context, { meterId: 'M', patientId: 'A', from: day(5), to: day(9) });
    expect(() => lendMeter(store, context, { meterId: 'M', patientId: 'B', from: day(8) })).toThrow(/lent to A/);
    expect(() => lendMeter(store, context, { meterId: 'M', patientId: 'B', from: day(0) })).toThrow(/lent to A/);
    lendMeter(store, context, { meterId: 'M', patientId: 'B', from: day(9) });
  });

  it('takes the id keyed into a shared meter where it passes its check, and lets an appointment only propose', () => {
    const store = tempStore();
    const good = addPatient(store, context, { id: 'ALDER-07945' });
    addPatient(store, context, { id: 'ALDER-07954' });
    read(store, [
      test(1, '2.5', { more: 'pid=ALDER-07945' }),
      test(2, '2.6', { more: 'pid=ALDER-07954' }),
      test(3, '2.7'),
    ]);
    expect(all(store).map((j) => [j.status, j.basis])).toEqual([
      ['settled', 'keyed'],
      ['held', undefined],
      ['held', undefined],
    ]);
    expect([codes(store, 1), codes(store, 2)]).toEqual([['person-unconfirmed'], ['person-unknown']]);
    addAppointments(store, context, [{ at: instant(T0 + 3 * DAY + 20 * 60_000), patientNo: good.patientNo }]);
    expect(all(store)[2]).toMatchObject({ status: 'held', proposedNo: good.patientNo });
    expect(codes(store, 2)).toEqual(['person-unconfirmed']);
    assign(store, context, [idOf(store, 2)], 'ALDER-07945', 'asked her');
    expect(all(store)[2]).toMatchObject({ status: 'settled', basis: 'confirmed', patientNo: good.patientNo });
  });

  it('judges a value by the target that was in force at its time', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    read(store, [test(1, '2.2'), test(8, '2.2'), test(9, '5.0'), test(10, '1.4')]);
    setTarget(store, context, 'A', { from: instant(0), low: '2.0', high: '3.0' });
    setTarget(store, context, 'A', { from: day(5), low: '2.5', high: '3.5' });
    expect(all(store).map((j) => j.standing)).toEqual(['in', 'below', 'critical-high', 'critical-low']);
    expect(() => setTarget(store, context, 'A', { from: day(5), low: '3.0', high: '2.0' })).toThrow(/no target range/);
  });

  it('keeps readings with the person whose id changes, and tells outlets of nothing but the id', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    read(store, [test(1, '2.2')]);
    changePatient(store, context, 'A', { id: 'B', name: 'R. Penrose' });
    expect(all(store)[0]).toMatchObject({ patientNo: 1, status: 'settled' });
    expect(versions(store).at(-1)).toEqual([idOf(store), 2, 'settled']);
    expect(() => changePatient(store, context, 'A', { id: 'A' })).toThrow(/no person "A"/);
  });
});

it('tells outlets the target range with what it is for, and with nothing else that the person measured', () => {
  const store = tempStore();
  addPatient(store, context, { id: 'A' });
  setTarget(store, context, 'A', { low: '2.0', high: '3.0', from: day(-9) });
  lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(0) });
  read(store, [
    test(1, '2.5'),
    test(2, '', { measured: 'a=GLU v=2.6 u=mmol/L' }),
    test(3, '', { measured: 'a=PT v=30.1 u=s a2=INR v2=2.6 u2={INR}' }),
  ]);
  const told = [...store.outgoing.compose(all(store).map((j) => j.reading)).values()].map(({ reading }) => reading);
  expect(told.map((r) => [r.values[0]?.analyte, r.patient?.id, r.standing, r.target])).toEqual([
    ['INR', 'A', 'in', { low: '2.0', high: '3.0' }],
    ['GLU', 'A', 'no-target', undefined],
    ['PT', 'A', 'in', { low: '2.0', high: '3.0' }],
  ]);
});

it('takes back the meter that is meant, where two models of one serial number are lent', () => {
  const store = tempStore();
  for (const [id, model] of [
    ['A', 'GM-10'],
    ['B', 'GM-20'],
  ] as const) {
    addPatient(store, context, { id });
    lendMeter(store, context, { meterId: 'PA00042', model, patientId: id, from: day(0) });
  }
  expect(() => takeBack(store, context, 'PA00042', day(5))).toThrow(/GM-10 and GM-20 are lent/);
  expect(takeBack(store, context, 'PA00042', day(5), 'GM-20')).toMatchObject({ patientNo: 2, to: day(5) });
  expect(takeBack(store, context, 'PA00042', day(6))).toMatchObject({ patientNo: 1, to: day(6) });
});

it('compares the INR with the course, wherever among the values of a test it stands', () => {
  const both = (n: number, pt: string, inr: string): ToldTest =>
    test(n, '', { measured: `a=PT v=${pt} u=s a2=INR v2=${inr} u2={INR}` });
  const store = tempStore();
  addPatient(store, context, { id: 'A' });
  lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(0) });
  read(store, [
    both(1, '29.0', '2.4'),
    both(8, '30.0', '2.5'),
    both(15, '30.5', '2.5'),
    both(22, '31.0', '2.6'),
    both(29, '31.5', '5.9'),
  ]);
  expect(all(store).map((j) => j.holds.map((h) => h.code))).toEqual([[], [], [], [], ['off-course']]);
  expect(all(store)[4]?.holds[0]?.sentence).toBe("INR 5.9 is far from this person's last values (about 2.5)");
});

it('says in the audit chain that a name or a note was changed, and never what it says: no row can be taken out', () => {
  const store = tempStore();
  addPatient(store, context, { id: 'A', name: 'Wilmot Quay', notes: 'rings on Mondays', planDays: 28 });
  changePatient(store, context, 'A', { id: 'A', name: 'Wilmot Quayle', notes: 'rings on Fridays', planDays: 14 });
  changePatient(store, context, 'A', { id: 'A', planDays: 14 });
  changePatient(store, context, 'A', { id: 'A', planDays: 7 });
  const rows = store.audit.list();
  expect(rows.map(({ action, detail }) => [action, JSON.parse(detail)])).toEqual([
    ['patient-added', { planDays: 28 }],
    ['patient-changed', { id: 'A', 'planDays was': 28, planDays: 14, 'name changed': true, 'notes changed': true }],
    ['patient-changed', { id: 'A', 'name changed': true, 'notes changed': true }],
    ['patient-changed', { id: 'A', 'planDays was': 14, planDays: 7 }],
  ]);
  expect(JSON.stringify(rows)).not.toMatch(/Wilmot|Quay|rings/);
});

describe('what an operator decides', () => {
  function held(): Store {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    read(store, [test(1, '>8.0')]);
    expect(codes(store)).toEqual(['off-scale']);
    return store;
  }

  it('lets a reading go on, and holds it again for a reason that comes later', () => {
    const store = held();
    release(store, context, [idOf(store)], 'laboratory agrees');
    expect(all(store)[0]).toMatchObject({ status: 'settled', version: 2 });
    putLot(store, context, { lot: 'OTHER' });
    expect(all(store)[0]?.status).toBe('held');
    expect(all(store)[0]?.holds.map((h) => [h.code, h.isReleased])).toEqual([
      ['off-scale', true],
      ['lot-unknown', false],
    ]);
    putLot(store, context, { lot: '1200003', expiry: '2027-03' });
    expect(all(store)[0]?.status).toBe('settled');
  });

  it('strikes out and takes back, and keeps a record of both that is audited', () => {
    const store = held();
    strikeOut(store, context, [idOf(store)], 'water drop');
    expect(all(store)[0]?.status).toBe('void');
    expect(() => strikeOut(store, context, [idOf(store)], 'again')).toThrow(/already/);
    undoDecision(store, context, idOf(store), 'wrong line');
    expect(all(store)[0]?.status).toBe('held');
    expect(() => undoDecision(store, context, idOf(store), '')).toThrow(/Nothing was decided/);
    expect(store.decisions.of([idOf(store)])).toMatchObject([{ kind: 'void', undone: { by: 'Tamsin' } }]);
    const actions = store.audit.list().map((a) => a.action);
    expect(actions.slice(-2)).toEqual(['reading-struck-out', 'decision-undone']);
    expect(store.audit.check().intact).toBe(true);
  });

  it('is all or nothing over several readings', () => {
    const store = held();
    expect(() => release(store, context, [idOf(store), 'D9-9' as ReadingId], 'ok')).toThrow(/no reading "D9-9"/);
    expect(all(store)[0]?.status).toBe('held');
    expect(() => release(store, context, [idOf(store)], '  ')).toThrow(/reason is needed/);
  });

  it('does not release a reading of which it is not known whose it is', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    read(store, [test(1, '2.5')]);
    expect(() => release(store, context, [idOf(store)], 'ok')).toThrow(/not known whose/);
    assign(store, context, [idOf(store)], undefined, 'demonstration');
    expect(all(store)[0]).toMatchObject({ status: 'settled' });
  });

  it('outlives a rebuild, which changes nothing of it', () => {
    const store = held();
    release(store, context, [idOf(store)], 'laboratory agrees');
    const before = all(store);
    const made = rebuild(store, profiles, { now: context.now, actor: 'test' }, { accept: true });
    expect(made.differences).toEqual([]);
    expect(all(store)).toEqual(before);
  });
});

describe('what follows from a change', () => {
  it('is judged again where the clinic changed its settings, once and audited', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'ALDER-07945' });
    read(store, [test(1, '2.5', { more: 'pid=ALDER-07945' })]);
    judgeUnjudged(store, context.policy, context.now);
    expect(all(store)[0]).toMatchObject({ status: 'settled', basis: 'keyed' });
    judgeUnjudged(store, { ...context.policy, idCheck: 'none' }, context.now);
    expect(all(store)[0]?.status).toBe('held');
    judgeUnjudged(store, { ...context.policy, idCheck: 'none' }, context.now);
    expect(store.audit.list().filter((a) => a.action === 'settings-changed')).toHaveLength(1);
  });

  it('is a hold on the next value where the values before it come to be that person’s only later', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    read(store, [test(1, '2.4'), test(2, '2.5'), test(3, '2.5'), test(4, '6.0')]);
    assign(store, context, [idOf(store, 3)], 'A', 'asked her');
    expect(all(store)[3]?.status).toBe('settled');
    for (const i of [0, 1, 2]) assign(store, context, [idOf(store, i)], 'A', 'asked her');
    expect(codes(store, 3)).toEqual(['off-course']);
    strikeOut(store, context, [idOf(store, 0)], 'water drop');
    expect(codes(store, 3)).toEqual([]);
  });

  it('is another look at a value that was usual for one person and is then said to be another’s', () => {
    const store = tempStore();
    for (const id of ['A', 'B']) addPatient(store, context, { id });
    read(store, [1, 2, 3, 4, 5, 6].map((n) => test(n, n % 2 === 0 ? '2.0' : '2.1')).concat(test(7, '6.0')));
    const ids = all(store).map((j) => j.reading);
    assign(store, context, ids.slice(0, 3), 'A', '');
    assign(store, context, ids.slice(3, 6), 'B', '');
    assign(store, context, ids.slice(6), 'A', '');
    release(store, context, ids.slice(6), 'she took an antibiotic');
    expect(all(store)[6]?.status).toBe('settled');
    assign(store, context, ids.slice(6), 'B', 'it was him');
    expect(all(store)[6]?.status).toBe('held');
  });

  it('refuses an id that cannot be seen', () => {
    const store = tempStore();
    for (const id of ['', ' A', 'A\n']) expect(() => addPatient(store, context, { id })).toThrow(/no id of a person/);
  });
});

describe('control tests', () => {
  it('that come in with a later download hold what was read before it', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    putControl(store, context, {
      lot: 'QC88',
      level: '2',
      analyte: 'INR',
      kind: 'liquid',
      mean: '3.0',
      sd: '0.1',
      rangeSd: 2,
    });
    // The meter tells the newest first, and the cable is pulled before the failed control.
    const tests = [test(1, '2.5'), test(3, '3.9', { kind: 'c' }), test(4, '2.5')];
    const visit = (at: number, cutAfter?: number) =>
      replayCapture(
        store,
        captureOf({ at: instant(T0 + at * DAY), tests, ...(cutAfter === undefined ? {} : { cutAfter }) }),
        profiles,
        { now: context.now, actor: 'test', policy: context.policy },
      );
    replayCapture(store, captureOf({ at: day(-1), tests: [] }), profiles, {
      now: context.now,
      actor: 'test',
      policy: context.policy,
    });
    visit(5, 1);
    expect(all(store).map((j) => j.holds.map((h) => h.code))).toEqual([[]]);
    visit(6);
    expect(all(store).map((j) => [j.kind, j.holds.map((h) => h.code)])).toEqual([
      ['patient', []],
      ['control', []],
      ['patient', ['control-failed']],
    ]);
    expect(() => assign(store, context, [idOf(store, 1)], 'A', '')).toThrow(/is a control test/);
  });

  it('hold what the meter measured with the lot between one that failed and the next good one', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    putControl(store, context, {
      lot: 'QC88',
      level: '2',
      analyte: 'INR',
      kind: 'liquid',
      mean: '3.0',
      sd: '0.1',
      rangeSd: 2,
    });
    read(store, [
      test(1, '3.0', { kind: 'c' }),
      test(2, '2.5'),
      test(3, '3.9', { kind: 'c' }),
      test(4, '2.5'),
      test(5, '2.5', { more: 'lot=1200004' }),
      test(6, '3.1', { kind: 'c' }),
      test(7, '2.5'),
    ]);
    const patients = all(store).filter((j) => j.kind === 'patient');
    expect(patients.map((j) => j.holds.map((h) => h.code))).toEqual([[], ['control-failed'], [], []]);
  });

  it('are judged anew when an operator says which control one was', () => {
    const store = tempStore();
    addPatient(store, context, { id: 'A' });
    lendMeter(store, context, { meterId: 'PA00042', patientId: 'A', from: day(-1) });
    const common = { analyte: 'INR', kind: 'liquid' as const, sd: '0.1', rangeSd: 2 };
    putControl(store, context, { ...common, lot: 'QC88', level: '1', mean: '1.1' });
    const two = putControl(store, context, { ...common, lot: 'QC88', level: '2', mean: '3.0' });
    read(store, [test(1, '1.1', { kind: 'c' }), test(2, '2.5')]);
    const clear = () => all(store).find((j) => j.kind === 'patient')?.status;
    expect(clear()).toBe('settled');
    nameControl(store, context, idOf(store, 0), two);
    expect(clear()).toBe('held');
    undoDecision(store, context, idOf(store, 0), 'it was level 1');
    expect(clear()).toBe('settled');
  });
});
