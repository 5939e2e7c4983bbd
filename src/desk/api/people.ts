/** People, their meters and what is entered for them. Types only. Times are milliseconds since 1970 UTC. */
import type { HoldCode } from '../../clinic/holds/hold.ts';
import type { Standing } from '../../core/outgoing.ts';
import type { PatientReport } from '../../reports/gather-patient.ts';
import type { PersonName } from './live.ts';

/** One line of the list. */
export interface PersonRow extends PersonName {
  readonly birthYear?: number;
  readonly target?: { readonly low: string; readonly high: string };
  readonly last?: {
    readonly at: number;
    readonly value: number;
    readonly beyond?: '<' | '>';
    readonly standing?: Standing;
  };
  /** Readings of theirs that wait. */
  readonly waiting: number;
  /** Planned test overdue by so many days. */
  readonly overdueDays: number;
  /** Meters lent to them. */
  readonly meters: readonly string[];
}

/** `GET /api/people?search=&offset=0&limit=100`. Search looks into id and name, any word, letter case and accents ignored. */
export interface PeopleList {
  readonly total: number;
  readonly rows: readonly PersonRow[];
}

/** `GET /api/people/ID`. */
export interface PersonPage {
  /** As the report on one person: the course, every value, targets, meters, incidents. */
  readonly report: PatientReport;
  /** A line between two tests is left open where they lie more than so many days apart. */
  readonly openAfterDays: number;
  /** Numbers of the targets, in the order of `report.targets`, for taking one back. */
  readonly targetNos: readonly number[];
  readonly notes?: string;
  /** Why each reading of theirs waits, by its id. */
  readonly holds: Readonly<Record<string, readonly HoldCode[]>>;
  /** Readings that came with the newest download of a meter of theirs. */
  readonly newReadings: readonly string[];
  readonly lends: readonly {
    readonly no: number;
    readonly meterId: string;
    readonly from: number;
    readonly to?: number;
    readonly by: string;
  }[];
  readonly lab: readonly {
    readonly no: number;
    readonly at: number;
    readonly analyte: string;
    readonly value: string;
    readonly laboratory: string;
  }[];
  /** Appointments from today on. */
  readonly appointments: readonly number[];
}

/** `POST /api/people`, and `PUT /api/people/ID`: the whole of what is known. */
export interface PersonFacts {
  readonly id: string;
  readonly name?: string;
  readonly birthYear?: number;
  readonly reason?: string;
  readonly notes?: string;
  readonly planDays?: number;
  /** Local dates `YYYY-MM-DD`. */
  readonly since?: string;
  readonly left?: string;
}

/** `POST /api/people/ID/targets`; `from` a local date or moment as people write it, absent: as `patients target` takes it. `DELETE /api/people/ID/targets/NO` takes it back. */
export interface NewTarget {
  readonly low: string;
  readonly high: string;
  readonly from?: string;
}

/** `POST /api/people/ID/lab`; `DELETE /api/lab/NO` takes it back. `at` local, as people write it. */
export interface NewLabValue {
  readonly at: string;
  readonly value: string;
  readonly analyte?: string;
  readonly laboratory?: string;
}

/** `POST /api/lends`; `DELETE /api/lends/NO` undoes; `POST /api/lends/take-back` with meterId and at. Moments local, absent: now. */
export interface NewLend {
  readonly meterId: string;
  readonly patientId: string;
  readonly from?: string;
  readonly until?: string;
}

/** `GET /api/appointments?day=YYYY-MM-DD`; `POST /api/appointments` and `POST /api/appointments/remove` with at (local) and patientId; `POST /api/appointments/import` with csv and isTrial. */
export interface AppointmentDay {
  readonly day: string;
  readonly rows: readonly (PersonName & { readonly at: number })[];
}
