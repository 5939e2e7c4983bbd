/**
 * What is asked of the desk: the real server over a real store, asked by somebody who may do everything. An input is
 * `METHOD PATH?QUERY` on its first line, and the body below. Signing in, docks, and backups are not among them: they take
 * their time by intention, open ports, or write files.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { FAULT_CODES } from '../../../src/core/fault.ts';
import type { DeskError } from '../../../src/desk/api/state.ts';
import { openStore } from '../../../src/store/open-store.ts';
import { type TestDesk, testDesk } from '../../support/desk.ts';
import { T0 } from '../drive-talk.ts';
import { promise, type Target, textOf } from '../target.ts';

/** A desk, the session of who asks, and how it is taken down. */
interface Asked {
  readonly desk: TestDesk;
  readonly cookie: string;
  close(): Promise<void>;
}

let asked: Promise<Asked> | undefined;

async function openAsked(): Promise<Asked> {
  const folder = mkdtempSync(join(tmpdir(), 'tallydock-fuzz-'));
  const store = openStore({ dir: folder, now: T0 });
  const desk = await testDesk({ store, folder, now: () => T0 });
  const { cookie, ask } = await desk.as('manage');
  await ask('POST', '/api/people', { id: 'PA-1', name: 'Ines Corvo' });
  return {
    desk,
    cookie,
    async close() {
      await desk.close();
      store.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

const METHODS = ['GET', 'POST', 'PUT', 'DELETE'];
/** Prefixes that are left alone, see above. */
const APART = /^\/api\/(sign|operators|first|docks?|virtual|outlets?|backup|live)/i;

async function ask(bytes: Uint8Array): Promise<void> {
  asked ??= openAsked();
  const { desk, cookie } = await asked;
  const text = textOf(bytes);
  const end = text.indexOf('\n') < 0 ? text.length : text.indexOf('\n');
  const [said = '', where = ''] = text.slice(0, end).split(' ');
  const method = METHODS.includes(said) ? said : 'POST';
  const url = new URL(desk.url);
  const [path = '', query = ''] = where.split('?');
  url.pathname = path;
  url.search = query;
  if (APART.test(decodeLoosely(url.pathname))) return;
  const answer = await fetch(url, {
    method,
    headers: { 'x-tallydock': '1', cookie, 'content-type': 'application/json' },
    ...(method === 'GET' ? {} : { body: Buffer.from(bytes.subarray(end + 1)) }),
  });
  const told = await answer.text();
  promise(answer.status < 500, `no request makes the desk fail: ${answer.status} ${told.slice(0, 300)}`);
  // Node itself refuses a head that is too long, before the desk hears of it, and says no more than that.
  if (answer.status === 431) return promise(url.href.length > 8192, 'only a long address is too long');
  if (answer.status < 400 || !url.pathname.startsWith('/api/')) return;
  const { code } = (JSON.parse(told) as Partial<DeskError>).error ?? {};
  promise(
    FAULT_CODES.some((known) => known === code),
    `a refusal has a known code, not ${code}`,
  );
}

function decodeLoosely(path: string): string {
  try {
    return decodeURIComponent(path);
  } catch {
    return path;
  }
}

/** All targets of the desk. */
export const deskTargets: readonly Target[] = [
  {
    name: 'desk',
    corpus: [
      'GET /api/people?search=Ines&offset=0&limit=100',
      'POST /api/people\n{"id":"PA-2","name":"Tom Sorrel","birthYear":1950,"reason":"valve","notes":"","planDays":7,"since":"2026-01-02"}',
      'PUT /api/people/PA-1\n{"id":"PA-1","name":"Ines Corvo","left":"2026-02-01"}',
      'GET /api/people/PA-1',
      'POST /api/people/PA-1/targets\n{"low":"2,0","high":"3.0","from":"2026-01-02"}',
      'DELETE /api/people/PA-1/targets/1',
      'POST /api/people/PA-1/lab\n{"at":"2026-02-03 08:00","value":"2.4","analyte":"INR","laboratory":"Harbour Laboratory"}',
      'DELETE /api/lab/1',
      'POST /api/lends\n{"meterId":"SN00042","patientId":"PA-1","from":"2026-01-02","until":"2026-02-02"}',
      'POST /api/lends/take-back\n{"meterId":"SN00042","at":"2026-02-03 08:00"}',
      'DELETE /api/lends/1',
      'GET /api/appointments?day=2026-03-02',
      'POST /api/appointments\n{"at":"2026-03-02 10:15","patientId":"PA-1"}',
      'POST /api/appointments/remove\n{"at":"2026-03-02 10:15","patientId":"PA-1"}',
      'POST /api/appointments/import\n{"csv":"time,patient_id\\n2026-03-02 10:30,PA-1\\n","isTrial":true}',
      'GET /api/meters/SN00042?model=GM-10',
      'PUT /api/lots\n{"lot":"1200003","expiry":"2027-01-31","code":"0042","isi":"1,00","mnpt":"12.0"}',
      'PUT /api/controls/levels\n{"lot":"C1","level":"1","analyte":"INR","kind":"liquid","low":"0.9","high":"1.3","rangeSd":2}',
      'GET /api/comparison',
      'GET /api/month?month=2026-02',
      'GET /api/waiting?offset=0&limit=200',
      'POST /api/readings/assign\n{"readings":["r1"],"patientId":"PA-1","reason":"asked"}',
      'POST /api/readings/release\n{"readings":["r1","r2"],"reason":"asked"}',
      'POST /api/readings/undo\n{"readings":["r1"],"reason":"asked"}',
      'POST /api/controls/name\n{"readingId":"r1","levelNo":1}',
      'GET /print/person/PA-1?from=2026-01-01',
      'GET /print/visit/SN00042',
    ],
    words: [
      ...[
        'null',
        '[]',
        '{}',
        '""',
        '1e999',
        '-1',
        '"\\u0000"',
        '"\\ud800"',
        '"__proto__":{}',
        'PA-1',
        '%00',
        '%2e%2e/',
      ],
      ...['"id":', '"from":"2026-03-29 01:30"', '"at":"9999-12-31"', '"since":"0000-01-01"', '<b>', '?limit=1e3', '&'],
      ...['"value":"1e9"', '"value":"-0"', '"low":"3","high":"2"', '"levelNo":9007199254740993', '/0', '/-1'],
    ],
    check: (bytes) => ask(bytes),
    async close() {
      await (await asked)?.close();
      asked = undefined;
    },
  },
];
