/**
 * The desk's server: a sign-in guard around one file of routes a noun. Every answer is JSON but the page's own files and
 * the sheets for print.
 */
import { Hono } from 'hono';
import type { DeskEnv } from './env.ts';
import type { DeskTools } from './tools.ts';

/** Makes the server's routes; nothing listens yet. */
export function makeDesk(tools: DeskTools): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  app.get('/api/version', (c) => c.json({ version: tools.version }));
  return app;
}
