/** What waits, and what is decided about it. */
import { Hono } from 'hono';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import type { ReadingId } from '../../core/reading.ts';
import { assign, nameControl, release, strikeOut, undoDecision } from '../../record/deciding.ts';
import type { Decided } from '../api/waiting.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { readBody, readQuery } from '../read-request.ts';
import type { DeskTools } from '../tools.ts';
import { waitingList } from '../waiting-list.ts';

const Page = z.strictObject({
  offset: z.coerce.number().int().min(0).default(0),
  limit: z.coerce.number().int().min(1).max(500).default(200),
});
const Readings = z.array(z.string().min(1).max(200)).min(1).max(1000);
const Decide = z.strictObject({ readings: Readings, reason: z.string().max(500) });
const Assign = Decide.extend({ patientId: z.string().max(200).nullable() });
const Name = z.strictObject({ readingId: z.string().min(1).max(200), levelNo: z.int() });

const idsOf = (readings: readonly string[]): ReadingId[] => [...new Set(readings)].map((id) => id as ReadingId);

/** The routes. */
export function waitingRoutes({ store, policy }: DeskTools): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  const decided = (count: number): Decided => ({ decided: count, waiting: store.judged.countHeld() });
  app.get('/api/waiting', may('look'), (c) => {
    const { offset, limit } = readQuery(c, Page);
    return c.json(waitingList(store, policy(), offset, limit));
  });
  app.post('/api/readings/assign', may('work'), async (c) => {
    const { readings, patientId, reason } = await readBody(c, Assign);
    const done = assign(store, c.get('record'), idsOf(readings), patientId ?? undefined, reason);
    return c.json(decided(done.length));
  });
  app.post('/api/readings/release', may('work'), async (c) => {
    const { readings, reason } = await readBody(c, Decide);
    return c.json(decided(release(store, c.get('record'), idsOf(readings), reason).length));
  });
  app.post('/api/readings/strike-out', may('work'), async (c) => {
    const { readings, reason } = await readBody(c, Decide);
    return c.json(decided(strikeOut(store, c.get('record'), idsOf(readings), reason).length));
  });
  app.post('/api/readings/undo', may('work'), async (c) => {
    const { readings, reason } = await readBody(c, Decide);
    const ids = idsOf(readings);
    store.db.write(() => {
      for (const id of ids) undoDecision(store, c.get('record'), id, reason);
    });
    return c.json(decided(ids.length));
  });
  app.post('/api/controls/name', may('work'), async (c) => {
    const { readingId, levelNo } = await readBody(c, Name);
    const [id] = idsOf([readingId]);
    if (id === undefined) throw new Fault('READING_UNKNOWN', 'There is no reading without an id', '');
    return c.json(decided(nameControl(store, c.get('record'), id, levelNo).length));
  });
  return app;
}
