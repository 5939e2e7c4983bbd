/** Takes from the store what the report on meters and strips shows, as plain data. */
import { judgeControls } from '../clinic/controls/assess.ts';
import { groupBy } from '../clinic/group-by.ts';
import { type LotSummary, resultsByLot } from '../clinic/lots/by-lot.ts';
import { type ErrorRates, errorRates, type TriedTest } from '../clinic/lots/error-rates.ts';
import { type ShiftByControls, shiftByControls } from '../clinic/lots/shift-by-controls.ts';
import { type LotResult, type ShiftByPeople, shiftByPeople } from '../clinic/lots/shift-by-people.ts';
import { lotState } from '../clinic/lots/strip-lot.ts';
import type { OverwriteForecast } from '../clinic/meters/overwrite.ts';
import {
  dyingBatteries,
  notSeenForLong,
  type PowerLoss,
  rankDrift,
  rankPowerLosses,
} from '../clinic/meters/rankings.ts';
import { LOT_HABITS } from '../clinic/rules/lot-habits.ts';
import { METER_HABITS } from '../clinic/rules/meter-habits.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import type { StripLot } from '../core/strip-lot.ts';
import { zoneOf } from '../core/zone.ts';
import { controlPractice, controlReadings, levelFacts } from '../record/control-tests.ts';
import type { StoredIncident } from '../store/incidents.ts';
import { isLentAt, type StoredLend } from '../store/lends.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { Store } from '../store/store.ts';
import { forecastOf } from './forecast.ts';

/** One meter. */
export interface MeterRow {
  readonly meterId: string;
  readonly model: string;
  /** Who has it now; absent for one that is not lent. */
  readonly person?: { readonly id: string; readonly name?: string };
  /** When it was last read. */
  readonly seen?: Instant;
  readonly forecast: OverwriteForecast;
  readonly powerLosses: number;
  readonly battery: 'dying' | 'perhaps dying' | 'no sign';
  /** Positive: its clock runs fast. Absent where not known yet. */
  readonly driftSecondsPerDay?: number;
  /** Faster or slower than a crystal can be. */
  readonly isBeyondCrystal: boolean;
  /** Days over the usual without a download; absent where there are none. */
  readonly daysUnseen?: number;
}

/** One strip lot. */
export interface LotRow extends Omit<LotSummary, 'first' | 'last'> {
  readonly firstAt: Instant;
  readonly lastAt: Instant;
  readonly state: 'good' | 'expired' | 'unknown';
  readonly registered?: StripLot;
}

/** The whole of the report. */
export interface MetersReport {
  readonly now: Instant;
  readonly zone: string;
  readonly analyte: string;
  /** The forecast that ends first on top. */
  readonly meters: readonly MeterRow[];
  /** Meters by losses and by drift, the worst first. */
  readonly ranks: {
    readonly losses: readonly { readonly meter: string; readonly losses: number }[];
    readonly drift: readonly { readonly meter: string; readonly secondsPerDay: number }[];
  };
  readonly errors: readonly ErrorRates[];
  /** In the order in which they were first used. */
  readonly lots: readonly LotRow[];
  /** Registered and never used. */
  readonly unused: readonly (StripLot & { readonly state: 'good' | 'expired' | 'unknown' })[];
  /** From each lot to the one that was first used after it. */
  readonly shifts: readonly { readonly byPeople: ShiftByPeople; readonly byControls: readonly ShiftByControls[] }[];
}

/** What to gather. */
export interface MetersAsk {
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
  /** How much a meter's clock gains a day in seconds, where it is known: the clock room and the intake know. */
  readonly driftOf: (meterNo: number) => number | undefined;
}

/** Gathers it on one view of the store. */
export function gatherMeters(store: Store, ask: MetersAsk): MetersReport {
  return store.db.read(() => gather(store, ask));
}

function gather(store: Store, ask: MetersAsk): MetersReport {
  const { now, zone, policy } = ask;
  const analyte = policy.targeted[0] ?? 'INR';
  const all = store.meters.list();
  const today = localDay(now, zoneOf(zone));
  const names = new Map(all.map((m) => [m.meterNo, m.id]));
  const meters = meterRows(store, all, ask);
  const results = lotResults(store, analyte);
  const summaries = resultsByLot(results);
  const registered = new Map(store.lots.list().map((lot) => [lot.lot, lot]));
  const used = new Set(summaries.map((s) => s.lot));
  const tried = triedTests(store, names);
  return {
    now,
    zone,
    analyte,
    meters,
    ranks: {
      losses: rankPowerLosses(meters.flatMap((m) => new Array<PowerLoss>(m.powerLosses).fill({ meter: m.meterId }))),
      drift: rankDrift(
        meters.flatMap(({ meterId, driftSecondsPerDay: secondsPerDay }) =>
          secondsPerDay === undefined ? [] : [{ meter: meterId, secondsPerDay }],
        ),
        METER_HABITS,
      ).map(({ meter, secondsPerDay }) => ({ meter, secondsPerDay })),
    },
    errors: (['meter', 'person', 'lot'] as const).map((by) => errorRates(tried, by)),
    lots: summaries.map(({ first, last, ...rest }) => {
      const known = registered.get(rest.lot);
      return {
        ...rest,
        firstAt: first,
        lastAt: last,
        state: lotState(known, today),
        ...(known && { registered: known }),
      };
    }),
    unused: [...registered.values()]
      .filter((lot) => !used.has(lot.lot))
      .map((lot) => ({ ...lot, state: lotState(lot, today) })),
    shifts: shiftsOf(store, results, summaries, zone),
  };
}

/** One meter as it stands in the report. */
export function gatherMeter(store: Store, meter: StoredMeter, ask: Pick<MetersAsk, 'now' | 'driftOf'>): MeterRow {
  return store.db.read(() =>
    makeMeterRow(store, store.incidents.list(meter.meterNo), store.lends.list({ meterId: meter.id }), ask)(meter),
  );
}

function meterRows(store: Store, all: readonly StoredMeter[], ask: MetersAsk): MeterRow[] {
  const end = ({ forecast }: MeterRow): number =>
    forecast.kind === 'forecast' ? forecast.cautiousAt : Number.POSITIVE_INFINITY;
  return all
    .map(makeMeterRow(store, store.incidents.list(), store.lends.list(), ask))
    .sort((a, b) => (end(a) === end(b) ? (a.meterId < b.meterId ? -1 : 1) : end(a) - end(b)));
}

/** Makes rows of meters, whose incidents and lends are among these. */
function makeMeterRow(
  store: Store,
  incidents: readonly StoredIncident[],
  lends: readonly StoredLend[],
  { now, driftOf }: Pick<MetersAsk, 'now' | 'driftOf'>,
): (meter: StoredMeter) => MeterRow {
  const losses = incidents
    .filter((i) => i.kind === 'power-loss')
    .map(({ meterNo, earliest, latest }) => ({
      meter: String(meterNo),
      ...(earliest !== undefined && { earliest }),
      ...(latest !== undefined && { latest }),
    }));
  const lossesOf = groupBy(losses, (l) => l.meter);
  const dying = new Map(dyingBatteries(losses, METER_HABITS).map((d) => [d.meter, d.isSure]));
  const lendsNow = groupBy(
    lends.filter((lend) => isLentAt(lend, now)),
    (l) => l.meterId,
  );
  return (meter) => {
    const { meterNo, id, model } = meter;
    const downloads = store.downloads.list(meterNo);
    const seen = downloads.at(-1)?.at;
    const lend = lendsNow.get(id)?.findLast((l) => (l.model ?? model) === model);
    const person = lend && store.patients.byNumber(lend.patientNo);
    const isSure = dying.get(String(meterNo));
    const drift = driftOf(meterNo);
    const [unseen] = notSeenForLong([{ meter: id, ...(seen !== undefined && { seen }) }], now, METER_HABITS);
    return {
      meterId: id,
      model,
      ...(person && { person: { id: person.id, ...(person.name !== undefined && { name: person.name }) } }),
      ...(seen !== undefined && { seen }),
      forecast: forecastOf(store, meter, downloads, now),
      powerLosses: lossesOf.get(String(meterNo))?.length ?? 0,
      battery: isSure === undefined ? 'no sign' : isSure ? 'dying' : 'perhaps dying',
      ...(drift !== undefined && { driftSecondsPerDay: drift }),
      isBeyondCrystal: drift !== undefined && Math.abs(drift) > METER_HABITS.greatestDriftSecondsPerDay,
      ...(unseen?.daysOver !== undefined && { daysUnseen: Math.floor(unseen.daysOver) }),
    };
  };
}

function triedTests(store: Store, names: ReadonlyMap<number, string>): TriedTest[] {
  return store.db
    .statement<{ kind: string; meter: number; person: string | null; lot: string | null }>(
      `SELECT j.kind, j.meter_no AS meter, p.patient_id AS person, j.lot FROM judged j
        LEFT JOIN patient p ON p.patient_no = j.patient_no WHERE j.kind IN ('patient', 'error') AND j.status <> 'void'`,
    )
    .all()
    .map((r) => ({
      isError: r.kind === 'error',
      meter: names.get(r.meter) ?? String(r.meter),
      ...(r.person !== null && { person: r.person }),
      ...(r.lot !== null && { lot: r.lot }),
    }));
}

function lotResults(store: Store, analyte: string): LotResult[] {
  return store.db
    .statement<{ person: number; lot: string; value: number; at: number }>(
      `SELECT patient_no AS person, lot, value, taken_at AS at FROM judged
        WHERE kind = 'patient' AND analyte = ? AND status IN ('settled', 'provisional') AND patient_no IS NOT NULL
          AND lot IS NOT NULL AND value IS NOT NULL AND beyond IS NULL AND taken_at IS NOT NULL`,
    )
    .all(analyte)
    .map(({ person, lot, value, at }) => ({ person: String(person), lot, value, at: instant(at) }));
}

function shiftsOf(
  store: Store,
  results: readonly LotResult[],
  summaries: readonly LotSummary[],
  zone: string,
): MetersReport['shifts'] {
  const levels = store.controls.list();
  const local = zoneOf(zone);
  const judged = judgeControls(
    controlReadings(store.judged.list({ kind: 'control' }), levels, String),
    levels.map(levelFacts),
    controlPractice((at) => localDay(at, local)),
  );
  return summaries.flatMap(({ lot: from }, i) => {
    const to = summaries[i + 1]?.lot;
    if (to === undefined) return [];
    const shift = shiftByPeople(results, from, to, LOT_HABITS);
    // Who they are is nobody's business here.
    return [
      {
        byPeople: { ...shift, people: shift.people.map((p) => ({ ...p, person: '' })) },
        byControls: shiftByControls(judged, from, to, LOT_HABITS),
      },
    ];
  });
}
