/**
 * A meter that does not exist, to try the desk with. Its tests are invented: each is struck out as soon as it is read, so
 * that it counts for nobody and goes nowhere; and it is offered only as long as no real meter was read and nobody is
 * registered.
 */
import { Hono } from 'hono';
import { asFault, Fault } from '../../core/fault.ts';
import type { ReadingId } from '../../core/reading.ts';
import { zoneOf } from '../../core/zone.ts';
import type { RecordContext } from '../../record/context.ts';
import { strikeOut } from '../../record/deciding.ts';
import { chanceFrom } from '../../virtual/chance.ts';
import { NO_FAULTS } from '../../virtual/faults.ts';
import { virtualPort } from '../../virtual/port.ts';
import { portAlderMeters } from '../../virtual/port-alder.ts';
import { type Served, serveTcp } from '../../virtual/serve.ts';
import { lineSpeaker } from '../../virtual/speak-line.ts';
import { VIRTUAL_DOCK } from '../api/limits.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import type { DeskTools } from '../tools.ts';

/** The number by which it goes. */
const VIRTUAL_ID = 'VIRTUAL-1';
const REASON = 'virtual meter: invented tests';

/** The routes. */
export function virtualRoutes(tools: DeskTools): Hono<DeskEnv> {
  const { store, daemon, now, reloadDocks } = tools;
  let served: Served | undefined;
  let stopWatching: (() => void) | undefined;
  const strikeAll = (context: RecordContext): void => {
    const meters = store.meters.list(VIRTUAL_ID);
    const ids = meters.flatMap(({ meterNo }) =>
      store.judged.list({ meterNo }).flatMap((j): ReadingId[] => (j.status === 'void' ? [] : [j.reading])),
    );
    if (ids.length > 0) strikeOut(store, context, ids, REASON);
  };
  /** The daemon tells of a change: nothing that goes wrong here may reach it, and its next change comes soon. */
  const strikeNow = (by: string): void => {
    try {
      strikeAll({ now: now(), by, policy: tools.policy() });
    } catch (thrown) {
      tools.log.warn({ code: asFault(thrown).code }, 'virtual meter: not struck out yet');
    }
  };
  const serve = (): Promise<Served> => {
    const [home] = portAlderMeters(now() % 1_000_000, now(), zoneOf(tools.zone()));
    const meter = { ...home.meter, id: VIRTUAL_ID };
    return serveTcp(virtualPort(lineSpeaker(), meter, NO_FAULTS, chanceFrom(1), now), 0, false);
  };
  const end = async (context: RecordContext): Promise<void> => {
    stopWatching?.();
    stopWatching = undefined;
    await reloadDocks();
    await served?.close();
    served = undefined;
    strikeAll(context);
  };
  // A daemon that was killed between storing and striking out leaves some behind.
  strikeAll({ now: now(), by: 'desk', policy: tools.policy() });
  const app = new Hono<DeskEnv>();
  app.post('/api/virtual', may('manage'), async (c) => {
    const isUsed = store.meters.list().some((m) => m.id !== VIRTUAL_ID) || store.patients.count() > 0;
    if (isUsed || store.outlets.list().length > 0)
      throw new Fault(
        'NOT_POSSIBLE',
        'This store is in use: invented tests do not belong into it',
        'Try the virtual meter on another data folder: tallydock virtual-meter',
      );
    const { by } = c.get('record');
    served ??= await serve();
    stopWatching ??= daemon.watch(() => strikeNow(by));
    await reloadDocks({ name: VIRTUAL_DOCK, port: served.where, setClock: 'when-off', detect: false });
    return c.json({});
  });
  app.post('/api/virtual/end', may('manage'), async (c) => {
    await end(c.get('record'));
    return c.json({});
  });
  return app;
}
