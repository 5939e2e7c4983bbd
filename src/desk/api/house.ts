/** Meters, controls, lots, outlets, backups, operators and the docks' ports. Types only. Times are milliseconds since 1970 UTC. */
import type { Incident } from '../../core/placement.ts';
import type { StripLot } from '../../core/strip-lot.ts';
import type { ComparisonReport } from '../../reports/gather-comparison.ts';
import type { ControlsReport } from '../../reports/gather-controls.ts';
import type { MeterRow, MetersReport } from '../../reports/gather-meters.ts';
import type { MonthReport } from '../../reports/gather-month.ts';
import type { ControlLevel } from '../../store/strip-lots.ts';
import type { PersonName } from './live.ts';
import type { Role } from './state.ts';

/** `GET /api/meters`. */
export type MetersPage = MetersReport;

/** `GET /api/meters/ID?model=`. */
export interface MeterPage {
  readonly meter: MeterRow;
  readonly firmware?: string;
  readonly capacity?: number;
  /** Newest first. */
  readonly downloads: readonly {
    readonly id: string;
    readonly at: number;
    readonly complete: boolean;
    readonly new: number;
    readonly known: number;
    readonly possiblyLost: boolean;
    /** Meter minus true local time, seconds. */
    readonly clockOffS?: number;
    readonly clockSet: boolean;
  }[];
  readonly incidents: readonly Incident[];
  readonly lends: readonly (PersonName & { readonly no: number; readonly from: number; readonly to?: number })[];
  /** Each test for the time line, oldest first: bounds of its time, and what it was. */
  readonly tests: readonly {
    readonly id: string;
    readonly kind: 'patient' | 'control' | 'error';
    readonly at?: number;
    readonly earliest?: number;
    readonly latest?: number;
  }[];
}

/** `GET /api/controls`: as the report, with the registered levels. `PUT /api/controls/levels` enters one; `POST /api/controls/name` with readingId and levelNo. */
export interface ControlsPage {
  readonly report: ControlsReport;
  readonly levels: readonly (ControlLevel & { readonly levelNo: number })[];
}

/** `GET /api/lots`, `PUT /api/lots`. */
export type LotsPage = readonly StripLot[];

/** `GET /api/comparison`, `GET /api/month?month=YYYY-MM`. */
export type ComparisonPage = ComparisonReport;
export type MonthPage = MonthReport;

/** `GET /api/operators` (manage); `POST /api/operators` with name, role, passphrase; `PUT /api/operators/NAME` with role?, passphrase?, isRetired?. */
export interface OperatorRow {
  readonly name: string;
  readonly role: Role;
  readonly addedAt: number;
  readonly isRetired: boolean;
  readonly lastSeenAt?: number;
}

/** `GET /api/ports`: what could be a dock. `POST /api/docks` with name and port; `DELETE /api/docks/NAME` (manage). */
export interface PortRow {
  readonly port: string;
  /** What the system says of it: maker of the adapter, its serial number. */
  readonly says: string;
  /** The dock it belongs to. */
  readonly dock?: string;
}

/** `POST /api/backup` (work). `GET /api/backups`. */
export interface BackupRow {
  readonly file: string;
  readonly at: number;
  readonly bytes: number;
}
