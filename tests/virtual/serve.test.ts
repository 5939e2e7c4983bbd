/** Virtual meters over real TCP and a real pseudo-terminal, talked to by a bare host of the test's own. */
import { SerialPort } from 'serialport';
import { afterEach, describe, expect, it } from 'vitest';
import { type Served, servePty, serveTcp } from '../../src/virtual/serve.ts';
import { astmPort, linePort, meterWith } from '../support/meters.ts';
import { tcpHost } from '../support/tcp-host.ts';
import { readRecords, readTests } from '../support/tiny-astm.ts';
import { readTlp, slowCrc, tlpLine } from '../support/tiny-tlp.ts';

const open: Served[] = [];
const keep = async (served: Promise<Served>): Promise<Served> => {
  const one = await served;
  open.push(one);
  return one;
};
afterEach(async () => {
  for (const served of open.splice(0)) await served.close();
});

const hasEnd = (heard: Buffer): boolean => readTlp(heard).some(({ verb }) => verb === 'END');

describe('a virtual meter on TCP', () => {
  it('is read whole by anybody who follows the line protocol', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 40, errors: 0.1 })), 0));
    const host = await tcpHost(served.where);
    host.send(tlpLine('HELLO v=1') + tlpLine('READ'));
    const lines = readTlp(await host.until(hasEnd));
    const bodies = lines.filter(({ verb }) => verb === 'REC').map(({ body }) => `${body}\n`);
    expect(lines.at(-1)?.keys).toEqual({ n: '40', x: slowCrc(bodies.join('')) });
    host.socket.destroy();
  });

  it('keeps its memory and its clock from one host to the next', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 3 })), 0));
    const first = await tcpHost(served.where);
    first.send(tlpLine('SET t=2026-03-02T12:00:00'));
    await first.until((heard) => readTlp(heard).some(({ verb }) => verb === 'CLOCK'));
    first.socket.destroy();
    await served.firstGone;
    const second = await tcpHost(served.where);
    second.send(tlpLine('HELLO v=1'));
    const [meter] = readTlp(await second.until((heard) => readTlp(heard).length > 0));
    expect(meter?.keys['held']).toBe('3');
    expect(meter?.keys['clock']).toMatch(/^2026-03-02T12:0[01]:/);
    second.socket.destroy();
  });

  it('turns a second host away while the first is there', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 3 })), 0));
    const first = await tcpHost(served.where);
    const second = await tcpHost(served.where);
    expect(await second.closed()).toHaveLength(0);
    first.send(tlpLine('HELLO v=1'));
    expect(readTlp(await first.until((heard) => readTlp(heard).length > 0))[0]?.verb).toBe('METER');
    first.socket.destroy();
  });

  it.each([1, 100, 517, 2000])(
    'has its cable pulled after exactly %i bytes, once, and answers again afterwards',
    async (n) => {
      const served = await keep(serveTcp(linePort(meterWith({ tests: 40 }), { pullAfter: n }), 0));
      const host = await tcpHost(served.where);
      host.send(tlpLine('HELLO v=1') + tlpLine('READ'));
      expect(await host.closed()).toHaveLength(n);
      const again = await tcpHost(served.where);
      again.send(tlpLine('READ'));
      expect(hasEnd(await again.until(hasEnd))).toBe(true);
      again.socket.destroy();
    },
  );

  it('tells a test that ends while the host listens', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 2 })), 0));
    const host = await tcpHost(served.where);
    host.send(tlpLine('HELLO v=1'));
    await host.until((heard) => readTlp(heard).length === 1);
    served.test({ kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }] });
    const lines = readTlp(await host.until((heard) => readTlp(heard).length === 2));
    expect(lines[1]).toMatchObject({ verb: 'NEW', keys: { i: '1', n: '3', v: '2.4' } });
    expect(served.meter().memory.held).toHaveLength(3);
    host.socket.destroy();
  });

  it('is silent when told to be, and never stops when told not to', async () => {
    const silent = await keep(serveTcp(linePort(meterWith({ tests: 2 }), { behaves: 'silent' }), 0));
    const endless = await keep(serveTcp(linePort(meterWith({ tests: 2 }), { behaves: 'endless' }), 0));
    const [quiet, loud] = [await tcpHost(silent.where), await tcpHost(endless.where)];
    quiet.send(tlpLine('HELLO v=1'));
    loud.send(tlpLine('HELLO v=1'));
    await loud.until((heard) => heard.length > 20_000);
    expect(new Set(readTlp(loud.heard()).map(({ verb }) => verb))).toEqual(new Set(['METER']));
    expect(quiet.heard()).toHaveLength(0);
    quiet.socket.destroy();
    loud.socket.destroy();
  });

  it('damages bytes both ways, so that some questions are never heard and some answers not understood', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 200 }), { damageRate: 0.002 }), 0));
    const host = await tcpHost(served.where);
    let whole = 0;
    let asked = 0;
    // One slot at a time, each question asked until it is answered. Eight CLOCKs behind it: one of them is heard.
    for (let slot = 1; slot <= 60; slot++) {
      for (let done = false; !done && asked < 500; asked++) {
        const before = readTlp(host.heard()).length;
        host.send(tlpLine(`READ from=${slot} to=${slot}`) + tlpLine('CLOCK').repeat(8));
        await host.until((heard) =>
          readTlp(heard)
            .slice(before)
            .some(({ verb }) => verb === 'CLOCK'),
        );
        done = readTlp(host.heard()).some(({ verb, keys }) => verb === 'REC' && keys['i'] === String(slot));
        if (done) whole++;
      }
    }
    expect(whole).toBe(60);
    expect(asked).toBeGreaterThan(60);
    host.socket.destroy();
  });

  it('refuses a TCP port that is in use, with a fault that says so', async () => {
    const served = await keep(serveTcp(linePort(meterWith({ tests: 1 })), 0));
    const taken = Number(new URL(served.where).port);
    await expect(serveTcp(linePort(meterWith({ tests: 1 })), taken)).rejects.toMatchObject({ code: 'PORT_BUSY' });
  });
});

/** A host that acknowledges everything; gives what was sent up to EOT. */
async function acknowledgeAll(where: string, first?: Uint8Array): Promise<Buffer> {
  const host = await tcpHost(where);
  let acknowledged = 0;
  if (first) host.send(first);
  await host.until((heard) => {
    // ENQ, or the LF at the end of a frame.
    const due = [...heard].filter((byte) => byte === 5 || byte === 10).length;
    for (; acknowledged < due; acknowledged++) host.send(Uint8Array.of(6));
    return heard.includes(4);
  });
  host.socket.destroy();
  return host.heard();
}

describe('a virtual ASTM meter on TCP', () => {
  it('sends its memory as soon as somebody connects, in slot order', async () => {
    const meter = meterWith({ tests: 30, order: 'oldest', errors: 0.1 });
    const served = await keep(serveTcp(astmPort(meter), 0));
    const tests = readTests(readRecords(await acknowledgeAll(served.where)));
    expect(tests.map(({ slot, runNumber }) => `${slot}^${runNumber}`)).toEqual(
      Array.from({ length: 30 }, (_, i) => `${i + 1}^${i + 1}`),
    );
    expect(tests.map((test) => test.values)).toEqual(meter.memory.held.map(({ test }) => test.values));
    expect(tests.map((test) => test.errorCode)).toEqual(meter.memory.held.map(({ test }) => test.errorCode));
  });
});

describe('a virtual meter on a pseudo-terminal', () => {
  /** Opens the path as a serial port and gathers what comes. */
  const openSerial = async (path: string) => {
    const port = new SerialPort({ path, baudRate: 9600, autoOpen: false });
    let heard = Buffer.alloc(0);
    let isClosed = false;
    let changed = (): void => {};
    port.on('data', (data: Buffer) => {
      heard = Buffer.concat([heard, data]);
      changed();
    });
    port.on('error', () => {});
    port.on('close', () => {
      isClosed = true;
      changed();
    });
    await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
    return {
      send: (text: string) => void port.write(text),
      until: (holds: (heard: Buffer) => boolean) =>
        new Promise<Buffer>((resolve) => {
          changed = () => {
            if (holds(heard) || isClosed) resolve(heard);
          };
          changed();
        }),
      close: () => new Promise<void>((resolve) => (port.isOpen ? port.close(() => resolve()) : resolve())),
    };
  };

  it('is read whole through a serial port, closed, and read again', async () => {
    const served = await keep(servePty(linePort(meterWith({ tests: 25 }))));
    for (let time = 0; time < 2; time++) {
      const host = await openSerial(served.where);
      host.send(tlpLine('HELLO v=1') + tlpLine('READ'));
      expect(readTlp(await host.until(hasEnd)).filter(({ verb }) => verb === 'REC')).toHaveLength(25);
      await host.close();
    }
  });

  it('vanishes when its cable is pulled, and is there again at the same path', async () => {
    const served = await keep(servePty(linePort(meterWith({ tests: 25 }), { pullAfter: 700 })));
    const host = await openSerial(served.where);
    host.send(tlpLine('HELLO v=1') + tlpLine('READ'));
    expect(await host.until(() => false)).toHaveLength(700);
    let again: Awaited<ReturnType<typeof openSerial>> | undefined;
    for (let tries = 0; tries < 200 && !again; tries++) {
      again = await openSerial(served.where).catch(() => undefined);
      if (!again) await new Promise((resolve) => setTimeout(resolve, 10));
    }
    again?.send(tlpLine('READ'));
    expect(readTlp((await again?.until(hasEnd)) ?? Buffer.alloc(0)).at(-1)?.keys['n']).toBe('25');
    await again?.close();
  });

  it('calls again and again over ASTM until a host opens the port, and is then read whole', async () => {
    const meter = meterWith({ tests: 5, order: 'oldest' });
    const served = await keep(servePty(astmPort(meter, {}, { answerToCallMs: 40, callsAgainMs: 30_000 })));
    // Calls go by unheard before the port is opened.
    await new Promise((resolve) => setTimeout(resolve, 100));
    const host = await openSerial(served.where);
    let acknowledged = 0;
    const heard = await host.until((bytes) => {
      const due = bytes.filter((byte) => byte === 5 || byte === 10).length;
      for (; acknowledged < due; acknowledged++) host.send('\x06');
      return bytes.lastIndexOf(4) > bytes.lastIndexOf('\n') && bytes.includes('L|1|N');
    });
    expect(readTests(readRecords(heard)).map(({ slot }) => slot)).toEqual(['1', '2', '3', '4', '5']);
    await host.close();
  });
});
