/** What pages are told by themselves: a real download as it goes, what others write, and no more once nobody listens. */
import { describe, expect, it, onTestFinished } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import type { DeskStatus } from '../../src/desk/api/live.ts';
import { addPatient } from '../../src/record/people.ts';
import { openStore } from '../../src/store/open-store.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';
import { testDesk } from '../support/desk.ts';
import { serveMeter } from '../support/served-meter.ts';
import { until } from '../support/until.ts';

interface Heard {
  readonly statuses: DeskStatus[];
  readonly changes: number[];
  readonly ended: Promise<void>;
  close(): void;
}

/** Listens as a page does. */
async function listen(url: string, cookie: string): Promise<Heard> {
  const stop = new AbortController();
  const answer = await fetch(new URL('/api/live', url), { headers: { cookie }, signal: stop.signal });
  const statuses: DeskStatus[] = [];
  const changes: number[] = [];
  const read = async (): Promise<void> => {
    let text = '';
    try {
      for await (const chunk of answer.body ?? []) {
        text += Buffer.from(chunk).toString();
        for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
          const event = text.slice(0, end);
          text = text.slice(end + 2);
          const data = /^data: (.*)$/m.exec(event)?.[1];
          if (/^event: status$/m.test(event) && data) statuses.push(JSON.parse(data));
          if (/^event: changed$/m.test(event) && data) changes.push(JSON.parse(data).n);
        }
      }
    } catch {
      // closed by this side
    }
  };
  return { statuses, changes, ended: read(), close: () => stop.abort() };
}

async function setting() {
  const folder = tempFolder();
  const store = tempStore(folder);
  const meter = await serveMeter({ held: 20, id: 'PA-T001' });
  const desk = await testDesk({ store, folder });
  onTestFinished(async () => {
    await desk.close();
    await meter.close();
  });
  const rosa = await desk.as('manage');
  return { folder, store, meter, desk, rosa };
}

describe('a page that listens', () => {
  it('hears of a dock that is assigned, of the reading and of its end, with the tally in the order of the memory', async () => {
    const { desk, rosa, meter } = await setting();
    const heard = await listen(desk.url, rosa.cookie);
    await until(() => heard.statuses.length > 0);
    expect(heard.statuses[0]).toMatchObject({ docks: [], waiting: 0 });
    const { status } = await rosa.ask('POST', '/api/docks', { name: 'front desk', port: meter.where });
    expect(status).toBe(200);
    await until(() => heard.statuses.at(-1)?.docks[0]?.last !== undefined);
    const last = heard.statuses.at(-1)?.docks[0]?.last;
    expect(last).toMatchObject({ meterId: 'PA-T001', new: 20, known: 0, complete: true, open: 0, isTorn: false });
    expect(last?.tally).toHaveLength(20);
    expect(last?.tally.every((place) => place.isNew)).toBe(true);
    await until(() => (heard.changes.at(-1) ?? 0) > 0);
    heard.close();
  });

  it('hears of what another program writes into the store', async () => {
    const { desk, rosa, folder } = await setting();
    const heard = await listen(desk.url, rosa.cookie);
    await until(() => heard.changes.length > 0);
    const before = heard.changes.at(-1) ?? 0;
    const other = openStore({ dir: folder, now: instant(Date.now()) });
    addPatient(other, { now: instant(Date.now()), by: 'IT', policy: DEFAULT_POLICY }, { id: 'ALDER-050' });
    other.close();
    await until(() => (heard.changes.at(-1) ?? 0) > before);
    heard.close();
  });

  it('hears no more once it is locked', async () => {
    const { desk, rosa } = await setting();
    const heard = await listen(desk.url, rosa.cookie);
    await until(() => heard.statuses.length > 0);
    await rosa.ask('POST', '/api/sign-out', {});
    await heard.ended;
    expect((await fetch(new URL('/api/live', desk.url), { headers: { cookie: rosa.cookie } })).status).toBe(401);
  });
});

describe('a dock', () => {
  it('that is taken away is watched no more, and the others go on', async () => {
    const { desk, rosa, meter } = await setting();
    await rosa.ask('POST', '/api/docks', { name: 'front desk', port: meter.where });
    await rosa.ask('POST', '/api/docks', { name: 'room 2', port: 'tcp://127.0.0.1:1' });
    expect(desk.daemon.status().docks.map((d) => d.name)).toEqual(['front desk', 'room 2']);
    await rosa.ask('DELETE', '/api/docks/room%202');
    expect(desk.daemon.status().docks.map((d) => d.name)).toEqual(['front desk']);
    expect((await rosa.ask('DELETE', '/api/docks/room%202')).status).toBe(409);
  });
});

describe('the virtual meter', () => {
  it('is read like any other, counts for nobody, and is refused once a real one was read', async () => {
    const { desk, rosa, meter, store } = await setting();
    expect((await rosa.ask('POST', '/api/virtual', {})).status).toBe(200);
    await until(() => store.readings.count(1) > 0);
    await until(() => store.judged.list({}).every((j) => j.status === 'void'));
    expect((await rosa.ask('POST', '/api/virtual/end', {})).status).toBe(200);
    expect(desk.daemon.status().docks).toEqual([]);
    await rosa.ask('POST', '/api/docks', { name: 'front desk', port: meter.where });
    await until(() => store.meters.list('PA-T001').length > 0);
    expect((await rosa.ask('POST', '/api/virtual', {})).status).toBe(409);
  });
});
