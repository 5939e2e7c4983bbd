/** The store: one repository a noun over one open database. Made by `openStore`. */
import { type Audit, makeAudit } from './audit.ts';
import { type Captures, makeCaptures } from './captures.ts';
import { type ChangedReadings, makeChangedReadings } from './changed-readings.ts';
import type { Database } from './database.ts';
import { type Decisions, makeDecisions } from './decisions.ts';
import { type Downloads, makeDownloads } from './downloads.ts';
import { type Incidents, makeIncidents } from './incidents.ts';
import { type JudgedReadings, makeJudged } from './judged.ts';
import { type LabValues, makeLabValues } from './lab-values.ts';
import { type Appointments, type Lends, makeAppointments, makeLends } from './lends.ts';
import { type ClockStates, type MemoryStates, makeClockStates, makeMemoryStates } from './meter-states.ts';
import { type Meters, makeMeters } from './meters.ts';
import { makeOperators, type Operators } from './operators.ts';
import { makeOutgoing, type Outgoing } from './outgoing.ts';
import { makeOutlets, type Outlets } from './outlets.ts';
import { makePatients, type Patients } from './patients.ts';
import { makePlacements, type Placements } from './placements.ts';
import { makeReadings, type Readings } from './readings.ts';
import { type ControlLevels, makeControlLevels, makeStripLots, type StripLots } from './strip-lots.ts';

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
  readonly patients: Patients;
  readonly lends: Lends;
  readonly appointments: Appointments;
  readonly decisions: Decisions;
  readonly lots: StripLots;
  readonly controls: ControlLevels;
  readonly labValues: LabValues;
  readonly judged: JudgedReadings;
  readonly outgoing: Outgoing;
  readonly outlets: Outlets;
  readonly operators: Operators;
  /** Readings written here since they were last judged. */
  readonly changed: ChangedReadings;
  /** Closes the file. Later use throws. */
  close(): void;
}

/** The repositories of an open database. */
export function makeStore(db: Database): Store {
  const changed = makeChangedReadings();
  return {
    db,
    captures: makeCaptures(db),
    meters: makeMeters(db),
    downloads: makeDownloads(db),
    readings: makeReadings(db, changed),
    placements: makePlacements(db, changed),
    incidents: makeIncidents(db),
    memory: makeMemoryStates(db),
    clock: makeClockStates(db),
    audit: makeAudit(db),
    patients: makePatients(db),
    lends: makeLends(db),
    appointments: makeAppointments(db),
    decisions: makeDecisions(db),
    lots: makeStripLots(db),
    controls: makeControlLevels(db),
    labValues: makeLabValues(db),
    judged: makeJudged(db),
    outgoing: makeOutgoing(db),
    outlets: makeOutlets(db),
    operators: makeOperators(db),
    changed,
    close: () => db.close(),
  };
}
