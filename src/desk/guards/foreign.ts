/**
 * Refuses what does not come from the desk's own page: another name in the address (a name that was made to point here
 * afterwards), another site's page, a form, a body that is no JSON or too long.
 */
import type { MiddlewareHandler } from 'hono';
import { Fault } from '../../core/fault.ts';
import { isLoopback } from '../../dock/config-desk.ts';
import type { DeskEnv } from '../env.ts';
import { MAX_BODY_BYTES } from '../read-request.ts';
import type { DeskTools } from '../tools.ts';

const foreign = (what: string): Fault =>
  new Fault(
    'REQUEST_FOREIGN',
    what,
    'Open the desk by its own address; other names belong into host-names of [desk] in config.toml.',
  );

/** The name in a Host header or an origin, without its port. */
export const hostNameOf = (host: string): string =>
  host
    .replace(/:\d+$/, '')
    .replace(/^\[(.*)\]$/, '$1')
    .toLowerCase();

/** The guard. Throws REQUEST_FOREIGN or REQUEST_WRONG. */
export function ownPageOnly(tools: DeskTools): MiddlewareHandler<DeskEnv> {
  return async (c, next) => {
    const { address, hostNames } = tools.config().desk;
    const host = c.req.header('host') ?? '';
    const name = hostNameOf(host);
    const isOurs =
      isLoopback(name) || name === address.toLowerCase() || hostNames.some((n) => n.toLowerCase() === name);
    if (!isOurs) throw foreign(`The desk does not go by the name "${name.slice(0, 100)}"`);
    if (c.req.method !== 'GET' && c.req.method !== 'HEAD') {
      const origin = c.req.header('origin');
      const site = c.req.header('sec-fetch-site');
      const isOwn =
        (origin === undefined || origin.toLowerCase().replace(/^https?:\/\//, '') === host.toLowerCase()) &&
        (site === undefined || site === 'same-origin') &&
        c.req.header('x-tallydock') === '1';
      if (!isOwn) throw foreign('The request does not come from the desk’s own page');
      const length = Number(c.req.header('content-length') ?? 0);
      if (length > MAX_BODY_BYTES || c.req.header('transfer-encoding') !== undefined)
        throw new Fault('REQUEST_WRONG', `The request is longer than ${MAX_BODY_BYTES} bytes`, 'Send less at once.');
    }
    await next();
  };
}
