/** Transactions to a FHIR server: stored once whatever goes wrong, and one that is not wanted holds back no other. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { ReadingId } from '../../../src/core/reading.ts';
import { judgeAnswer } from '../../../src/outlets/fhir/answer.ts';
import { fhirServerOutlet } from '../../../src/outlets/fhir/server-outlet.ts';
import { FhirServerSettings } from '../../../src/outlets/fhir/settings.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { fhirServer, outcome, type TestServer } from './fhir-server.ts';
import { first, many, NOW, reading } from './readings.ts';

let server: TestServer;
beforeEach(async () => {
  server = await fhirServer();
});
afterEach(() => server.close());

const never = new AbortController().signal;
const outlet = (parts: { secret?: string; timeout?: number; url?: string } = {}) =>
  fhirServerOutlet(FhirServerSettings.parse({ url: parts.url ?? server.url, timeout: parts.timeout ?? 30 }), {
    site: 'Port Alder',
    now: () => NOW,
    secret: () => parts.secret,
  });
const down = { code: 'OUTLET_DOWN' };
const ids = () =>
  server
    .of('Observation')
    .flatMap((o) => o.identifier?.map((i) => i.value) ?? [])
    .filter((v) => v?.includes('/'));

describe('a server that is well', () => {
  it('stores every reading of a batch, with one Patient and one Device for each thing', async () => {
    expect(await outlet().send(many(50), never)).toEqual(many(50).map(() => ({ kind: 'taken' })));
    expect(ids()).toHaveLength(100);
    expect([server.of('Patient').length, server.of('Device').length, server.of('Provenance').length]).toEqual([
      1, 3, 50,
    ]);
    expect(server.requests).toHaveLength(1);
  });

  it('the same batch again changes nothing', async () => {
    await outlet().send(many(5), never);
    const before = new Map(server.stored);
    await outlet().send(many(5), never);
    expect(new Map(server.stored)).toEqual(before);
  });

  it('a correction takes the place of what is there; a withdrawn one stays, marked', async () => {
    const open = outlet();
    await open.send([first()], never);
    const before = { version: 1, patientId: 'PA-2041' };
    const moved = reading({ version: 2, patient: { id: 'PA-7' } });
    await open.send([{ seq: 2, reading: moved, before, isWithdrawn: false }], never);
    const inr = () => server.of('Observation').find((o) => o.identifier?.some((i) => i.value === 'D17-3/1'));
    const subject = () =>
      server.stored.get((inr()?.['subject'] as { reference?: string } | undefined)?.reference ?? '');
    expect([inr()?.['status'], subject()?.identifier?.[0]?.value, ids().length]).toEqual(['corrected', 'PA-7', 2]);
    const gone = {
      seq: 3,
      reading: { ...moved, version: 3 },
      before: { version: 2, patientId: 'PA-7' },
      isWithdrawn: true,
    };
    await open.send([gone], never);
    expect([inr()?.['status'], subject()?.identifier?.[0]?.value, ids().length]).toEqual([
      'entered-in-error',
      'PA-7',
      2,
    ]);
    expect(server.of('Provenance')).toHaveLength(3);
  });

  it('a correction of what the server never had is stored', async () => {
    await outlet().send(
      [{ seq: 2, reading: reading({ version: 2 }), before: { version: 1 }, isWithdrawn: false }],
      never,
    );
    expect(ids()).toHaveLength(2);
  });

  it('what the server knows of a person is not overwritten', async () => {
    const theirs = {
      resourceType: 'Patient',
      identifier: [{ system: 'urn:tallydock:Port%20Alder:patient', value: 'PA-2041' }],
      gender: 'female',
    };
    server.plant(theirs);
    await outlet().send([first()], never);
    expect(server.of('Patient')).toEqual([theirs]);
  });

  it('two versions of one reading in a batch are stored in their order', async () => {
    const second: Delivery = {
      seq: 2,
      reading: reading({ version: 2 }),
      before: { version: 1, patientId: 'PA-2041' },
      isWithdrawn: false,
    };
    expect(await outlet().send([first(), second], never)).toHaveLength(2);
    expect(server.requests).toHaveLength(2);
    expect(server.of('Observation').filter((o) => o['status'] === 'amended')).toHaveLength(2);
  });

  it('the token is asked for at every request and sent as bearer token', async () => {
    await outlet({ secret: 'invented-token' }).send([first()], never);
    await outlet().send([first()], never);
    expect(server.requests.map(({ headers }) => headers.authorization)).toEqual(['Bearer invented-token', undefined]);
  });
});

describe('a reading that is not wanted', () => {
  const poison = (...places: number[]) => {
    const unwanted = places.map((n) => many(20)[n]?.reading.id);
    server.unwanted = (resource) =>
      resource.identifier?.some((i) => unwanted.includes(i.value?.split('/')[0] as ReadingId))
        ? 'INR beyond what we take'
        : undefined;
  };

  it.each([[[0]], [[19]], [[7]], [[3, 4]], [[0, 19]], [[...Array(20).keys()]]])(
    'those at %j are refused with the server’s reason, all others are taken',
    async (places) => {
      poison(...places);
      const results = await outlet().send(many(20), never);
      const refused = { kind: 'refused', reason: '422: INR beyond what we take' };
      expect(results).toEqual(many(20).map((_, i) => (places.includes(i) ? refused : { kind: 'taken' })));
      expect(ids()).toHaveLength(2 * (20 - places.length));
    },
  );

  it('a person whom the server has twice is a refusal of that person’s readings alone', async () => {
    const twin = {
      resourceType: 'Patient',
      identifier: [{ system: 'urn:tallydock:Port%20Alder:patient', value: 'PA-7' }],
    };
    server.plant(twin);
    server.plant(twin);
    const batch = many(4).map((d, i) => (i === 2 ? { ...d, reading: { ...d.reading, patient: { id: 'PA-7' } } } : d));
    const results = await outlet().send(batch, never);
    expect(results.map((r) => r.kind)).toEqual(['taken', 'taken', 'refused', 'taken']);
    expect(results[2]).toMatchObject({ reason: expect.stringContaining('412') });
  });
});

describe('a server in trouble', () => {
  it.each([500, 502, 503, 429, 408, 401, 403, 404, 405, 302])(
    '%i is OUTLET_DOWN and nothing is refused',
    async (status) => {
      server.mishaps.push({ kind: 'status', status, headers: { location: 'http://127.0.0.1:1/elsewhere' } });
      await expect(outlet().send(many(2), never)).rejects.toMatchObject(down);
      expect(server.requests).toHaveLength(1);
      expect(await outlet().send(many(2), never)).toHaveLength(2);
    },
  );

  it('trouble while a batch is halved leaves the whole batch for later', async () => {
    server.mishaps.push({ kind: 'status', status: 400, body: outcome('no') }, { kind: 'status', status: 503 });
    await expect(outlet().send(many(2), never)).rejects.toMatchObject(down);
    expect(await outlet().send(many(2), never)).toEqual([{ kind: 'taken' }, { kind: 'taken' }]);
    expect(ids()).toHaveLength(4);
  });

  it('a server that stored and hung up before it answered has everything once after the batch came again', async () => {
    server.mishaps.push({ kind: 'store-and-hang-up' });
    await expect(outlet().send(many(3), never)).rejects.toMatchObject(down);
    await outlet().send(many(3), never);
    expect([ids().length, server.of('Provenance').length]).toEqual([6, 3]);
  });

  it('no answer in time is OUTLET_DOWN', async () => {
    server.mishaps.push({ kind: 'silence' });
    await expect(outlet({ timeout: 1 }).send([first()], never)).rejects.toMatchObject({
      ...down,
      message: expect.stringContaining('did not answer in time'),
    });
  });

  it('a stop of the program ends the waiting', async () => {
    server.mishaps.push({ kind: 'silence' });
    const stop = new AbortController();
    const sent = outlet().send([first()], stop.signal);
    stop.abort();
    await expect(sent).rejects.toMatchObject(down);
  });

  it('a connection that is closed, or refused, is OUTLET_DOWN', async () => {
    server.mishaps.push({ kind: 'hang-up' });
    await expect(outlet().send([first()], never)).rejects.toMatchObject(down);
    await expect(outlet({ url: 'http://127.0.0.1:1/fhir' }).send([first()], never)).rejects.toMatchObject(down);
  });

  it.each([
    ['no JSON', '<html>welcome</html>'],
    ['JSON of another kind', '{"resourceType":"Patient"}'],
    ['fewer entries than were sent', '{"resourceType":"Bundle","type":"transaction-response","entry":[]}'],
  ])('a 200 with %s is not taken for stored', async (_, body) => {
    server.mishaps.push({ kind: 'status', status: 200, body });
    await expect(outlet().send([first()], never)).rejects.toMatchObject(down);
  });
});

describe('settings and answers', () => {
  it('a token never travels unencrypted to another machine', async () => {
    const open = outlet({ url: 'http://record.example/fhir', secret: 'invented-token' });
    await expect(open.send([first()], never)).rejects.toMatchObject({ code: 'OUTLET_INVALID' });
  });

  it('an address that is none is refused', () => {
    for (const url of ['record', 'ftp://record.example', ''])
      expect(FhirServerSettings.safeParse({ url }).success).toBe(false);
  });

  it('a reason names the place where the server gives one, and is never endless', () => {
    const body = {
      resourceType: 'OperationOutcome',
      issue: [{ severity: 'error', code: 'value', details: { text: 'Too high' }, expression: ['Observation.value'] }],
    };
    expect(judgeAnswer(422, JSON.stringify(body), 1)).toEqual({
      kind: 'refused',
      reason: '422: Too high (Observation.value)',
    });
    const long = judgeAnswer(400, outcome('x'.repeat(5000)), 1);
    expect(long.kind === 'refused' && long.reason.length).toBe(500);
  });

  it('a refusal by 401 points to the token, by 404 to the address', () => {
    expect(judgeAnswer(401, '', 1)).toMatchObject({ kind: 'down', hint: expect.stringContaining('token') });
    expect(judgeAnswer(404, '', 1)).toMatchObject({ kind: 'down', hint: expect.stringContaining('address') });
  });
});
