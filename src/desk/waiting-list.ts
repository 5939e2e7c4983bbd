/** What waits, each with the evidence that there is to judge it by. */

import { targetAt, targetsInOrder } from '../clinic/course/target-at.ts';
import { type TimeSpan, targetOf, timeSpan } from '../clinic/facts.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import type { WaitingItem, WaitingList } from './api/waiting.ts';
import { namedByNumber, openHolds } from './named.ts';

const DAY_MS = 86_400_000;
const YEAR_MS = 366 * DAY_MS;
/** So many of a person's last values are shown. */
const LAST_VALUES = 6;
/** What happened to the clock so long before or after may be why. */
const INCIDENT_MS = 2 * DAY_MS;

/** Those from `offset` on: critical values first, then the newest. On one view of the store. */
export function waitingList(store: Store, policy: Policy, offset: number, limit: number): WaitingList {
  return store.db.read(() => {
    const held = store.judged.list({ status: 'held' }).reverse();
    const isCritical = (j: StoredJudged): boolean => isCriticalValue(j, policy);
    const ordered = [...held.filter(isCritical), ...held.filter((j) => !isCritical(j))];
    const shown = ordered.slice(offset, offset + limit);
    const readings = new Map(store.readings.list(shown.map((j) => j.reading)).map((r) => [r.id, r]));
    return {
      total: held.length,
      items: shown.flatMap((judged): WaitingItem[] => {
        const reading = readings.get(judged.reading);
        return reading ? [itemOf(store, policy, judged, reading)] : [];
      }),
    };
  });
}

/** Whether its value is critical by the limits here; who it belongs to does not matter for that. */
function isCriticalValue({ kind, analyte, value }: StoredJudged, policy: Policy): boolean {
  const limits = analyte === undefined ? undefined : policy.critical[analyte];
  return (
    kind === 'patient' && limits !== undefined && value !== undefined && (value < limits.low || value >= limits.high)
  );
}

function itemOf(store: Store, policy: Policy, judged: StoredJudged, { record, meter }: ListedReading): WaitingItem {
  const time = timeSpan(judged);
  const person = namedByNumber(store, judged.patientNo);
  const proposed = namedByNumber(store, judged.proposedNo);
  const expiry = (record.lot === undefined ? undefined : store.lots.find(record.lot)?.expiry) ?? record.lotExpiry;
  return {
    readingId: judged.reading,
    meterId: meter.id,
    model: meter.model,
    kind: judged.kind,
    values: record.values,
    isCritical: isCriticalValue(judged, policy),
    ...(time ? { time } : {}),
    ...(record.meterTimeText === '' ? {} : { meterTime: record.meterTimeText }),
    ...(record.patientId === undefined ? {} : { keyedPatient: record.patientId }),
    ...(record.operator === undefined ? {} : { operator: record.operator }),
    ...(record.lot === undefined ? {} : { lot: record.lot }),
    ...(expiry === undefined ? {} : { lotExpiry: expiry }),
    ...(person ? { person } : {}),
    ...(proposed ? { proposed } : {}),
    ...(judged.standing ? { standing: judged.standing } : {}),
    holds: openHolds(judged),
    evidence: evidenceOf(store, policy, judged, time, meter),
  };
}

function evidenceOf(
  store: Store,
  policy: Policy,
  judged: StoredJudged,
  time: TimeSpan | undefined,
  { id: meterId, model }: ListedReading['meter'],
): WaitingItem['evidence'] {
  const patientNo = judged.patientNo ?? judged.proposedNo;
  const at = time?.at;
  const isTargeted = judged.analyte !== undefined && policy.targeted.includes(judged.analyte);
  const target =
    patientNo === undefined || at === undefined || !isTargeted
      ? undefined
      : targetAt(targetsInOrder(store.patients.targets(patientNo).map(targetOf)), at);
  const last =
    patientNo === undefined || at === undefined || judged.analyte === undefined
      ? []
      : store.judged.valuesBefore(patientNo, judged.analyte, at, instant(Math.max(0, at - YEAR_MS)), LAST_VALUES);
  return {
    appointments: appointmentsNear(store, policy, time),
    lastValues: last
      .reverse()
      .map(({ at: when, value, beyond }) => ({ at: when, value, ...(beyond ? { beyond } : {}) })),
    ...(target ? { target: { low: target.low, high: target.high } } : {}),
    incidents: incidentsNear(store, judged.meterNo, time),
    holders: store.lends.list({ meterId, model }).flatMap(({ patientNo: no, from, to }) => {
      const who = namedByNumber(store, no);
      return who ? [{ ...who, from, ...(to === undefined ? {} : { to }) }] : [];
    }),
  };
}

/** Who was expected around its time, the nearest first; nobody where its time is hardly known. */
function appointmentsNear(
  store: Store,
  policy: Policy,
  time: TimeSpan | undefined,
): WaitingItem['evidence']['appointments'] {
  if (time?.earliest === undefined || time.latest === undefined || time.latest - time.earliest > DAY_MS) return [];
  const reach = policy.appointmentMinutes * 60_000;
  return store.appointments
    .between(instant(time.earliest - reach), instant(time.latest + reach + 1))
    .flatMap(({ at, patientNo }) => {
      const who = namedByNumber(store, patientNo);
      return who ? [{ ...who, at }] : [];
    })
    .sort((a, b) => Math.abs(a.at - time.at) - Math.abs(b.at - time.at))
    .slice(0, 5);
}

/** What happened to the clock around its time; an incident whose bounds are open may have been then. */
function incidentsNear(
  store: Store,
  meterNo: number,
  time: TimeSpan | undefined,
): WaitingItem['evidence']['incidents'] {
  const from: number = time?.earliest ?? time?.at ?? 0;
  const to: number = time?.latest ?? time?.at ?? Number.POSITIVE_INFINITY;
  const isNear = (earliest: Instant | undefined, latest: Instant | undefined): boolean =>
    (earliest ?? Number.NEGATIVE_INFINITY) <= to + INCIDENT_MS &&
    (latest ?? Number.POSITIVE_INFINITY) >= from - INCIDENT_MS;
  return store.incidents
    .list(meterNo)
    .filter((i) => i.source === 'clock' && isNear(i.earliest, i.latest))
    .slice(-3)
    .map(({ kind, earliest, latest, sizeS, explanation }) => ({
      kind,
      ...(earliest === undefined ? {} : { earliest }),
      ...(latest === undefined ? {} : { latest }),
      ...(sizeS === undefined ? {} : { sizeS }),
      explanation,
    }));
}
