/** Device servers on the network, over real sockets of this machine. */
import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { createServer, type Server, type Socket } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { LINK_DEFAULTS } from '../../../src/wire/transport/link.ts';
import { openLink } from '../../../src/wire/transport/open-link.ts';
import { openTcp, parseTcpName } from '../../../src/wire/transport/tcp.ts';
import { listener } from './listener.ts';

const servers: Server[] = [];
const peers: Socket[] = [];
afterEach(async () => {
  for (const peer of peers.splice(0)) peer.destroy();
  for (const server of servers.splice(0)) {
    server.close();
    await once(server, 'close');
  }
});

async function serve(): Promise<{ name: string; peer: Promise<Socket> }> {
  const server = createServer((socket) => {
    socket.on('error', () => undefined);
    peers.push(socket);
  });
  servers.push(server);
  const peer = once(server, 'connection').then(([socket]: Socket[]) => {
    if (!socket) throw new Error('no peer');
    return socket;
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('no address');
  return { name: `tcp://127.0.0.1:${address.port}`, peer };
}

describe('tcp://host:port', () => {
  it('carries the bytes of the line both ways', async () => {
    const { name, peer } = await serve();
    const heard = listener();
    const link = await openLink(name, LINK_DEFAULTS, heard.events);
    const meter = await peer;
    await link.write(Buffer.from('HELLO v=1*4282\r\n'));
    const [asked] = (await once(meter, 'data')) as Buffer[];
    expect(asked?.toString()).toBe('HELLO v=1*4282\r\n');
    meter.write('BYE*1317\r\n');
    await heard.until(() => heard.text() === 'BYE*1317\r\n');
    await link.close();
    expect(heard.closings).toEqual([undefined]);
    expect(link.port).toBe(name);
  });

  it('says that the port went away when the other end closes, once', async () => {
    const { name, peer } = await serve();
    const heard = listener();
    const link = await openTcp(name, LINK_DEFAULTS, heard.events);
    (await peer).destroy();
    await heard.until(() => heard.closings.length > 0);
    await expect(link.write(Buffer.from('x'))).rejects.toMatchObject({ code: 'PORT_LOST' });
    await link.close();
    await link.close();
    expect(heard.closings.map((fault) => fault?.code)).toEqual(['PORT_LOST']);
  });

  // Columns and the 2 for "another timer, such as keepalive": Documentation/networking/proc_net_tcp.rst of Linux (from memory).
  it.runIf(process.platform === 'linux')('has the system ask a silent peer whether it is still there', async () => {
    const { name, peer } = await serve();
    const link = await openTcp(name, LINK_DEFAULTS, listener().events);
    const port = ((await peer).remotePort ?? 0).toString(16).toUpperCase().padStart(4, '0');
    const row = readFileSync('/proc/net/tcp', 'utf8')
      .split('\n')
      .map((line) => line.trim().split(/\s+/))
      .find(([, local]) => local?.endsWith(`:${port}`));
    expect(row?.[5]).toMatch(/^02:/);
    await link.close();
  });

  it('says that nothing answers where nobody listens', async () => {
    const { name } = await serve();
    const [server] = servers.splice(0);
    server?.close();
    await expect(openTcp(name, LINK_DEFAULTS, listener().events)).rejects.toMatchObject({ code: 'PORT_MISSING' });
  });

  it.each(['', '  '])('is not what "%s" names: nothing is opened', async (name) => {
    await expect(openLink(name, LINK_DEFAULTS, listener().events)).rejects.toMatchObject({ code: 'CALL_WRONG' });
  });

  it('gives a peer that does not hang up no more time than its deadline', async () => {
    const { name, peer } = await serve();
    const heard = listener();
    const link = await openTcp(name, { ...LINK_DEFAULTS, closeMs: 20 }, heard.events);
    (await peer).pause();
    await link.close();
    expect(heard.closings).toHaveLength(1);
  });

  it.each([
    ['tcp://192.0.2.10:4001', { host: '192.0.2.10', port: 4001 }],
    ['tcp://dock-2.example:23', { host: 'dock-2.example', port: 23 }],
    ['tcp://[2001:db8::1]:4001', { host: '2001:db8::1', port: 4001 }],
  ])('reads %s', (name, address) => {
    expect(parseTcpName(name)).toEqual(address);
  });

  it.each(['tcp://', 'tcp://host', 'tcp://host:', 'tcp://host:0', 'tcp://host:70000', 'tcp://a b:1', 'tcp://host:1/x'])(
    'refuses %s',
    (name) => {
      expect(() => parseTcpName(name)).toThrow(expect.objectContaining({ code: 'CALL_WRONG' }));
    },
  );
});
