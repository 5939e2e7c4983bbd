/** People: the list, one person's page, and what is entered for them. */
import { Hono } from 'hono';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import { type Instant, instant } from '../../core/instant.ts';
import { localDay } from '../../core/local-words.ts';
import { zoneOf } from '../../core/zone.ts';
import { patientOf, type RecordContext } from '../../record/context.ts';
import { lendMeter, takeBack, undoLend } from '../../record/lending.ts';
import { addPatient, changePatient, setTarget, undoTarget } from '../../record/people.ts';
import { putLabValue, undoLabValue } from '../../record/registers.ts';
import { openAfterDays } from '../../reports/course-chart.ts';
import { gatherPatient } from '../../reports/gather-patient.ts';
import type { PatientFacts } from '../../store/patients.ts';
import type { PersonPage } from '../api/people.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { dayField, momentField, openHolds } from '../named.ts';
import { peopleList } from '../people-list.ts';
import { readBody, readQuery } from '../read-request.ts';
import { askNow, type DeskTools } from '../tools.ts';

const Search = z.strictObject({
  search: z.string().max(200).default(''),
  offset: z.coerce.number().int().min(0).default(0),
  limit: z.coerce.number().int().min(1).max(500).default(100),
});
const Id = z.string().trim().min(1).max(100);
const Text = z.string().trim().max(300);
const Facts = z.strictObject({
  id: Id,
  name: Text.exactOptional(),
  birthYear: z.int().min(1880).max(2100).exactOptional(),
  reason: Text.exactOptional(),
  notes: z.string().max(5000).exactOptional(),
  planDays: z.int().min(1).max(365).exactOptional(),
  since: Text.exactOptional(),
  left: Text.exactOptional(),
});
const Decimal = z
  .string()
  .trim()
  .max(20)
  .transform((text) => text.replace(',', '.'));
const Target = z.strictObject({ low: Decimal, high: Decimal, from: Text.exactOptional() });
const Lab = z.strictObject({
  at: Text,
  value: Decimal,
  analyte: z.string().trim().min(1).max(12).default('INR'),
  laboratory: Text.default(''),
});
const Lend = z.strictObject({ meterId: Id, patientId: Id, from: Text.exactOptional(), until: Text.exactOptional() });
const TakeBack = z.strictObject({ meterId: Id, at: Text.exactOptional() });

/** The routes. */
export function peopleRoutes(tools: DeskTools): Hono<DeskEnv> {
  const { store, zone } = tools;
  const app = new Hono<DeskEnv>();
  app.get('/api/people', may('look'), (c) => c.json(peopleList(store, { ...readQuery(c, Search), ...askNow(tools) })));
  app.post('/api/people', may('work'), async (c) => {
    const facts = factsOf(await readBody(c, Facts), zone());
    addPatient(store, c.get('record'), facts);
    return c.json({ id: facts.id });
  });
  app.get('/api/people/:id', may('look'), (c) => c.json(personPage(tools, c.req.param('id'))));
  app.put('/api/people/:id', may('work'), async (c) => {
    const facts = factsOf(await readBody(c, Facts), zone());
    changePatient(store, c.get('record'), c.req.param('id'), facts);
    return c.json({ id: facts.id });
  });
  app.post('/api/people/:id/targets', may('work'), async (c) => {
    const { low, high, from } = await readBody(c, Target);
    const id = c.req.param('id');
    const context = c.get('record');
    const isFirst = store.patients.targets(patientOf(store, id).patientNo).length === 0;
    // Without a date a first target counts for all readings that there are, and a later one from now on.
    const start = momentField('from', from, zone()) ?? (isFirst ? instant(0) : context.now);
    return c.json({ no: setTarget(store, context, id, { low, high, from: start }) });
  });
  app.delete('/api/people/:id/targets/:no', may('work'), (c) => {
    undoTarget(store, c.get('record'), c.req.param('id'), numberOf(c.req.param('no')));
    return c.json({});
  });
  app.post('/api/people/:id/lab', may('work'), async (c) => {
    const { at, value, analyte, laboratory } = await readBody(c, Lab);
    const { patientNo } = patientOf(store, c.req.param('id'));
    const when = neededMoment('at', at, zone());
    putLabValue(store, c.get('record'), { patientNo, at: when, analyte: analyte.toUpperCase(), value, laboratory });
    const entered = store.labValues.list(patientNo).find((v) => v.at === when && v.analyte === analyte.toUpperCase());
    return c.json({ no: entered?.labNo });
  });
  app.delete('/api/lab/:no', may('work'), (c) => {
    undoLabValue(store, c.get('record'), numberOf(c.req.param('no')));
    return c.json({});
  });
  app.post('/api/lends', may('work'), async (c) => {
    const { meterId, patientId, from, until } = await readBody(c, Lend);
    const context = c.get('record');
    const to = momentField('until', until, zone(), 'end');
    const { lendNo } = lendMeter(store, context, {
      meterId,
      patientId,
      from: momentField('from', from, zone()) ?? context.now,
      ...(to === undefined ? {} : { to }),
    });
    return c.json({ no: lendNo });
  });
  app.post('/api/lends/take-back', may('work'), async (c) => {
    const { meterId, at } = await readBody(c, TakeBack);
    const context: RecordContext = c.get('record');
    takeBack(store, context, meterId, momentField('at', at, zone()) ?? context.now);
    return c.json({});
  });
  app.delete('/api/lends/:no', may('work'), (c) => {
    undoLend(store, c.get('record'), numberOf(c.req.param('no')));
    return c.json({});
  });
  return app;
}

function personPage({ store, now: clock, zone, policy }: DeskTools, id: string): PersonPage {
  return store.db.read(() => {
    const now = clock();
    const { patientNo, notes } = patientOf(store, id);
    const report = gatherPatient(store, { patientId: id, now, zone: zone(), policy: policy() });
    const lends = store.lends.list({ patientNo });
    const [today] = dayField('day', localDay(now, zoneOf(zone())), zone());
    return {
      report,
      openAfterDays: openAfterDays(report.course),
      targetNos: store.patients.targets(patientNo).map((t) => t.targetNo),
      ...(notes === undefined ? {} : { notes }),
      holds: Object.fromEntries(
        store.judged.list({ patientNo, status: 'held' }).map((j) => [j.reading, openHolds(j).map((h) => h.code)]),
      ),
      newReadings: newestDownloadOf(store, report.meters),
      lends: lends.map(({ lendNo, meterId, from, to, lentBy }) => ({
        no: lendNo,
        meterId,
        from,
        ...(to === undefined ? {} : { to }),
        by: lentBy,
      })),
      lab: store.labValues
        .list(patientNo)
        .map(({ labNo, at, analyte, value, laboratory }) => ({ no: labNo, at, analyte, value, laboratory })),
      appointments: store.appointments
        .between(today, instant(today + 366 * DAY_MS))
        .filter((a) => a.patientNo === patientNo)
        .map((a) => a.at),
    };
  });
}

const DAY_MS = 86_400_000;

/** Readings that came with the newest download of each of these meters. */
function newestDownloadOf(store: DeskTools['store'], meters: readonly string[]): string[] {
  return meters.flatMap((id) =>
    store.meters.list(id).flatMap(({ meterNo }) => {
      const last = store.downloads.list(meterNo).at(-1);
      return store.readings.ofMeter(meterNo).flatMap((r) => (r.firstDownload === last?.id ? [r.id] : []));
    }),
  );
}

function factsOf(given: z.infer<typeof Facts>, zone: string): PatientFacts {
  const { since, left, ...rest } = given;
  const sinceAt = momentField('since', since, zone);
  const leftAt = momentField('left', left, zone);
  return {
    ...rest,
    ...(sinceAt === undefined ? {} : { since: sinceAt }),
    ...(leftAt === undefined ? {} : { left: leftAt }),
  };
}

function neededMoment(field: string, text: string, zone: string): Instant {
  const at = momentField(field, text, zone);
  if (at !== undefined) return at;
  throw new Fault('REQUEST_WRONG', `${field}: a date and time is needed`, 'Write it in.');
}

function numberOf(text: string): number {
  if (/^\d{1,12}$/.test(text)) return Number(text);
  throw new Fault('REQUEST_WRONG', `"${text.slice(0, 40)}" is no number`, 'Load the page again.');
}
