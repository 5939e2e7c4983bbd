/** The store: one repository a noun over one open database. Made by `openStore`. */
import { type Audit, makeAudit } from './audit.ts';
import { type Captures, makeCaptures } from './captures.ts';
import type { Database } from './database.ts';
import { type Downloads, makeDownloads } from './downloads.ts';
import { type Incidents, makeIncidents } from './incidents.ts';
import { type ClockStates, type MemoryStates, makeClockStates, makeMemoryStates } from './meter-states.ts';
import { type Meters, makeMeters } from './meters.ts';
import { makePlacements, type Placements } from './placements.ts';
import { makeReadings, type Readings } from './readings.ts';

export interface Store {
  readonly db: Database;
  readonly captures: Captures;
  readonly meters: Meters;
  readonly downloads: Downloads;
  readonly readings: Readings;
  readonly placements: Placements;
  readonly incidents: Incidents;
  readonly memory: MemoryStates;
  readonly clock: ClockStates;
  readonly audit: Audit;
  /** Closes the file. Later use throws. */
  close(): void;
}

/** The repositories of an open database. */
export const makeStore = (db: Database): Store => ({
  db,
  captures: makeCaptures(db),
  meters: makeMeters(db),
  downloads: makeDownloads(db),
  readings: makeReadings(db),
  placements: makePlacements(db),
  incidents: makeIncidents(db),
  memory: makeMemoryStates(db),
  clock: makeClockStates(db),
  audit: makeAudit(db),
  close: () => db.close(),
});
