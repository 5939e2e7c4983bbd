/** Reads of a port that brings nothing, is closed, or has hung up. */
import { describe, expect, it } from 'vitest';
import { failReadOnceGone, isPolled, type PolledPort } from '../../../src/wire/transport/posix-read.ts';

/** A port whose reads bring what is given, in order: a count of bytes, or an error of the system. */
function portThatBrings(...brings: (number | string)[]) {
  const done: string[] = [];
  const port: { -readonly [K in keyof PolledPort]: PolledPort[K] } = {
    fd: 7,
    poller: {
      once(_event, ready) {
        done.push('waited');
        setImmediate(() => ready(null));
      },
    },
    read: () => Promise.reject(new Error('not ours')),
  };
  failReadOnceGone(port, async () => {
    done.push('read');
    const next = brings.shift();
    if (typeof next === 'number') return { bytesRead: next };
    throw Object.assign(new Error(next), { code: next });
  });
  return { port, done, read: () => port.read(Buffer.alloc(8), 0, 8) };
}

describe('a read of a port', () => {
  it('brings the bytes there are, without waiting', async () => {
    const { read, done } = portThatBrings(3);
    expect((await read()).bytesRead).toBe(3);
    expect(done).toEqual(['read']);
  });

  it.each(['EAGAIN', 'EWOULDBLOCK', 'EINTR'])('waits for bytes where there are none yet (%s)', async (code) => {
    const { read, done } = portThatBrings(code, code, 2);
    expect((await read()).bytesRead).toBe(2);
    expect(done).toEqual(['read', 'waited', 'read', 'waited', 'read']);
  });

  it('waits once where a read brings nothing, and fails where it then brings nothing again', async () => {
    const { read, done } = portThatBrings(0, 0, 5);
    await expect(read()).rejects.toThrow('hung up');
    expect(done).toEqual(['read', 'waited', 'read']);
  });

  it('takes bytes that come after a read of nothing, and reads of nothing that do not follow each other', async () => {
    expect((await portThatBrings(0, 4).read()).bytesRead).toBe(4);
    expect((await portThatBrings(0, 'EAGAIN', 0, 4).read()).bytesRead).toBe(4);
  });

  it('passes every other error on', async () => {
    await expect(portThatBrings('EIO').read()).rejects.toMatchObject({ code: 'EIO' });
  });

  it('is given up as canceled where the port was closed, before or meanwhile', async () => {
    const closed = portThatBrings(1);
    closed.port.fd = null;
    await expect(closed.read()).rejects.toMatchObject({ canceled: true });
    expect(closed.done).toEqual([]);
    const closing = portThatBrings('EAGAIN', 1);
    const reading = closing.read();
    closing.port.fd = null;
    await expect(reading).rejects.toMatchObject({ canceled: true });
    expect(closing.done).toEqual(['read']);
  });

  it('is made so only for ports that are polled: not on Windows, not for the library’s mock', () => {
    expect(isPolled(portThatBrings().port)).toBe(true);
    expect(isPolled({ fd: 7, read: () => undefined })).toBe(false);
    expect(isPolled(undefined)).toBe(false);
    expect(isPolled(null)).toBe(false);
  });
});
