/** Who is expected when: a day's list, one entry, or a table. */
import { Hono } from 'hono';
import { z } from 'zod';
import { localDay } from '../../core/local-words.ts';
import { zoneOf } from '../../core/zone.ts';
import { patientOf } from '../../record/context.ts';
import { importAppointments } from '../../record/imports/appointments.ts';
import { addAppointments, removeAppointment } from '../../record/lending.ts';
import type { AppointmentDay } from '../api/people.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { dayField, momentField, namedByNumber } from '../named.ts';
import { readBody, readQuery } from '../read-request.ts';
import type { DeskTools } from '../tools.ts';

const Day = z.strictObject({ day: z.string().max(20).exactOptional() });
const Entry = z.strictObject({ at: z.string().min(1).max(40), patientId: z.string().min(1).max(100) });
const Table = z.strictObject({ csv: z.string().min(1).max(900_000), isTrial: z.boolean() });
/** A year of a large clinic. A longer table would hold up the docks while it is taken in. */
const MOST_ROWS = 10_000;

/** The routes. */
export function appointmentRoutes({ store, now, zone }: DeskTools): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  app.get('/api/appointments', may('look'), (c) => {
    const day = readQuery(c, Day).day ?? localDay(now(), zoneOf(zone()));
    const [from, to] = dayField('day', day, zone());
    const rows = store.appointments.between(from, to).flatMap(({ at, patientNo }) => {
      const who = namedByNumber(store, patientNo);
      return who ? [{ ...who, at }] : [];
    });
    return c.json({ day, rows } satisfies AppointmentDay);
  });
  app.post('/api/appointments', may('work'), async (c) => {
    const { at, patientId } = await readBody(c, Entry);
    const { patientNo } = patientOf(store, patientId);
    const when = momentField('at', at, zone());
    if (when !== undefined) addAppointments(store, c.get('record'), [{ at: when, patientNo }]);
    return c.json({});
  });
  app.post('/api/appointments/remove', may('work'), async (c) => {
    const { at, patientId } = await readBody(c, Entry);
    const { patientNo } = patientOf(store, patientId);
    const when = momentField('at', at, zone());
    if (when !== undefined) removeAppointment(store, c.get('record'), { at: when, patientNo });
    return c.json({});
  });
  app.post('/api/appointments/import', may('work'), async (c) => {
    const { csv, isTrial } = await readBody(c, Table);
    const bytes = new TextEncoder().encode(csv);
    const options = { file: 'appointments', zone: zone(), isDryRun: isTrial, mostRows: MOST_ROWS };
    return c.json({ rows: importAppointments(store, c.get('record'), bytes, options) });
  });
  return app;
}
