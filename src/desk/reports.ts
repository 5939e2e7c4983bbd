/** The reports as the desk asks for them, for the page and for paper alike. */
import type { Policy } from '../clinic/rules/policy.ts';
import type { Instant } from '../core/instant.ts';
import type { ComparisonReport } from '../reports/gather-comparison.ts';
import type { ControlsReport } from '../reports/gather-controls.ts';
import type { MetersReport } from '../reports/gather-meters.ts';
import type { MonthReport } from '../reports/gather-month.ts';

/** What each report is gathered by: plain data, which can go to another process. */
export interface ReportAsk {
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
  /** Of the report on a month, `2026-03`; absent: the last one that is over. */
  readonly month?: string;
}

/** Each report of the whole house by its name. */
export interface ReportsByName {
  readonly meters: MetersReport;
  readonly controls: ControlsReport;
  readonly comparison: ComparisonReport;
  readonly month: MonthReport;
}

/** Gathers one of the reports. */
export interface Reports {
  /** Rejects with CALL_WRONG for what is no month, else with a fault of the store, or INTERNAL. */
  gather<N extends keyof ReportsByName>(name: N, ask: ReportAsk): Promise<ReportsByName[N]>;
  /** Nothing is gathered after it. */
  close(): void;
}
