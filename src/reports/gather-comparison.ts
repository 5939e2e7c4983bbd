/** Takes from the store what the comparison of meters with the laboratory shows, as plain data. */
import { type Comparison, compare } from '../clinic/comparison/compare.ts';
import type { PersonValue } from '../clinic/comparison/pairing.ts';
import { targetAt, targetsInOrder } from '../clinic/course/target-at.ts';
import { type Target, targetOf, timeSpan } from '../clinic/facts.ts';
import type { Instant } from '../core/instant.ts';
import { isClear } from '../core/outgoing.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { StoredLabValue } from '../store/lab-values.ts';
import type { Store } from '../store/store.ts';

/** The whole of the report. */
export interface ComparisonReport {
  readonly now: Instant;
  readonly zone: string;
  /** One for each analyte of which there are laboratory values. */
  readonly comparisons: readonly Comparison[];
}

/** What to gather. */
export interface ComparisonAsk {
  readonly now: Instant;
  readonly zone: string;
  /** Laboratory values from which and before which are compared. */
  readonly since?: Instant;
  readonly until?: Instant;
}

/** The unit in which values of an analyte are compared here; laboratory values are entered without one. */
const unitOf = (analyte: string): string => (analyte === 'INR' ? '{INR}' : '');

/** Gathers it: of each analyte all laboratory values, and the readings of the same people that are neither void nor held. */
export function gatherComparison(store: Store, { now, zone, since, until }: ComparisonAsk): ComparisonReport {
  const values = store.labValues
    .list()
    .filter(({ at }) => (since === undefined || at >= since) && (until === undefined || at < until));
  const people = new Map(
    [...new Set(values.map((v) => v.patientNo))].map((no) => [no, store.patients.byNumber(no)?.id ?? String(no)]),
  );
  const targets = targetsOf(store, people);
  const tests = [...people].flatMap(([patientNo, patient]) =>
    store.judged.list({ patientNo, kind: 'patient' }).map((judged) => ({ judged, patient })),
  );
  return {
    now,
    zone,
    comparisons: [...new Set(values.map((v) => v.analyte))].sort().map((analyte) =>
      compare({
        analyte,
        unit: unitOf(analyte),
        laboratory: values.filter((v) => v.analyte === analyte).flatMap((v) => laboratoryValue(v, people)),
        readings: tests.flatMap(({ judged, patient }) =>
          judged.analyte === analyte ? meterValue(judged, patient) : [],
        ),
        targetAt: (patient, at) => targetAt(targets.get(patient) ?? [], at),
      }),
    ),
  };
}

function targetsOf(store: Store, people: ReadonlyMap<number, string>): ReadonlyMap<string, readonly Target[]> {
  return new Map(
    [...people].map(([patientNo, id]) => [id, targetsInOrder(store.patients.targets(patientNo).map(targetOf))]),
  );
}

/** The laboratory's clock is taken as right: its moment has no width. */
function laboratoryValue(
  { labNo, patientNo, at, value }: StoredLabValue,
  people: ReadonlyMap<number, string>,
): PersonValue[] {
  const found = /^([<>]?)\s*(\d+(?:\.\d+)?)$/.exec(value.trim());
  const number = Number(found?.[2]);
  if (!found || !(number > 0)) return [];
  const beyond = found[1];
  return [
    {
      id: `lab-${labNo}`,
      patient: people.get(patientNo) ?? String(patientNo),
      time: { at, earliest: at, latest: at },
      value: number,
      ...((beyond === '<' || beyond === '>') && { beyond }),
    },
  ];
}

function meterValue(j: StoredJudged, patient: string): PersonValue[] {
  const time = timeSpan(j);
  if (!isClear(j.status) || !time || j.value === undefined || j.value <= 0) return [];
  return [{ id: j.reading, patient, time, value: j.value, ...(j.beyond && { beyond: j.beyond }) }];
}
