/** Meters, strip lots, controls, the comparison with the laboratory, the month. */
import { Hono } from 'hono';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import { driftBy } from '../../intake/drift.ts';
import { putControl, putLot } from '../../record/registers.ts';
import { gatherMeter } from '../../reports/gather-meters.ts';
import type { ControlsPage, LotsPage, MeterPage } from '../api/house.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { namedByNumber } from '../named.ts';
import { readBody, readQuery } from '../read-request.ts';
import { askNow, type DeskTools } from '../tools.ts';

const Text = z.string().trim().min(1).max(100);
const Decimal = Text.transform((text) => text.replace(',', '.'));
const Lot = z.strictObject({
  lot: Text,
  expiry: Text.exactOptional(),
  code: Text.exactOptional(),
  isi: Decimal.exactOptional(),
  mnpt: Decimal.exactOptional(),
});
const Level = z.strictObject({
  lot: Text,
  level: Text,
  analyte: Text.default('INR'),
  kind: z.enum(['liquid', 'electronic']).default('liquid'),
  mean: Decimal.exactOptional(),
  sd: Decimal.exactOptional(),
  low: Decimal.exactOptional(),
  high: Decimal.exactOptional(),
  rangeSd: z.union([z.literal(2), z.literal(3)]).default(2),
  expiry: Text.exactOptional(),
});
const Model = z.strictObject({ model: z.string().max(100).exactOptional() });
const Month = z.strictObject({ month: z.string().max(20).exactOptional() });

/** The routes. */
export function houseRoutes(tools: DeskTools): Hono<DeskEnv> {
  const { store, reports } = tools;
  const driftOf = driftBy(store, tools.profiles);
  const app = new Hono<DeskEnv>();
  app.get('/api/meters', may('look'), async (c) => c.json(await reports.gather('meters', askNow(tools))));
  app.get('/api/meters/:id', may('look'), (c) =>
    c.json(meterPage(tools, driftOf, c.req.param('id'), readQuery(c, Model).model)),
  );
  app.get('/api/lots', may('look'), (c) => c.json(store.lots.list() satisfies LotsPage));
  app.put('/api/lots', may('work'), async (c) => {
    putLot(store, c.get('record'), await readBody(c, Lot));
    return c.json({});
  });
  app.get('/api/controls', may('look'), async (c) =>
    c.json({
      report: await reports.gather('controls', askNow(tools)),
      levels: store.controls.list(),
    } satisfies ControlsPage),
  );
  app.put('/api/controls/levels', may('work'), async (c) =>
    c.json({ levelNo: putControl(store, c.get('record'), await readBody(c, Level)) }),
  );
  app.get('/api/comparison', may('look'), async (c) => c.json(await reports.gather('comparison', askNow(tools))));
  app.get('/api/month', may('look'), async (c) =>
    c.json(await reports.gather('month', { ...askNow(tools), ...readQuery(c, Month) })),
  );
  return app;
}

function meterPage(
  { store, now }: DeskTools,
  driftOf: (meterNo: number) => number | undefined,
  id: string,
  model: string | undefined,
): MeterPage {
  const stored = store.meters.list(id).filter((m) => model === undefined || m.model === model);
  const [meter, other] = stored;
  if (!meter) throw new Fault('METER_UNKNOWN', `A meter "${id}" was never read here`, 'See the list of meters.');
  if (other)
    throw new Fault('NOT_POSSIBLE', `Two models have the serial number ${id}`, 'Open it from the list of meters.');
  const lends = store.lends.list({ meterId: id, model: meter.model });
  return {
    meter: gatherMeter(store, meter, { now: now(), driftOf }),
    ...(meter.firmware === undefined ? {} : { firmware: meter.firmware }),
    ...(meter.capacity === undefined ? {} : { capacity: meter.capacity }),
    downloads: store.downloads
      .list(meter.meterNo)
      .map((d) => ({
        id: d.id,
        at: d.at,
        complete: d.complete,
        new: d.new,
        known: d.known,
        possiblyLost: d.possiblyLost,
        ...(d.clockOffS === undefined ? {} : { clockOffS: d.clockOffS }),
        clockSet: d.clockSet,
      }))
      .reverse(),
    incidents: store.incidents.list(meter.meterNo),
    lends: lends.flatMap(({ lendNo, patientNo, from, to }) => {
      const who = namedByNumber(store, patientNo);
      return who ? [{ ...who, no: lendNo, from, ...(to === undefined ? {} : { to }) }] : [];
    }),
    tests: store.judged.list({ meterNo: meter.meterNo }).map((j) => ({
      id: j.reading,
      kind: j.kind,
      ...(j.takenAt === undefined ? {} : { at: j.takenAt }),
      ...(j.earliest === undefined ? {} : { earliest: j.earliest }),
      ...(j.latest === undefined ? {} : { latest: j.latest }),
    })),
  };
}
