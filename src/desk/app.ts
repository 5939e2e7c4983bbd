/**
 * The desk's server: guards around one file of routes a noun. Every answer is JSON but the page's own files and the
 * sheets for print.
 */
import { Hono } from 'hono';
import { Fault } from '../core/fault.ts';
import { answerFault } from './answer-fault.ts';
import { makeDeskStatus } from './desk-status.ts';
import type { DeskEnv } from './env.ts';
import { ownPageOnly } from './guards/foreign.ts';
import { forbiddingHeaders } from './guards/headers.ts';
import { knowOperator } from './guards/may.ts';
import { makeLiveFeed } from './live-feed.ts';
import { appointmentRoutes } from './routes/appointments.ts';
import { backupRoutes } from './routes/backup.ts';
import { dockRoutes } from './routes/docks.ts';
import { houseRoutes } from './routes/house.ts';
import { liveRoutes } from './routes/live.ts';
import { operatorRoutes } from './routes/operators.ts';
import { outletRoutes } from './routes/outlets.ts';
import { peopleRoutes } from './routes/people.ts';
import { printRoutes } from './routes/print.ts';
import { sessionRoutes } from './routes/session.ts';
import { virtualRoutes } from './routes/virtual.ts';
import { waitingRoutes } from './routes/waiting.ts';
import { makeSessions } from './sessions.ts';
import { pageRoutes } from './static-page.ts';
import type { DeskTools } from './tools.ts';

/** Makes the server's routes; nothing listens yet. */
export function makeDesk(tools: DeskTools): Hono<DeskEnv> {
  const sessions = makeSessions(() => tools.config().desk.idleMinutes);
  const status = makeDeskStatus(tools);
  const feed = makeLiveFeed(tools, status);
  const app = new Hono<DeskEnv>();
  app.onError((thrown, c) => answerFault(thrown, c, tools));
  app.use(forbiddingHeaders());
  app.use(ownPageOnly(tools));
  app.use(knowOperator(tools, sessions));
  // What somebody has done here, every page sees at once.
  app.use(async (c, next) => {
    await next();
    if (c.req.method !== 'GET') feed.look();
  });
  app.route('/', sessionRoutes(tools, sessions));
  app.route('/', operatorRoutes(tools, sessions));
  app.route('/', liveRoutes(tools, sessions, feed, status));
  app.route('/', dockRoutes(tools));
  app.route('/', virtualRoutes(tools));
  app.route('/', outletRoutes(tools));
  app.route('/', backupRoutes(tools));
  app.route('/', appointmentRoutes(tools));
  app.route('/', houseRoutes(tools));
  app.route('/', peopleRoutes(tools));
  app.route('/', printRoutes(tools));
  app.route('/', waitingRoutes(tools));
  app.all('/api/*', (c) =>
    answerFault(new Fault('REQUEST_WRONG', 'The desk does not know this question', 'Load the page again.'), c, tools),
  );
  app.route('/', pageRoutes());
  return app;
}
