/** Who is there: the state of the desk, signing in and out, and the first run, which makes the first operator. */
import { Hono } from 'hono';
import { deleteCookie, getCookie, setCookie } from 'hono/cookie';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import { zoneOf } from '../../core/zone.ts';
import { isLoopback } from '../../dock/config-desk.ts';
import { addOperator } from '../../record/operators.ts';
import type { DeskState } from '../api/state.ts';
import type { DeskContext, DeskEnv } from '../env.ts';
import { hostNameOf } from '../guards/foreign.ts';
import { COOKIE } from '../guards/may.ts';
import { isPassphrase, storedForm } from '../passphrase.ts';
import { readBody } from '../read-request.ts';
import type { Sessions } from '../sessions.ts';
import { makeSignInLimit } from '../sign-in-limit.ts';
import type { DeskTools } from '../tools.ts';

/** A name with which decisions are signed. */
export const OperatorName = z
  .string()
  .trim()
  .regex(/^[^\p{Cc}]{1,60}$/u, 'must be 1 to 60 characters');

/** A passphrase as it is typed. */
export const Passphrase = z.string().min(1).max(200);

const SignIn = z.strictObject({ name: z.string().max(200), passphrase: Passphrase });
const FirstRun = z.strictObject({
  clinic: z.string().trim().min(1).max(80),
  zone: z.string().refine(isZone, 'names no time zone'),
  name: OperatorName,
  passphrase: Passphrase,
});

function isZone(name: string): boolean {
  try {
    zoneOf(name);
    return true;
  } catch {
    return false;
  }
}

/** The routes that need no sign-in. */
export function sessionRoutes(tools: DeskTools, sessions: Sessions): Hono<DeskEnv> {
  const { store } = tools;
  const limit = makeSignInLimit();
  const stateOf = (c: DeskContext): DeskState => {
    const { clinic, idleMinutes } = tools.config().desk;
    const operator = c.get('operator');
    return {
      version: tools.version,
      ...(clinic === undefined ? {} : { clinic }),
      zone: tools.zone(),
      isFirstRun: store.operators.count() === 0,
      ...(operator ? { operator } : {}),
      idleMinutes,
    };
  };
  /** Signs in, always by a new token: one that somebody else has put into the browser is worth nothing. */
  const begin = (c: DeskContext, name: string): void => {
    sessions.end(getCookie(c, COOKIE));
    const operator = store.operators.find(name);
    if (!operator) return;
    setCookie(c, COOKIE, sessions.begin(operator, tools.now()), {
      httpOnly: true,
      sameSite: 'Strict',
      path: '/',
      secure: tools.config().desk.tls !== undefined,
    });
    c.set('operator', { name: operator.name, role: operator.role });
  };
  const app = new Hono<DeskEnv>();
  app.get('/api/state', (c) => c.json(stateOf(c)));
  app.post('/api/sign-in', async (c) => {
    const { name, passphrase } = await readBody(c, SignIn);
    const now = tools.now();
    const until = limit.restUntil(name, now);
    if (until !== undefined) {
      const seconds = Math.ceil((until - now) / 1000);
      c.header('retry-after', String(seconds));
      throw new Fault(
        'SIGN_IN_RESTING',
        `Too many wrong tries: try again in ${seconds} s`,
        'Wait, then try once more.',
      );
    }
    const operator = store.operators.find(name.trim());
    const stored = operator && operator.retiredAt === undefined ? operator.passphrase : undefined;
    // Counted before it is looked at: tries that come at once must not all be free.
    limit.wrong(name, now);
    if (!(await isPassphrase(passphrase, stored))) {
      store.audit.append({ at: now, actor: 'desk', action: 'sign-in-refused', subject: 'desk', detail: {} });
      throw new Fault('SIGN_IN_WRONG', 'Name and passphrase do not fit', 'Look at Caps Lock, then try again.');
    }
    limit.right(name);
    begin(c, name.trim());
    store.audit.append({ at: now, actor: operator?.name ?? '', action: 'signed-in', subject: 'desk', detail: {} });
    return c.json(stateOf(c));
  });
  app.post('/api/sign-out', (c) => {
    sessions.end(getCookie(c, COOKIE));
    deleteCookie(c, COOKIE, { path: '/' });
    return c.json({});
  });
  app.post('/api/first-run', async (c) => {
    const { clinic, zone, name, passphrase } = await readBody(c, FirstRun);
    if (!isLoopback(hostNameOf(c.req.header('host') ?? '')))
      throw new Fault('REQUEST_FOREIGN', 'The first operator is made on the PC itself', 'Open the desk there.');
    const passphraseForm = await storedForm(passphrase, name);
    store.db.write(() => {
      if (store.operators.count() > 0)
        throw new Fault('NOT_POSSIBLE', 'The desk has its operators already', 'Sign in.');
      const context = { now: tools.now(), by: name };
      addOperator(store, context, { name, role: 'manage', passphrase: passphraseForm });
      tools.editConfig([
        { kind: 'set', key: 'zone', value: zone },
        { kind: 'set', table: 'desk', key: 'clinic', value: clinic },
      ]);
    });
    begin(c, name);
    return c.json(stateOf(c));
  });
  return app;
}
