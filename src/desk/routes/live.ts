/** The docks as they are, and every change as it comes: server-sent events. */
import { Hono } from 'hono';
import { getCookie } from 'hono/cookie';
import { streamSSE } from 'hono/streaming';
import type { DeskStatus } from '../api/live.ts';
import type { DeskEnv } from '../env.ts';
import { COOKIE, may } from '../guards/may.ts';
import type { LiveFeed } from '../live-feed.ts';
import type { Sessions } from '../sessions.ts';
import type { DeskTools } from '../tools.ts';

/** Something is said so often, else whoever stands between would close the line; and so often the session is looked at. */
const HEARTBEAT_MS = 15_000;

/** The routes. */
export function liveRoutes(
  { now }: DeskTools,
  sessions: Sessions,
  feed: LiveFeed,
  status: () => DeskStatus,
): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  app.get('/api/dock', may('look'), (c) => c.json(status()));
  /** Somebody is at the desk: said by the page now and then, so that the session does not end under her hands. */
  app.post('/api/here', may('look'), (c) => c.json({}));
  app.get('/api/live', may('look'), (c) => {
    const token = getCookie(c, COOKIE);
    return streamSSE(c, async (stream) => {
      await new Promise<void>((resolve) => {
        const isOver = (): boolean => sessions.find(token, now(), false) === undefined;
        const say = (event: string, data: unknown): void => {
          if (isOver()) end();
          else void stream.writeSSE({ event, data: JSON.stringify(data) });
        };
        const stopListening = feed.listen({
          status: (is) => say('status', is),
          changed: (n) => say('changed', { n }),
        });
        const heartbeat = setInterval(() => (isOver() ? end() : void stream.write(': here\n\n')), HEARTBEAT_MS);
        const stopWaiting = sessions.onEnd(() => isOver() && end());
        const end = (): void => {
          clearInterval(heartbeat);
          stopListening();
          stopWaiting();
          resolve();
        };
        stream.onAbort(end);
      });
    });
  });
  return app;
}
