/** The pair of pseudo-terminals that other tests stand on. */
import { existsSync } from 'node:fs';
import { SerialPort } from 'serialport';
import { describe, expect, it } from 'vitest';
import { ptyPair } from '../support/pty-pair.ts';

describe('a pair of pseudo-terminals', () => {
  it('carries every byte value both ways, and is gone when it is removed', async () => {
    const pair = await ptyPair();
    const all = Buffer.from(Uint8Array.from({ length: 256 }, (_, i) => i));
    const ends = await Promise.all(
      [pair.host, pair.meter].map(async (path) => {
        const port = new SerialPort({ path, baudRate: 9600, autoOpen: false });
        await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
        return port;
      }),
    );
    const heard = ends.map(
      (port) =>
        new Promise<Buffer>((resolve) => {
          let got = Buffer.alloc(0);
          port.on('data', (data: Buffer) => {
            got = Buffer.concat([got, data]);
            if (got.length === all.length) resolve(got);
          });
        }),
    );
    for (const port of ends) port.write(all);
    expect(await Promise.all(heard)).toEqual([all, all]);
    await Promise.all(ends.map((port) => new Promise<void>((resolve) => port.close(() => resolve()))));
    await pair.remove();
    expect(existsSync(pair.host) || existsSync(pair.meter)).toBe(false);
  });
});
