/** What somebody tries who should not be at the desk: another site's page, a forged address, a stolen session, hostile input. */

import { mkdtempSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { MAX_BODY_BYTES } from '../../src/desk/read-request.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { type AtDesk, type TestDesk, testDesk } from '../support/desk.ts';

let folder = '';
let store: Store;
let desk: TestDesk;
let rosa: AtDesk;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tallydock-attack-'));
  store = openStore({ dir: folder, now: instant(Date.now()) });
  desk = await testDesk({ store, folder });
  rosa = await desk.as('manage');
});
afterAll(async () => {
  await desk.close();
  store.close();
  rmSync(folder, { recursive: true, force: true });
});

const NEW = JSON.stringify({ id: 'ALDER-666' });
const HEADERS = { 'x-tallydock': '1', 'content-type': 'application/json' };

/** Sends bytes as they are; gives all that comes back, or what came before the line was cut. */
function raw(text: string): Promise<string> {
  const { hostname, port } = new URL(desk.url);
  return new Promise((resolve) => {
    const socket = connect(Number(port), hostname, () => socket.write(text));
    let said = '';
    socket.on('data', (chunk) => {
      said += chunk.toString();
    });
    socket.on('error', () => resolve(said));
    socket.on('close', () => resolve(said));
    setTimeout(() => socket.destroy(), 2000).unref();
  });
}

const statusOf = (said: string): number => Number(/^HTTP\/1\.1 (\d+)/.exec(said)?.[1] ?? 0);
const wasAdded = (): boolean => store.patients.find('ALDER-666') !== undefined;

describe('another site’s page', () => {
  it.each([
    ['its origin', { ...HEADERS, origin: 'https://gulls.example' }],
    ['an origin without a name', { ...HEADERS, origin: 'null' }],
    ['the same host on another port', { ...HEADERS, origin: 'http://127.0.0.1:1' }],
    ['what the browser says of where it comes from', { ...HEADERS, 'sec-fetch-site': 'cross-site' }],
    ['a neighbour’s site', { ...HEADERS, 'sec-fetch-site': 'same-site' }],
    ['the header that only the desk’s page sends', { 'content-type': 'application/json' }],
    ['a form instead of JSON', { 'x-tallydock': '1', 'content-type': 'application/x-www-form-urlencoded' }],
    ['plain text instead of JSON', { 'x-tallydock': '1', 'content-type': 'text/plain' }],
  ])('is told apart by %s, although the browser adds the cookie', async (_, headers) => {
    const answer = await fetch(new URL('/api/people', desk.url), {
      method: 'POST',
      headers: { ...headers, cookie: rosa.cookie },
      body: NEW,
    });
    expect([400, 403]).toContain(answer.status);
    expect(wasAdded()).toBe(false);
  });

  it('may not read an answer: nothing allows another origin', async () => {
    const answer = await fetch(new URL('/api/state', desk.url), { headers: { origin: 'https://gulls.example' } });
    expect(answer.headers.get('access-control-allow-origin')).toBeNull();
    expect(answer.headers.get('cross-origin-resource-policy')).toBe('same-origin');
  });

  it('may not frame the desk, nor may anything foreign run in it', async () => {
    const csp = (await fetch(desk.url)).headers.get('content-security-policy') ?? '';
    for (const part of ["default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"])
      expect(csp).toContain(part);
    expect(csp).not.toMatch(/unsafe|\*|https?:/);
  });
});

describe('a forged address', () => {
  it.each([
    'gulls.example',
    'gulls.example:80',
    '127.0.0.1.gulls.example',
    'localhost.gulls.example',
    '',
    '[::ffff:7f00:1]',
  ])('is refused: Host "%s"', async (host) => {
    const said = await raw(`GET /api/state HTTP/1.1\r\nHost: ${host}\r\nConnection: close\r\n\r\n`);
    expect([400, 403]).toContain(statusOf(said));
    expect(said).not.toContain('isFirstRun');
  });

  it.each(['127.0.0.1', 'localhost', '127.0.0.1:4780', 'LOCALHOST'])(
    'a loopback one is answered: Host "%s"',
    async (host) => {
      const said = await raw(`GET /api/state HTTP/1.1\r\nHost: ${host}\r\nConnection: close\r\n\r\n`);
      expect(statusOf(said)).toBe(200);
    },
  );
});

describe('a path', () => {
  it.each([
    '/../../../../etc/passwd',
    '/..%2f..%2f..%2fetc%2fpasswd',
    '/%2e%2e/%2e%2e/config.toml',
    '/..%5c..%5cconfig.toml',
    '/..%252f..%252fconfig.toml',
    '/assets/../../app.js',
    '/assets/..\\..\\app.js',
    '/.git/config',
    '/config.toml',
    '/tallydock.db',
    '/assets/',
    '/%00',
    '//etc/passwd',
  ])('that leaves the page finds nothing: %s', async (path) => {
    const said = await raw(`GET ${path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n`);
    expect([400, 404]).toContain(statusOf(said));
    expect(said).not.toMatch(/root:|zone =|SQLite format|import /);
  });

  it('that the desk does not know is an error as JSON', async () => {
    expect(await rosa.ask('GET', '/api/nothing')).toMatchObject({
      status: 400,
      body: { error: { code: 'REQUEST_WRONG' } },
    });
    expect(await desk.nobody.ask('GET', '/api/people/../state')).toMatchObject({ status: 200 }); // the browser’s own doing
  });
});

describe('a body', () => {
  it('that is too long is refused before it is read', async () => {
    const long = JSON.stringify({ id: 'ALDER-666', notes: 'x'.repeat(MAX_BODY_BYTES) });
    const said = await raw(
      `POST /api/people HTTP/1.1\r\nHost: 127.0.0.1\r\nx-tallydock: 1\r\ncontent-type: application/json\r\ncookie: ${rosa.cookie}\r\n` +
        `Content-Length: ${long.length}\r\nConnection: close\r\n\r\n${long.slice(0, 1000)}`,
    );
    expect(statusOf(said)).toBe(400);
    expect(wasAdded()).toBe(false);
  });

  it('whose length is not told is refused', async () => {
    const said = await raw(
      `POST /api/people HTTP/1.1\r\nHost: 127.0.0.1\r\nx-tallydock: 1\r\ncontent-type: application/json\r\ncookie: ${rosa.cookie}\r\n` +
        `Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n${NEW.length.toString(16)}\r\n${NEW}\r\n0\r\n\r\n`,
    );
    expect(statusOf(said)).toBe(400);
    expect(wasAdded()).toBe(false);
  });

  it.each([
    ['no JSON', '{"id": '],
    ['an array', '[]'],
    ['null', 'null'],
    ['a number', '7'],
    ['the prototype', '{"__proto__": {"id": "ALDER-666"}}'],
    ['a constructor', '{"constructor": {"prototype": {"role": "manage"}}, "id": "ALDER-666"}'],
    ['an unknown field', '{"id": "ALDER-666", "role": "manage"}'],
    ['a number for a text', '{"id": 666}'],
    ['a control character in the id', '{"id": "ALDER-6\\u00006"}'],
  ])('that is %s is refused, and nothing is changed', async (_, body) => {
    const answer = await fetch(new URL('/api/people', desk.url), {
      method: 'POST',
      headers: { ...HEADERS, cookie: rosa.cookie },
      body,
    });
    expect([400, 409]).toContain(answer.status);
    expect(wasAdded()).toBe(false);
    expect(({} as Record<string, unknown>)['role']).toBeUndefined();
  });
});

describe('a session', () => {
  it('is never the one that somebody else had put into the browser', async () => {
    const planted = 'desk=planted-by-somebody-else-000000000000000000';
    const answer = await fetch(new URL('/api/sign-in', desk.url), {
      method: 'POST',
      headers: { ...HEADERS, cookie: planted },
      body: JSON.stringify({ name: 'manage', passphrase: 'harbour lamp oats' }),
    });
    expect(answer.status).toBe(200);
    const cookie = answer.headers.getSetCookie()[0] ?? '';
    expect(cookie).not.toContain('planted');
    expect(cookie).toMatch(/HttpOnly/i);
    expect(cookie).toMatch(/SameSite=Strict/i);
    const withPlanted = await fetch(new URL('/api/dock', desk.url), { headers: { cookie: planted } });
    expect(withPlanted.status).toBe(401);
  });

  it('that was left for a new one is worth nothing any more', async () => {
    const first = await desk.as('work');
    await fetch(new URL('/api/sign-in', desk.url), {
      method: 'POST',
      headers: { ...HEADERS, cookie: first.cookie },
      body: JSON.stringify({ name: 'work', passphrase: 'harbour lamp oats' }),
    });
    expect((await first.ask('GET', '/api/dock')).status).toBe(401);
  });

  it.each(['desk=', 'desk=x', `desk=${'A'.repeat(43)}`, 'desk=../../..', 'desk=%00', `desk=${'A'.repeat(6000)}`])(
    'cannot be guessed: %s',
    async (cookie) => {
      const answer = await fetch(new URL('/api/dock', desk.url), { headers: { cookie } });
      expect(answer.status).toBe(401);
    },
  );
});

/** Every question that takes words, with its fields. */
const FIELDS: readonly (readonly ['POST' | 'PUT', string, Readonly<Record<string, unknown>>])[] = [
  ['POST', '/api/people', { id: '?', name: '?', reason: '?', notes: '?' }],
  ['PUT', '/api/people/ALDER-001', { id: 'ALDER-001', name: '?', reason: '?', notes: '?' }],
  ['POST', '/api/people/ALDER-001/targets', { low: '?', high: '?', from: '?' }],
  ['POST', '/api/people/ALDER-001/lab', { at: '?', value: '?', analyte: '?', laboratory: '?' }],
  ['POST', '/api/lends', { meterId: '?', patientId: '?', from: '?', until: '?' }],
  ['POST', '/api/lends/take-back', { meterId: '?', at: '?' }],
  ['POST', '/api/readings/assign', { readings: ['?'], patientId: '?', reason: '?' }],
  ['POST', '/api/readings/release', { readings: ['?'], reason: '?' }],
  ['POST', '/api/readings/strike-out', { readings: ['?'], reason: '?' }],
  ['POST', '/api/readings/undo', { readings: ['?'], reason: '?' }],
  ['POST', '/api/appointments', { at: '?', patientId: '?' }],
  ['POST', '/api/appointments/remove', { at: '?', patientId: '?' }],
  ['POST', '/api/appointments/import', { csv: '?', isTrial: false }],
  ['PUT', '/api/lots', { lot: '?', expiry: '?', code: '?', isi: '?', mnpt: '?' }],
  ['PUT', '/api/controls/levels', { lot: '?', level: '?', analyte: '?', mean: '?', sd: '?' }],
  ['POST', '/api/controls/name', { readingId: '?', levelNo: 1 }],
  ['POST', '/api/operators', { name: '?', role: 'look', passphrase: 'seven grey gulls' }],
  ['PUT', '/api/operators/?', { role: 'look' }],
  ['POST', '/api/docks', { name: '?', port: '?' }],
  ['POST', '/api/outlets/?/pause', {}],
];
const WORDS = [
  "'; DROP TABLE patient; --",
  '" OR 1=1 --',
  '<script>alert(1)</script>',
  '"]\n[desk]\naddress = "0.0.0.0"\n',
  '../../../etc/passwd',
  '=HYPERLINK("http://gulls.example")',
  '\r\nset-cookie: desk=x',
  '%s%n{{7*7}}',
  '\u202Egnp.exe',
];

describe('hostile words', () => {
  it.each(FIELDS)('%s %s takes them as words or refuses them, and never breaks', async (method, path, fields) => {
    for (const word of WORDS) {
      const filled = JSON.parse(JSON.stringify(fields), (_, value) => (value === '?' ? word : value)) as object;
      const { status, headers, body } = await rosa.ask(method, path.replace('?', encodeURIComponent(word)), filled);
      expect([200, 400, 404, 409], `${JSON.stringify(body)} for ${word}`).toContain(status);
      expect(headers.get('set-cookie')).toBeNull();
    }
  });

  it('come back as they were, and are harmless on paper', async () => {
    const name = '<img src=x onerror=alert(1)> & "Ines"';
    await rosa.ask('POST', '/api/people', { id: 'ALDER-777', name });
    expect(await rosa.ask('GET', '/api/people/ALDER-777')).toMatchObject({ body: { report: { patient: { name } } } });
    const paper = await rosa.ask('GET', '/print/person/ALDER-777');
    expect(paper.body).not.toContain('<img');
    expect(paper.body).toContain('&lt;img src=x');
    expect(paper.headers.get('content-security-policy')).not.toContain('script-src');
  });

  it('leave the store sound and its settings closed to other PCs', () => {
    expect(checkStore(store).problems ?? []).toEqual([]);
    expect(store.audit.check()).toMatchObject({ intact: true });
    expect(store.db.statement('SELECT count(*) AS n FROM patient').get()).toBeDefined();
  });
});
