/** Serial ports: over the library's mock, and over a real pseudo-terminal from one end to the other. */
import { pbkdf2 } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import { SerialPortMock } from 'serialport';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { instant } from '../../../src/core/instant.ts';
import { zoneOf } from '../../../src/core/zone.ts';
import { converse } from '../../../src/wire/converse.ts';
import { lineTalk } from '../../../src/wire/line/conversation.ts';
import { LINK_DEFAULTS } from '../../../src/wire/transport/link.ts';
import { openLink } from '../../../src/wire/transport/open-link.ts';
import { openSerial, openSerialWith, type SerialPortClass } from '../../../src/wire/transport/serial.ts';
import { type PtyPair, ptyPair } from '../../support/pty-pair.ts';
import { listener } from './listener.ts';

describe('a serial port of the library’s mock', () => {
  const Mock = SerialPortMock as unknown as SerialPortClass;
  beforeEach(() => SerialPortMock.binding.createPort('/dev/ttyMOCK', { record: true }));
  afterEach(() => SerialPortMock.binding.reset());

  it('is opened with 8 data bits, no parity and 1 stop bit unless it is told otherwise', async () => {
    const seen: unknown[] = [];
    const Spy = class extends SerialPortMock {
      constructor(options: ConstructorParameters<typeof SerialPortMock>[0]) {
        super(options);
        seen.push(options);
      }
    } as unknown as SerialPortClass;
    const link = await openSerialWith(Spy, '/dev/ttyMOCK', LINK_DEFAULTS, listener().events);
    expect(seen).toEqual([
      { path: '/dev/ttyMOCK', baudRate: 9600, dataBits: 8, parity: 'none', stopBits: 1, autoOpen: false },
    ]);
    await link.close();
  });

  it('takes bytes, and closes once when it is asked', async () => {
    const heard = listener();
    const link = await openSerialWith(Mock, '/dev/ttyMOCK', LINK_DEFAULTS, heard.events);
    await link.write(Buffer.from('READ*DC73\r\n'));
    await Promise.all([link.close(), link.close()]);
    expect(heard.closings).toEqual([undefined]);
    await expect(link.write(Buffer.from('x'))).rejects.toMatchObject({ code: 'PORT_LOST' });
  });

  it('that does not exist is missing', async () => {
    const opening = openSerialWith(Mock, '/dev/ttyNONE', LINK_DEFAULTS, listener().events);
    await expect(opening).rejects.toMatchObject({ name: 'Fault' });
  });

  it('that does not open in time is given up, and given back if it opens after all', async () => {
    let isClosed = false;
    let open: (error: Error | null) => void = () => undefined;
    const Slow = class {
      isOpen = false;
      on(): void {}
      once(): void {}
      open(done: (error: Error | null) => void): void {
        open = done;
      }
      close(done: () => void): void {
        isClosed = true;
        done();
      }
    } as unknown as SerialPortClass;
    const opening = openSerialWith(Slow, 'COM3', { ...LINK_DEFAULTS, openMs: 5 }, listener().events);
    await expect(opening).rejects.toMatchObject({ code: 'PORT_FAILED', message: expect.stringContaining('COM3') });
    open(null);
    await new Promise(setImmediate);
    expect(isClosed).toBe(true);
  });
});

describe('a real port', () => {
  let pair: PtyPair;
  beforeEach(async () => {
    pair = await ptyPair();
  });
  afterEach(() => pair.remove());

  it('carries bytes both ways', async () => {
    const [host, meter] = [listener(), listener()];
    const atHost = await openLink(pair.host, LINK_DEFAULTS, host.events);
    const atMeter = await openSerial(pair.meter, LINK_DEFAULTS, meter.events);
    await atHost.write(Buffer.from('HELLO v=1*4282\r\n'));
    await meter.until(() => meter.text() === 'HELLO v=1*4282\r\n');
    await atMeter.write(Buffer.from([0, 0xff, 0x0d, 0x0a, 0x11, 0x13]));
    await host.until(() => host.text() === '\x00\xff\r\n\x11\x13');
    await Promise.all([atHost.close(), atMeter.close()]);
    expect(host.closings).toEqual([undefined]);
  });

  it('that is unplugged says so once, also to one who sends', async () => {
    const host = listener();
    const link = await openSerial(pair.host, LINK_DEFAULTS, host.events);
    await pair.remove();
    await host.until(() => host.closings.length > 0);
    await expect(link.write(Buffer.from('x'))).rejects.toMatchObject({ code: 'PORT_LOST' });
    await link.close();
    expect(host.closings.map((fault) => fault?.code)).toEqual(['PORT_LOST']);
  });

  it('that is unplugged while a read is on its way says so too', async () => {
    const host = listener();
    let chunks = 0;
    const link = await openSerial(pair.host, LINK_DEFAULTS, {
      ...host.events,
      data(chunk) {
        // Work in every thread that reads: the next read comes to its turn after the cable is out.
        for (let i = 0; chunks === 0 && i < 16; i++) pbkdf2('', '', 100_000, 64, 'sha512', () => undefined);
        chunks += 1;
        host.events.data(chunk);
      },
    });
    writeFileSync(pair.meter, 'x');
    await host.until(() => chunks > 0);
    await pair.remove();
    await host.until(() => host.closings.length > 0);
    await link.close();
    expect(host.closings.map((fault) => fault?.code)).toEqual(['PORT_LOST']);
  });

  it('in use by another program is busy', async () => {
    const first = await openSerial(pair.host, LINK_DEFAULTS, listener().events);
    await expect(openSerial(pair.host, LINK_DEFAULTS, listener().events)).rejects.toMatchObject({ code: 'PORT_BUSY' });
    await first.close();
  });

  it('that is missing, or no port at all, is told as such', async () => {
    const settings = LINK_DEFAULTS;
    await expect(openSerial(`${pair.host}-none`, settings, listener().events)).rejects.toMatchObject({
      code: 'PORT_MISSING',
    });
    await expect(openSerial('/dev/null', settings, listener().events)).rejects.toMatchObject({
      code: 'PORT_NOT_SERIAL',
    });
  });

  it('holds a whole conversation, and its pulling costs nothing that was read', async () => {
    const meter = listener();
    const atMeter = await openSerial(pair.meter, LINK_DEFAULTS, meter.events);
    const said: string[] = [];
    const talk = lineTalk({ zone: zoneOf('UTC'), setClock: 'never', clockSettable: true });
    const talking = converse({
      talk,
      open: openLink,
      port: pair.host,
      settings: LINK_DEFAULTS,
      now: () => instant(Date.now()),
      record: (chunk) => said.push(`${chunk.dir} ${Buffer.from(chunk.data).toString().trim()}`),
      secure: async () => undefined,
    });
    await meter.until(() => meter.text().includes('HELLO v=1*4282\r\n'));
    await atMeter.write(
      Buffer.from(
        'METER v=1 id=SN00042 model=GM-10 fw=1.0 cap=200 held=3 order=newest loss=1 clock=2000-01-19T04:12:33*5110\r\n',
      ),
    );
    await meter.until(() => meter.text().includes('READ*DC73\r\n'));
    await atMeter.write(
      Buffer.from(
        'REC i=1 n=212 t=2000-01-18T19:03 k=p a=INR v=2.6 u={INR} a2=PT v2=29.9 u2=s lot=1200003 c=1*D7B7\r\n',
      ),
    );
    while (!said.some((line) => line.includes('D7B7'))) await new Promise((resolve) => setTimeout(resolve, 2));
    await pair.remove();
    expect(await talking).toMatchObject({
      outcome: { complete: false, trouble: { code: 'DOWNLOAD_CUT', message: expect.stringContaining('1 of 3') } },
      fault: { code: 'PORT_LOST' },
    });
    await atMeter.close();
  });
});
