/** Lets a request through to its route only from somebody who is signed in and may do it. */
import type { MiddlewareHandler } from 'hono';
import { getCookie } from 'hono/cookie';
import { Fault } from '../../core/fault.ts';
import { ROLES, type Role } from '../api/state.ts';
import type { DeskEnv } from '../env.ts';
import type { Sessions } from '../sessions.ts';
import type { DeskTools } from '../tools.ts';

/** Name of the cookie with the session's token. */
export const COOKIE = 'desk';

/** Finds out who asks, once for every request; nobody is nobody. What the page asks by itself is no use of the session. */
export function knowOperator(tools: DeskTools, sessions: Sessions): MiddlewareHandler<DeskEnv> {
  return async (c, next) => {
    const now = tools.now();
    const session = sessions.find(getCookie(c, COOKIE), now, c.req.method !== 'GET');
    const operator = session && tools.store.operators.find(session.name);
    if (operator && operator.retiredAt === undefined && operator.passphrase === session.passphrase) {
      c.set('operator', { name: operator.name, role: operator.role });
      c.set('record', { now, by: operator.name, policy: tools.policy() });
    }
    await next();
  };
}

/** Only for those whose role goes so far. Throws SIGN_IN_NEEDED or ROLE_MISSING. */
export function may(role: Role): MiddlewareHandler<DeskEnv> {
  return async (c, next) => {
    const operator = c.get('operator');
    if (!operator) throw new Fault('SIGN_IN_NEEDED', 'The desk is locked', 'Sign in.');
    if (ROLES.indexOf(operator.role) < ROLES.indexOf(role))
      throw new Fault(
        'ROLE_MISSING',
        `Your role "${operator.role}" does not go so far; this needs "${role}"`,
        'Ask somebody who manages the desk.',
      );
    await next();
  };
}
