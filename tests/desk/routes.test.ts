/** What the desk answers of people, what waits and the house, over a store of Port Alder; and that each change is signed and can be taken back. */
import { beforeEach, describe, expect, it, onTestFinished } from 'vitest';
import type { MeterPage, MetersPage } from '../../src/desk/api/house.ts';
import type { PeopleList, PersonPage } from '../../src/desk/api/people.ts';
import type { WaitingList } from '../../src/desk/api/waiting.ts';
import type { Store } from '../../src/store/store.ts';
import { METER, NAME, NOW, PATIENT, seededStore } from '../reports/seeded.ts';
import { tempFolder } from '../store/temp-store.ts';
import { type Answer, type AtDesk, testDesk } from '../support/desk.ts';

let store: Store;
let tamsin: AtDesk;

beforeEach(async () => {
  store = seededStore();
  const desk = await testDesk({ store, folder: tempFolder(), now: () => NOW });
  onTestFinished(() => desk.close());
  tamsin = await desk.as('work');
});

const bodyOf = async <T>(path: string): Promise<T> => {
  const { status, body } = await tamsin.ask('GET', path);
  expect(status).toBe(200);
  return body as T;
};
const codeOf = ({ body }: Answer): string => (body as { error: { code: string } }).error.code;
const waiting = () => bodyOf<WaitingList>('/api/waiting');
const person = () => bodyOf<PersonPage>(`/api/people/${PATIENT}`);
const lastAudit = () => store.audit.list().at(-1);

describe('what waits', () => {
  it('is told with its evidence, critical values first', async () => {
    const { total, items } = await waiting();
    expect(total).toBe(store.judged.countHeld());
    expect(items).toHaveLength(total);
    const critical = items.map((i) => i.isCritical);
    expect(critical).toEqual([...critical].sort((a, b) => Number(b) - Number(a)));
    const six = items.find((i) => i.values[0]?.value === '6.1');
    expect(six).toMatchObject({ isCritical: true, person: { id: PATIENT, name: NAME }, meterId: METER });
    expect(six?.evidence.target).toEqual({ low: 2, high: 3 });
    // Of the last values 3.3 was struck out.
    expect(six?.evidence.lastValues.map((v) => v.value)).toEqual([2.3, 1.8, 2.2, 2.9, 2.6, 2.4]);
    expect(six?.evidence.holders).toMatchObject([{ id: PATIENT }]);
  });

  it('goes on once released, with the operator’s name, and waits again when that is taken back', async () => {
    const before = await waiting();
    const one = before.items.find((i) => i.values[0]?.value === '6.1');
    const readings = [one?.readingId];
    const done = await tamsin.ask('POST', '/api/readings/release', { readings, reason: 'repeated, the same' });
    expect(done.body).toEqual({ decided: 1, waiting: before.total - 1 });
    expect(lastAudit()).toMatchObject({ actor: 'work', action: 'reading-released' });
    expect(codeOf(await tamsin.ask('POST', '/api/readings/release', { readings, reason: 'again' }))).toBe(
      'NOT_POSSIBLE',
    );
    await tamsin.ask('POST', '/api/readings/undo', { readings, reason: 'wrong line' });
    expect(await waiting()).toEqual(before);
  });

  it('is released with a reason or not at all, and an unknown reading is said', async () => {
    const [one] = (await waiting()).items;
    const ask = (readings: unknown[], reason: string) =>
      tamsin.ask('POST', '/api/readings/release', { readings, reason });
    expect(codeOf(await ask([one?.readingId], '  '))).toBe('NOT_POSSIBLE');
    expect(codeOf(await ask(['D99-1'], 'seen'))).toBe('READING_UNKNOWN');
    expect(codeOf(await ask([], 'seen'))).toBe('REQUEST_WRONG');
    expect(codeOf(await tamsin.ask('GET', '/api/waiting?limit=100000'))).toBe('REQUEST_WRONG');
  });

  it('is decided for all readings of a request or for none', async () => {
    const { total, items } = await waiting();
    const readings = [items[0]?.readingId, 'D99-1'];
    expect(codeOf(await tamsin.ask('POST', '/api/readings/strike-out', { readings, reason: 'wrong' }))).toBe(
      'READING_UNKNOWN',
    );
    expect((await waiting()).total).toBe(total);
  });

  it('can be said to be somebody’s, or nobody’s of ours', async () => {
    await tamsin.ask('POST', '/api/people', { id: 'ALDER-030', name: 'Jory Pascoe' });
    const id = (await waiting()).items[0]?.readingId;
    await tamsin.ask('POST', '/api/readings/assign', { readings: [id], patientId: 'ALDER-030', reason: 'asked' });
    expect((await waiting()).items.find((i) => i.readingId === id)?.person?.id ?? 'ALDER-030').toBe('ALDER-030');
    expect(store.judged.of([id as never])[0]?.patientNo).toBe(store.patients.find('ALDER-030')?.patientNo);
    await tamsin.ask('POST', '/api/readings/assign', { readings: [id], patientId: null, reason: 'a visitor' });
    expect(store.judged.of([id as never])[0]?.patientNo).toBeUndefined();
    expect(
      codeOf(await tamsin.ask('POST', '/api/readings/assign', { readings: [id], patientId: 'X', reason: '' })),
    ).toBe('PATIENT_UNKNOWN');
  });
});

describe('people', () => {
  it('are found by any words of name and id, accents and case ignored, with how they stand', async () => {
    await tamsin.ask('POST', '/api/people', { id: 'ALDER-031', name: 'Ávila Tregéar' });
    const found = await bodyOf<PeopleList>('/api/people?search=TREGEAR%20avi');
    expect(found.rows.map((r) => r.id)).toEqual(['ALDER-031']);
    const all = await bodyOf<PeopleList>('/api/people');
    expect(all.total).toBe(2);
    const ines = all.rows.find((r) => r.id === PATIENT);
    expect(ines).toMatchObject({ name: NAME, target: { low: '2.0', high: '3.0' }, meters: [METER] });
    expect(ines?.last?.value).toBe(2.8); // the two after it wait: their times are wide
    expect(ines?.waiting).toBe(store.judged.countHeldOf(store.patients.find(PATIENT)?.patientNo ?? 0));
    expect((await bodyOf<PeopleList>('/api/people?offset=1&limit=1')).rows).toHaveLength(1);
    expect((await bodyOf<PeopleList>('/api/people?search=nobody')).total).toBe(0);
  });

  it('have a page with course, holds, what is new, and what was entered', async () => {
    const page = await person();
    expect(page.report.patient).toMatchObject({ id: PATIENT, name: NAME });
    expect(page.report.course.tests.length).toBeGreaterThan(10);
    expect(page.targetNos).toHaveLength(page.report.targets.length);
    expect(Object.values(page.holds).flat()).toContain('off-course');
    expect(page.newReadings).toHaveLength(2);
    expect(codeOf(await tamsin.ask('GET', '/api/people/X'))).toBe('PATIENT_UNKNOWN');
  });

  it('are changed with their whole facts, and the id of another is refused', async () => {
    await tamsin.ask('POST', '/api/people', { id: 'ALDER-032' });
    await tamsin.ask('PUT', '/api/people/ALDER-032', {
      id: 'ALDER-032',
      name: 'A. Newcomer',
      planDays: 7,
      since: '2026-03-01',
    });
    expect(store.patients.find('ALDER-032')).toMatchObject({ name: 'A. Newcomer', planDays: 7 });
    expect(codeOf(await tamsin.ask('PUT', '/api/people/ALDER-032', { id: PATIENT }))).toBe('NOT_POSSIBLE');
    expect(codeOf(await tamsin.ask('POST', '/api/people', { id: PATIENT }))).toBe('NOT_POSSIBLE');
    expect(codeOf(await tamsin.ask('POST', '/api/people', { id: 'ALDER-033', since: 'yesterday' }))).toBe(
      'REQUEST_WRONG',
    );
  });

  it.each([
    [
      'a target',
      'targets',
      { low: '2,5', high: '3.5', from: '2026-06-01' },
      (p: PersonPage) => p.report.targets.length,
      (no: number) => `/api/people/${PATIENT}/targets/${no}`,
    ],
    [
      'a laboratory value',
      'lab',
      { at: '2026-06-01 09:00', value: '2,4' },
      (p: PersonPage) => p.lab.length,
      (no: number) => `/api/lab/${no}`,
    ],
  ])('%s is entered as people write it, signed, and taken back', async (_, path, body, count, undo) => {
    const before = count(await person());
    const { body: made } = await tamsin.ask('POST', `/api/people/${PATIENT}/${path}`, body);
    expect(lastAudit()?.actor).toBe('work');
    expect(count(await person())).toBe(before + 1);
    expect((await tamsin.ask('DELETE', undo((made as { no: number }).no))).status).toBe(200);
    expect(count(await person())).toBe(before);
    expect(codeOf(await tamsin.ask('DELETE', undo((made as { no: number }).no)))).toBe('NOT_POSSIBLE');
  });

  it('are lent meters, which come back, and a lend is undone as if it had never been', async () => {
    const { body } = await tamsin.ask('POST', '/api/lends', {
      meterId: 'PA00099',
      patientId: PATIENT,
      from: '2026-06-01',
    });
    expect(codeOf(await tamsin.ask('POST', '/api/lends', { meterId: 'PA00099', patientId: PATIENT }))).toBe(
      'NOT_POSSIBLE',
    );
    await tamsin.ask('POST', '/api/lends/take-back', { meterId: 'PA00099', at: '2026-06-10' });
    expect((await person()).lends.find((l) => l.meterId === 'PA00099')?.to).toBeDefined();
    await tamsin.ask('DELETE', `/api/lends/${(body as { no: number }).no}`);
    expect((await person()).lends.map((l) => l.meterId)).toEqual([METER]);
  });

  it('stand on the day’s list of appointments, entered one by one or as a table with a trial', async () => {
    const day = async (): Promise<unknown> => (await tamsin.ask('GET', '/api/appointments?day=2026-06-22')).body;
    await tamsin.ask('POST', '/api/appointments', { at: '2026-06-22 09:45', patientId: PATIENT });
    expect(await day()).toMatchObject({ rows: [{ id: PATIENT, name: NAME, at: Date.UTC(2026, 5, 22, 8, 45) }] });
    await tamsin.ask('POST', '/api/appointments/remove', { at: '2026-06-22 09:45', patientId: PATIENT });
    expect(await day()).toMatchObject({ rows: [] });
    const csv = `time,patient_id\n2026-06-22 10:00,${PATIENT}\n`;
    expect((await tamsin.ask('POST', '/api/appointments/import', { csv, isTrial: true })).body).toMatchObject({
      rows: [{ fate: 'added' }],
    });
    expect(await day()).toMatchObject({ rows: [] });
    await tamsin.ask('POST', '/api/appointments/import', { csv, isTrial: false });
    expect(await day()).toMatchObject({ rows: [{ id: PATIENT }] });
    expect(
      codeOf(await tamsin.ask('POST', '/api/appointments/import', { csv: `${csv}nonsense,X\n`, isTrial: false })),
    ).toBe('IMPORT_WRONG');
    const long = csv + 'a,\n'.repeat(200_000);
    const refused = await tamsin.ask('POST', '/api/appointments/import', { csv: long, isTrial: true });
    expect(refused.body).toMatchObject({ error: { message: expect.stringContaining('more than 10000 rows') } });
  });
});

describe('the house', () => {
  it('tells of meters, one of them with its downloads, its clock and what happened', async () => {
    const { meters } = await bodyOf<MetersPage>('/api/meters');
    expect(meters.map((m) => m.meterId)).toEqual([METER]);
    const page = await bodyOf<MeterPage>(`/api/meters/${METER}`);
    expect(page.downloads.length).toBe(store.downloads.list().length);
    expect(page.incidents.map((i) => i.kind)).toContain('power-loss');
    expect(page.tests).toHaveLength(store.judged.list({}).length);
    expect(codeOf(await tamsin.ask('GET', '/api/meters/X'))).toBe('METER_UNKNOWN');
  });

  it('takes strip lots and control materials, and refuses what is none', async () => {
    await tamsin.ask('PUT', '/api/lots', { lot: '4471903', expiry: '2027-03', isi: '1,02' });
    expect((await bodyOf<{ lot: string; isi?: string }[]>('/api/lots')).find((l) => l.lot === '4471903')?.isi).toBe(
      '1.02',
    );
    expect(codeOf(await tamsin.ask('PUT', '/api/lots', { lot: '1', expiry: 'soon' }))).toBe('NOT_POSSIBLE');
    const { status } = await tamsin.ask('PUT', '/api/controls/levels', {
      lot: 'QC7731',
      level: '1',
      mean: '1.2',
      sd: '0.06',
    });
    expect(status).toBe(200);
    expect(codeOf(await tamsin.ask('PUT', '/api/controls/levels', { lot: 'QC7731', level: '2' }))).toBe('NOT_POSSIBLE');
    expect(await bodyOf('/api/controls')).toMatchObject({ levels: [{ lot: 'QC7731', level: '1', kind: 'liquid' }] });
  });

  it('tells of the comparison and the month, and of a month that is none', async () => {
    expect(await bodyOf('/api/comparison')).toMatchObject({ comparisons: [] });
    expect(await bodyOf('/api/month?month=2026-05')).toMatchObject({ month: '2026-05', people: 1 });
    expect((await tamsin.ask('GET', '/api/month?month=May')).status).toBe(400);
  });

  it.each(['visit/PA00042', 'visit/PA00042?lang=de', `person/${PATIENT}`, 'meters', 'controls', 'comparison', 'month'])(
    'prints %s as one page without script, the name escaped',
    async (path) => {
      const { status, body, headers } = await tamsin.ask('GET', `/print/${path}`);
      expect(status).toBe(200);
      expect(body).toMatch(/^<!doctype html>/);
      expect(body).not.toContain('<b>Calloway');
      expect(headers.get('content-security-policy')).toContain("default-src 'none'");
    },
  );
});
