/** Which port is which dock: the ports there are, and assigning one. */
import { Hono } from 'hono';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import { listPorts, type SeenPort } from '../../wire/transport/list-ports.ts';
import type { PortRow } from '../api/house.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { readBody } from '../read-request.ts';
import type { DeskTools } from '../tools.ts';

const NewDock = z.strictObject({
  name: z.string().trim().min(1).max(60),
  port: z.string().trim().min(1).max(300),
  profile: z.string().min(1).max(100).exactOptional(),
});

/** The routes. */
export function dockRoutes(tools: DeskTools): Hono<DeskEnv> {
  const { store, config, editConfig, reloadDocks } = tools;
  const app = new Hono<DeskEnv>();
  app.get('/api/ports', may('manage'), async (c) => {
    const seen = await listPorts();
    const { docks } = config();
    const assigned = docks.map((dock) => ({
      port: dock.port ?? dock.path ?? dock.usbSerial ?? '',
      says: '',
      dock: dock.name,
    }));
    const rows = seen.map((port): PortRow => {
      const dock = docks.find(
        (d) =>
          d.port === port.path ||
          (d.usbSerial !== undefined && d.usbSerial === port.serialNumber) ||
          (d.path !== undefined && port.places?.includes(d.path)),
      );
      return { port: port.path, says: saysOf(port), ...(dock ? { dock: dock.name } : {}) };
    });
    // A dock whose port is not there now is shown all the same: else nobody could take it back.
    return c.json([...rows, ...assigned.filter(({ dock }) => !rows.some((row) => row.dock === dock))]);
  });
  app.post('/api/docks', may('manage'), async (c) => {
    const { name, port, profile } = await readBody(c, NewDock);
    const seen = (await listPorts()).find((p) => p.path === port);
    // An adapter with a serial number of its own is found again wherever it is plugged in.
    const where = seen?.serialNumber ? { 'usb-serial': seen.serialNumber } : { port };
    editConfig([{ kind: 'add-dock', dock: { name, ...where, ...(profile === undefined ? {} : { profile }) } }]);
    const { by, now } = c.get('record');
    store.audit.append({ at: now, actor: by, action: 'dock-assigned', subject: `dock ${name}`, detail: { port } });
    await reloadDocks();
    return c.json({});
  });
  app.delete('/api/docks/:name', may('manage'), async (c) => {
    const name = c.req.param('name');
    if (!config().docks.some((dock) => dock.name === name))
      throw new Fault('NOT_POSSIBLE', `There is no dock "${name}"`, 'See the list.');
    editConfig([{ kind: 'remove-dock', name }]);
    const { by, now } = c.get('record');
    store.audit.append({ at: now, actor: by, action: 'dock-removed', subject: `dock ${name}`, detail: {} });
    await reloadDocks();
    return c.json({});
  });
  return app;
}

const saysOf = ({ manufacturer, serialNumber }: SeenPort): string =>
  [manufacturer, serialNumber].filter((part) => part !== undefined).join(' ');
