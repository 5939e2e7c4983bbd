/** Who may use the desk: first run, signing in and out, roles, operators. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { type Instant, instant } from '../../src/core/instant.ts';
import { MADE_AT, tempFolder, tempStore } from '../store/temp-store.ts';
import { type Answer, type AtDesk, PASSPHRASE, testDesk } from '../support/desk.ts';

/** A desk over an empty store whose time a test moves on, with somebody who manages it unless there is to be nobody. */
async function setting(hasOperators = true) {
  const folder = tempFolder();
  const store = tempStore(folder);
  let time: number = MADE_AT;
  const now = (): Instant => instant(time);
  const desk = await testDesk({ store, folder, now });
  onTestFinished(() => desk.close());
  const pass = (ms: number): void => {
    time += ms;
  };
  const as = async (role: 'manage' | 'work' | 'look'): Promise<AtDesk['ask']> => (await desk.as(role)).ask;
  if (hasOperators) await as('manage');
  const nobody = desk.nobody.ask;
  const attempt = (name: string, passphrase: string) => nobody('POST', '/api/sign-in', { name, passphrase });
  return { as, nobody, store, folder, pass, attempt };
}

const codeOf = ({ body, status }: Answer): string =>
  (body as { error?: { code: string } }).error?.code ?? `no error: ${status}`;

describe('the first run', () => {
  const FIRST = { clinic: 'Port Alder', zone: 'Europe/Lisbon', name: 'Rosa', passphrase: PASSPHRASE };

  it('names the clinic, makes the first operator and signs in, once', async () => {
    const { nobody, store, folder } = await setting(false);
    expect((await nobody('GET', '/api/state')).body).toMatchObject({ isFirstRun: true });
    const done = await nobody('POST', '/api/first-run', FIRST);
    expect(done.body).toMatchObject({
      isFirstRun: false,
      clinic: 'Port Alder',
      operator: { name: 'Rosa', role: 'manage' },
    });
    expect(readFileSync(join(folder, 'config.toml'), 'utf8')).toContain('clinic = "Port Alder"');
    expect(codeOf(await nobody('POST', '/api/first-run', { ...FIRST, name: 'Thief' }))).toBe('NOT_POSSIBLE');
    expect(store.operators.list().map((o) => o.name)).toEqual(['Rosa']);
    expect(store.audit.list().map((a) => [a.actor, a.action])).toContainEqual(['Rosa', 'operator-added']);
  });

  it.each([
    ['a short passphrase', { passphrase: 'short' }],
    ['an obvious one', { passphrase: 'passwordpassword' }],
    ['one that holds the name', { passphrase: 'rosa rosa rosa' }],
    ['a zone that is none', { zone: 'Port/Alder' }],
    ['an empty name', { name: '  ' }],
    ['a name with a control character', { name: 'Ro\nsa' }],
    ['an unknown field', { role: 'manage' }],
  ])('refuses %s and makes nobody', async (_, wrong) => {
    const { nobody, store } = await setting(false);
    expect(codeOf(await nobody('POST', '/api/first-run', { ...FIRST, ...wrong }))).toBe('REQUEST_WRONG');
    expect(store.operators.count()).toBe(0);
  });
});

describe('a session', () => {
  it('begins with the passphrase, whatever the case of the name, and ends with signing out', async () => {
    const { as, attempt } = await setting();
    expect((await attempt('MANAGE', PASSPHRASE)).body).toMatchObject({ operator: { name: 'manage', role: 'manage' } });
    const rosa = await as('manage');
    expect((await rosa('GET', '/api/dock')).status).toBe(200);
    await rosa('POST', '/api/sign-out', {});
    expect(codeOf(await rosa('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
  });

  it('ends after the idle minutes, and is kept by whoever is at the desk', async () => {
    const { as, pass } = await setting();
    const rosa = await as('manage');
    for (let i = 0; i < 3; i++) {
      pass(9 * 60_000);
      expect((await rosa('POST', '/api/here', {})).status).toBe(200);
    }
    pass(12 * 60_000);
    expect(codeOf(await rosa('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
  });

  it('ends after twelve hours, however busy', async () => {
    const { as, pass } = await setting();
    const rosa = await as('manage');
    for (let i = 0; i < 80; i++) {
      pass(9 * 60_000);
      await rosa('POST', '/api/here', {});
    }
    pass(60_001);
    expect(codeOf(await rosa('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
  });

  it('is not that of a retired operator, who cannot sign in either', async () => {
    const { as, attempt } = await setting();
    const [rosa, tamsin] = [await as('manage'), await as('work')];
    await rosa('PUT', '/api/operators/work', { isRetired: true });
    expect(codeOf(await tamsin('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
    expect(codeOf(await attempt('work', PASSPHRASE))).toBe('SIGN_IN_WRONG');
  });
});

describe('signing in', () => {
  it('says the same of a wrong passphrase and of a name that is not there', async () => {
    const { attempt } = await setting();
    const wrong = await attempt('manage', 'not this one');
    const nobody = await attempt('Jory', 'not this one');
    expect(wrong.body).toEqual(nobody.body);
    expect([wrong.status, nobody.status]).toEqual([401, 401]);
  });

  it('rests after five wrong tries, even for the right passphrase, and longer after each further one', async () => {
    const { pass, attempt } = await setting();
    const rests = async (): Promise<unknown> => {
      const { status, headers } = await attempt('manage', PASSPHRASE);
      return [status, headers.get('retry-after')];
    };
    for (let i = 0; i < 5; i++) expect(codeOf(await attempt('manage', 'not this one'))).toBe('SIGN_IN_WRONG');
    expect(await rests()).toEqual([429, '30']);
    pass(30_001);
    expect(codeOf(await attempt('manage', 'not this one'))).toBe('SIGN_IN_WRONG');
    expect(await rests()).toEqual([429, '60']);
    pass(60_001);
    expect(await rests()).toEqual([200, null]);
    expect(codeOf(await attempt('manage', 'not this one'))).toBe('SIGN_IN_WRONG'); // counted afresh
  });

  it('does not let many tries at once through', async () => {
    const { attempt } = await setting();
    const answers = await Promise.all(Array.from({ length: 12 }, () => attempt('manage', 'no no no no')));
    expect(answers.filter((a) => a.status === 401)).toHaveLength(5);
    expect(answers.filter((a) => a.status === 429)).toHaveLength(7);
  });

  it('rests for every name after twenty wrong tries in all', async () => {
    const { attempt } = await setting();
    for (let i = 0; i < 20; i++) await attempt(`Nobody ${i}`, 'no no no no');
    expect(codeOf(await attempt('manage', PASSPHRASE))).toBe('SIGN_IN_RESTING');
  }, 120_000); // each try costs what a passphrase is meant to cost
});

describe('roles', () => {
  it.each([
    ['look', 'POST', '/api/people', { id: 'ALDER-900' }],
    ['look', 'POST', '/api/readings/release', { readings: ['D1-1'], reason: 'seen' }],
    ['look', 'GET', '/api/operators', undefined],
    ['work', 'POST', '/api/operators', { name: 'Jory', role: 'manage', passphrase: PASSPHRASE }],
    ['work', 'POST', '/api/docks', { name: 'front desk', port: 'COM3' }],
    ['work', 'POST', '/api/virtual', {}],
  ] as const)('keep "%s" from what is not theirs: %s %s', async (role, method, path, body) => {
    const { as } = await setting();
    const answer = await (await as(role))(method, path, body);
    expect([answer.status, codeOf(answer)]).toEqual([403, 'ROLE_MISSING']);
  });

  it('let whoever works register a person, signed with their name', async () => {
    const { as, store } = await setting();
    await (await as('work'))('POST', '/api/people', { id: 'ALDER-900', name: 'Ines Calloway' });
    expect(store.patients.find('ALDER-900')?.name).toBe('Ines Calloway');
    expect(store.audit.list().at(-1)).toMatchObject({ actor: 'work', action: 'patient-added' });
  });
});

describe('operators', () => {
  it('always have somebody who manages the desk', async () => {
    const { as } = await setting();
    const rosa = await as('manage');
    await as('work');
    const change = (name: string, body: object) => rosa('PUT', `/api/operators/${name}`, body);
    expect(codeOf(await change('manage', { role: 'work' }))).toBe('NOT_POSSIBLE');
    expect(codeOf(await change('manage', { isRetired: true }))).toBe('NOT_POSSIBLE');
    expect((await change('work', { role: 'manage' })).status).toBe(200);
    expect((await change('manage', { role: 'work' })).status).toBe(200);
  });

  it('whose passphrase was changed by a command are signed out', async () => {
    const { as, store } = await setting();
    const rosa = await as('manage');
    const operator = store.operators.find('manage');
    if (!operator) throw new Error('nobody manages');
    store.operators.change({ ...operator, passphrase: 'scrypt$15$8$3$AAAA$AAAA' });
    expect(codeOf(await rosa('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
  });

  it('are told nothing of a passphrase, and a new one ends the sessions under the old', async () => {
    const { as, attempt } = await setting();
    const [rosa, tamsin] = [await as('manage'), await as('work')];
    expect(JSON.stringify((await rosa('GET', '/api/operators')).body)).not.toContain('scrypt');
    await rosa('PUT', '/api/operators/work', { passphrase: 'seven grey gulls' });
    expect(codeOf(await tamsin('GET', '/api/dock'))).toBe('SIGN_IN_NEEDED');
    expect(codeOf(await attempt('work', PASSPHRASE))).toBe('SIGN_IN_WRONG');
    expect((await attempt('work', 'seven grey gulls')).status).toBe(200);
  });
});
