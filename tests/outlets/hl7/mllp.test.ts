/** MLLP to a real listener: each message acknowledged, nothing lost, and a repeat known by its MSH-10. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { judgeAcknowledgement } from '../../../src/outlets/hl7/acknowledgement.ts';
import { createFrameReader, frame, LONGEST_FRAME } from '../../../src/outlets/hl7/mllp-frame.ts';
import { hl7MllpOutlet } from '../../../src/outlets/hl7/mllp-outlet.ts';
import { Hl7MllpSettings } from '../../../src/outlets/hl7/settings.ts';
import type { Outlet } from '../../../src/outlets/outlet.ts';
import { many, NOW, reading } from '../fhir/readings.ts';
import { type Behaviour, type Listener, mllpListener } from './mllp-listener.ts';

let listener: Listener;
let outlets: Outlet[] = [];
beforeEach(async () => {
  listener = await mllpListener();
});
afterEach(async () => {
  for (const open of outlets) await open.close();
  outlets = [];
  await listener.close();
});

const never = new AbortController().signal;
function outlet(parts: object = {}): Outlet {
  const settings = Hl7MllpSettings.parse({ host: '127.0.0.1', port: listener.port, 'retry-pause': 0, ...parts });
  const made = hl7MllpOutlet(settings, { site: 'Port Alder', zone: 'Europe/Lisbon', now: () => NOW });
  outlets.push(made);
  return made;
}
const taken = (count: number) => Array.from({ length: count }, () => ({ kind: 'taken' }));
const down = { code: 'OUTLET_DOWN' };
const names = (count: number) => many(count).map((d) => `${d.reading.id}v1`);

describe('a receiver that is well', () => {
  it('takes every message in order, over one connection', async () => {
    const open = outlet();
    expect(await open.send(many(20), never)).toEqual(taken(20));
    expect(await open.send(many(3), never)).toEqual(taken(3));
    expect([listener.came, listener.connections()]).toEqual([[...names(20), ...names(3)], 1]);
    expect(listener.stored.size).toBe(20);
  });

  it.each(['AA', 'CA'] as const)('%s is taken, whatever the kind of answer', async (code) => {
    for (const type of ['ACK', 'ACK^R01^ACK', 'ACK^R33^ACK', 'ORA^R33^ORA_R33']) {
      listener.next.push({ kind: 'ack', code, type });
      expect(await outlet({ message: 'R30' }).send(many(1), never)).toEqual(taken(1));
    }
  });

  it('text beyond ASCII arrives as it was', async () => {
    const zoe = reading({ patient: { id: 'PA-9', name: 'Zoë Ñandú 中' } });
    await outlet().send([{ seq: 1, reading: zoe, isWithdrawn: false }], never);
    expect(listener.stored.get('D17-3v1')?.getSegment('PID')?.getComponent(5, 1)).toBe('Zoë Ñandú 中');
  });

  it.each(['stray-first', 'noise-first'] as const)(
    'an answer that is not about the message is not taken for one (%s)',
    async (kind) => {
      listener.next.push({ kind });
      expect(await outlet().send(many(2), never)).toEqual(taken(2));
    },
  );

  it('a receiver that was restarted between two batches is called again', async () => {
    const open = outlet();
    await open.send(many(1), never);
    await listener.restart();
    // The end of the connection may be noticed only by the next try.
    const again = await open.send(many(2).slice(1), never).catch(() => open.send(many(2).slice(1), never));
    expect(again).toEqual(taken(1));
    expect([...listener.stored.keys()]).toEqual(names(2));
  });

  it('a change of the person is two messages, the withdrawal first', async () => {
    const moved = {
      seq: 2,
      reading: reading({ version: 2 }),
      before: { version: 1, patientId: 'PA-7' },
      isWithdrawn: false,
    };
    expect(await outlet().send([moved], never)).toEqual(taken(1));
    expect(listener.came).toEqual(['D17-3v2w', 'D17-3v2']);
  });
});

describe('a message that is not wanted', () => {
  it.each(['AE', 'CE'] as const)('%s is refused with the receiver’s words, and the others go on', async (code) => {
    listener.next.push(
      { kind: 'ack', code: 'AA' },
      {
        kind: 'ack',
        code,
        text: 'PID-3 is not known',
        err: 'ERR||PID^1^3|204^Unknown key identifier^HL70357|E||||Person PA-2041 is not here',
      },
    );
    const results = await outlet().send(many(3), never);
    const reason = `${code}: PID-3 is not known: 204 Person PA-2041 is not here`;
    expect(results).toEqual([{ kind: 'taken' }, { kind: 'refused', reason }, { kind: 'taken' }]);
    expect(listener.came).toEqual(names(3));
  });

  it('AR with a code about the content is refused at once', async () => {
    listener.next.push({ kind: 'ack', code: 'AR', err: 'ERR|||200^Unsupported message type^HL70357|E' });
    expect(await outlet().send(many(1), never)).toEqual([
      { kind: 'refused', reason: 'AR: 200 Unsupported message type' },
    ]);
    expect(listener.came).toEqual(names(1));
  });

  it.each([
    ['no code', undefined],
    ['a locked record', 'ERR|||206^Application record locked^HL70357|E'],
    ['an error of its own', 'ERR|||207^Application error^HL70357|E'],
  ])('AR with %s is tried three times under the same MSH-10, then refused, and the others go on', async (_, err) => {
    const reject: Behaviour = { kind: 'ack', code: 'AR', ...(err ? { err } : {}) };
    listener.next.push(reject, reject, reject);
    const results = await outlet().send(many(2), never);
    expect(results.map((r) => r.kind)).toEqual(['refused', 'taken']);
    expect(listener.came).toEqual(['D17-1v1', 'D17-1v1', 'D17-1v1', 'D17-2v1']);
  });

  it('AR that passes is taken', async () => {
    listener.next.push({ kind: 'ack', code: 'AR' }, { kind: 'ack', code: 'AR' });
    expect(await outlet().send(many(1), never)).toEqual(taken(1));
  });

  it('where the withdrawal from the old person is refused, nothing is told of the new one', async () => {
    listener.next.push({ kind: 'ack', code: 'AE' });
    const moved = {
      seq: 2,
      reading: reading({ version: 2 }),
      before: { version: 1, patientId: 'PA-7' },
      isWithdrawn: false,
    };
    expect((await outlet().send([moved], never)).map((r) => r.kind)).toEqual(['refused']);
    expect(listener.came).toEqual(['D17-3v2w']);
  });
});

describe('a receiver in trouble', () => {
  it('one that stored and hung up before it answered sees the same MSH-10 again, and stores once', async () => {
    listener.next.push({ kind: 'ack', code: 'AA' }, { kind: 'store-and-hang-up' });
    const open = outlet();
    await expect(open.send(many(3), never)).rejects.toMatchObject(down);
    expect(await open.send(many(3), never)).toEqual(taken(3));
    expect(listener.came).toEqual(['D17-1v1', 'D17-2v1', 'D17-2v1', 'D17-3v1']);
    expect([...listener.stored.keys()]).toEqual(names(3));
  });

  it('after a restart of this side the whole batch comes again under the same names', async () => {
    listener.next.push({ kind: 'ack', code: 'AA' }, { kind: 'store-and-hang-up' });
    await expect(outlet().send(many(3), never)).rejects.toMatchObject(down);
    expect(await outlet().send(many(3), never)).toEqual(taken(3));
    expect(listener.came).toEqual(['D17-1v1', 'D17-2v1', ...names(3)]);
    expect([...listener.stored.keys()]).toEqual(names(3));
  });

  it('no answer in time is OUTLET_DOWN, and a late one is not taken for that of the next', async () => {
    listener.next.push({ kind: 'silence' });
    const open = outlet({ timeout: 1 });
    await expect(open.send(many(1), never)).rejects.toMatchObject({
      ...down,
      message: expect.stringContaining('D17-1v1 in time'),
    });
    expect(await open.send(many(1), never)).toEqual(taken(1));
    expect(listener.connections()).toBe(2);
  });

  it('a closed connection and one that nobody takes are OUTLET_DOWN', async () => {
    listener.next.push({ kind: 'hang-up' });
    await expect(outlet().send(many(1), never)).rejects.toMatchObject(down);
    await expect(outlet({ port: 1 }).send(many(1), never)).rejects.toMatchObject(down);
  });

  it('a stop of the program ends the waiting for an answer, and for the next try', async () => {
    for (const behaviour of [{ kind: 'silence' }, { kind: 'ack', code: 'AR' }] as const) {
      listener.next.push(behaviour);
      const stop = new AbortController();
      const seen = listener.came.length;
      const sent = outlet({ 'retry-pause': 60 }).send(many(1), stop.signal);
      const ended = expect(sent).rejects.toMatchObject(down);
      while (listener.came.length === seen) await new Promise((resolve) => setTimeout(resolve, 5));
      stop.abort();
      await ended;
    }
  });
});

describe('TLS', () => {
  let folder = '';
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'mllp-'));
    // A certificate for this test alone, signed by itself.
    const subject = ['-subj', '/CN=localhost', '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1'];
    execFileSync(
      'openssl',
      [
        'req',
        '-x509',
        '-newkey',
        'ec',
        '-pkeyopt',
        'ec_paramgen_curve:P-256',
        '-nodes',
        '-days',
        '2',
        ...subject,
        '-keyout',
        join(folder, 'key.pem'),
        '-out',
        join(folder, 'cert.pem'),
      ],
      { stdio: 'ignore' },
    );
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true }));

  it('goes only to a receiver whose certificate is good', async () => {
    const secure = await mllpListener({
      key: readFileSync(join(folder, 'key.pem')),
      cert: readFileSync(join(folder, 'cert.pem')),
    });
    try {
      const open = { port: secure.port, tls: true };
      await expect(outlet(open).send(many(1), never)).rejects.toMatchObject({
        ...down,
        message: expect.stringContaining('self-signed'),
      });
      expect(secure.came).toEqual([]);
      expect(await outlet({ ...open, 'ca-file': join(folder, 'cert.pem') }).send(many(1), never)).toEqual(taken(1));
      await expect(outlet({ ...open, 'ca-file': join(folder, 'none.pem') }).send(many(1), never)).rejects.toMatchObject(
        { code: 'OUTLET_INVALID' },
      );
    } finally {
      for (const open of outlets) await open.close();
      await secure.close();
    }
  });
});

describe('frames', () => {
  const read = (...chunks: Uint8Array[]): string[] => {
    const reader = createFrameReader();
    return chunks.flatMap((chunk) => [...reader.push(chunk)]);
  };

  it('give the same messages wherever the stream is cut', () => {
    const stream = Buffer.concat([
      Buffer.from('noise\u001c\r'),
      frame('MSH|one\rMSA|AA|ä中\r'),
      Buffer.from('\r\n'),
      frame(''),
      frame('a\u001cb\u001c\u001cc'),
    ]);
    const whole = read(stream);
    expect(whole).toEqual(['MSH|one\rMSA|AA|ä中\r', '', 'a\u001cb\u001c\u001cc']);
    for (let cut = 0; cut <= stream.length; cut++)
      expect(read(stream.subarray(0, cut), stream.subarray(cut))).toEqual(whole);
    expect(read(...[...stream].map((byte) => Uint8Array.of(byte)))).toEqual(whole);
  });

  it('a frame that is begun anew counts from its new beginning', () => {
    expect(read(Buffer.from('\u000bhalf'), frame('whole'))).toEqual(['whole']);
  });

  it('a frame without end is dropped, and the next one is read', () => {
    expect(
      read(Buffer.from('\u000b'), Buffer.alloc(LONGEST_FRAME + 2, 65), Buffer.from('\u001c\r'), frame('next')),
    ).toEqual(['next']);
  });
});

describe('acknowledgements', () => {
  const ack = (msa: string, ...more: string[]) =>
    judgeAcknowledgement(['MSH|^~\\&|R|R|||20260302||ACK|9|P|2.5.1', msa, ...more].join('\r'), 'D17-3v1');
  it.each([
    ['nothing', ''],
    ['no header', 'MSA|AA|D17-3v1'],
    ['no MSA', 'MSH|^~\\&|R'],
  ])('%s is no answer', (_, text) => {
    expect(judgeAcknowledgement(text, 'D17-3v1')).toEqual({ kind: 'other' });
  });

  it('an unknown code, or another message’s, is no answer', () => {
    expect([ack('MSA|XX|D17-3v1'), ack('MSA|AA|D17-3v2'), ack('MSA|AA')]).toEqual([
      { kind: 'other' },
      { kind: 'other' },
      { kind: 'other' },
    ]);
  });

  it('other delimiters, as the answer’s own header declares them, are understood', () => {
    expect(
      judgeAcknowledgement('MSH#*~\\&#R\rMSA#AE#D17-3v1\rERR###101*Required field missing*HL70357#E', 'D17-3v1'),
    ).toEqual({
      kind: 'refused',
      reason: 'AE: 101 Required field missing',
    });
  });

  it('the place of the code in older versions is understood', () => {
    expect(ack('MSA|AR|D17-3v1', 'ERR|PID^1^5^101&Required field missing&HL70357')).toEqual({
      kind: 'refused',
      reason: 'AR: 101 Required field missing',
    });
  });

  it('a mixture of passing and lasting errors is lasting', () => {
    expect(ack('MSA|AR|D17-3v1', 'ERR|||207^x^HL70357|E', 'ERR|||101^y^HL70357|E').kind).toBe('refused');
  });
});
