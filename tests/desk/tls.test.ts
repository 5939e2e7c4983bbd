/** The desk for another PC: over TLS or not at all; and never the reason that a dock stands still. */
import { spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { request } from 'node:https';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { parseConfig } from '../../src/dock/config.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';
import { testDesk } from '../support/desk.ts';

/** A certificate of an hour for this computer. */
function certificate(folder: string): { readonly cert: string; readonly key: string } {
  const [cert, key] = [join(folder, 'desk.pem'), join(folder, 'desk-key.pem')];
  const made = spawnSync(
    'openssl',
    [
      'req',
      '-x509',
      '-newkey',
      'ec',
      '-pkeyopt',
      'ec_paramgen_curve:prime256v1',
      '-nodes',
      '-days',
      '1',
      '-subj',
      '/CN=localhost',
      '-keyout',
      key,
      '-out',
      cert,
    ],
    { encoding: 'utf8' },
  );
  if (made.status !== 0) throw new Error(made.stderr);
  return { cert, key };
}

/** Asks over TLS without asking who made the certificate; gives status, cookie and body. */
function ask(
  url: string,
  host: string,
  path: string,
  body?: object,
): Promise<{ status: number; cookie: string; text: string }> {
  const { hostname, port } = new URL(url);
  return new Promise((resolve, reject) => {
    const asked = request(
      {
        hostname,
        port,
        path,
        method: body ? 'POST' : 'GET',
        rejectUnauthorized: false,
        headers: {
          host,
          'x-tallydock': '1',
          ...(body
            ? { 'content-type': 'application/json', 'content-length': Buffer.byteLength(JSON.stringify(body)) }
            : {}),
        },
      },
      (answer) => {
        let text = '';
        answer.on('data', (chunk: Buffer) => {
          text += chunk.toString();
        });
        answer.on('end', () =>
          resolve({ status: answer.statusCode ?? 0, cookie: String(answer.headers['set-cookie'] ?? ''), text }),
        );
      },
    );
    asked.on('error', reject);
    asked.end(body ? JSON.stringify(body) : undefined);
  });
}

describe('the desk over TLS', () => {
  it('answers under the names it was given, with a cookie that never goes over a bare line', async () => {
    const folder = tempFolder();
    const { cert, key } = certificate(folder);
    const store = tempStore(folder);
    const config = `[desk]\nport = 0\naddress = "0.0.0.0"\nhost-names = ["desk.port-alder.example"]\ncertificate = ${JSON.stringify(cert)}\nkey = ${JSON.stringify(key)}\n`;
    writeFileSync(join(folder, 'config.toml'), config);
    const desk = await testDesk({ store, folder, config });
    onTestFinished(() => desk.close());
    expect(desk.url).toMatch(/^https:/);
    const at = desk.url.replace('0.0.0.0', '127.0.0.1');
    expect((await ask(at, 'desk.port-alder.example', '/api/state')).status).toBe(200);
    expect((await ask(at, 'gulls.example', '/api/state')).status).toBe(403);
    const first = { clinic: 'Port Alder', zone: 'Europe/Lisbon', name: 'Rosa', passphrase: 'salt harbour nine' };
    const far = await ask(at, 'desk.port-alder.example', '/api/first-run', first);
    expect([far.status, far.text]).toEqual([403, expect.stringContaining('REQUEST_FOREIGN')]); // the first operator is made at the PC itself
    const here = await ask(at, 'localhost', '/api/first-run', first);
    expect(here.status).toBe(200);
    expect(here.cookie).toMatch(/Secure/);
    await expect(fetch(at.replace('https:', 'http:'))).rejects.toThrow();
  });

  it('is refused in the settings without a certificate, and says so where its file is missing', async () => {
    expect(() => parseConfig('[desk]\naddress = "0.0.0.0"\n', 'config.toml')).toThrow(/open to other PCs/);
    const folder = tempFolder();
    const config = '[desk]\nport = 0\ncertificate = "/nowhere/desk.pem"\nkey = "/nowhere/desk-key.pem"\n';
    await expect(testDesk({ store: tempStore(folder), folder, config })).rejects.toMatchObject({
      code: 'FILE_UNREADABLE',
    });
  });

  it('says that its port is taken', async () => {
    const other = createServer().listen(0, '127.0.0.1');
    await once(other, 'listening');
    onTestFinished(() => void other.close());
    const { port } = other.address() as AddressInfo;
    const folder = tempFolder();
    const opening = testDesk({ store: tempStore(folder), folder, config: `[desk]\nport = ${port}\n` });
    await expect(opening).rejects.toMatchObject({
      code: 'CONFIG_INVALID',
      message: `Port ${port} is taken by another program`,
    });
  });
});
