/** Where readings are forwarded to, and whether that is behind. */
import { Hono } from 'hono';
import { Fault } from '../../core/fault.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import type { DeskTools } from '../tools.ts';

/** The routes. */
export function outletRoutes({ store, daemon }: DeskTools): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  app.get('/api/outlets', may('look'), (c) => c.json(daemon.status().outlets));
  for (const [what, state, action] of [
    ['pause', 'paused', 'outlet-paused'],
    ['resume', 'running', 'outlet-resumed'],
  ] as const)
    app.post(`/api/outlets/:name/${what}`, may('manage'), (c) => {
      const name = c.req.param('name') ?? '';
      const { by, now } = c.get('record');
      store.db.write(() => {
        const row = store.outlets.find(name);
        if (!row) throw new Fault('OUTLET_UNKNOWN', `There is no outlet "${name}"`, 'See the list.');
        store.outlets.setState(row.outletNo, state);
        store.audit.append({ at: now, actor: by, action, subject: name, detail: {} });
      });
      return c.json({});
    });
  return app;
}
