/** Sheets for paper: whole pages that a browser prints. */
import { Hono } from 'hono';
import { z } from 'zod';
import { localMinute } from '../../core/local-words.ts';
import { zoneOf } from '../../core/zone.ts';
import { comparisonPage } from '../../reports/comparison.ts';
import { controlsPage } from '../../reports/controls.ts';
import { gatherPatient } from '../../reports/gather-patient.ts';
import { gatherVisit } from '../../reports/gather-visit.ts';
import { metersPage } from '../../reports/meters.ts';
import { monthPage } from '../../reports/month.ts';
import { patientPage } from '../../reports/patient.ts';
import { visitPage } from '../../reports/visit.ts';
import { VISIT_WORDS } from '../../reports/visit-words.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { readQuery } from '../read-request.ts';
import { askNow, type DeskTools } from '../tools.ts';

const Visit = z.strictObject({ model: z.string().max(100).exactOptional(), lang: z.enum(['en', 'de']).default('en') });
const Month = z.strictObject({ month: z.string().max(20).exactOptional() });

/** The routes. */
export function printRoutes(tools: DeskTools): Hono<DeskEnv> {
  const { store, reports, now, zone } = tools;
  const printedAt = (): string => `${localMinute(now(), zoneOf(zone()))} (${zone()})`;
  const app = new Hono<DeskEnv>();
  app.get('/print/visit/:meter', may('look'), (c) => {
    const { lang, ...model } = readQuery(c, Visit);
    const report = gatherVisit(store, { ...askNow(tools), meterId: c.req.param('meter'), ...model });
    return c.html(visitPage(report, printedAt(), VISIT_WORDS[lang]));
  });
  app.get('/print/person/:id', may('look'), (c) =>
    c.html(patientPage(gatherPatient(store, { ...askNow(tools), patientId: c.req.param('id') }), printedAt())),
  );
  app.get('/print/meters', may('look'), async (c) =>
    c.html(metersPage(await reports.gather('meters', askNow(tools)), printedAt())),
  );
  app.get('/print/controls', may('look'), async (c) =>
    c.html(controlsPage(await reports.gather('controls', askNow(tools)), printedAt())),
  );
  app.get('/print/comparison', may('look'), async (c) =>
    c.html(comparisonPage(await reports.gather('comparison', askNow(tools)), printedAt())),
  );
  app.get('/print/month', may('look'), async (c) =>
    c.html(monthPage(await reports.gather('month', { ...askNow(tools), ...readQuery(c, Month) }), printedAt())),
  );
  return app;
}
