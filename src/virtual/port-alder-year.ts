/**
 * A year of the small anticoagulation clinic of Port Alder, with all the trouble that such a year has: the captures of
 * every visit in the order of time, the tables that the clinic keeps beside its meters, and the truth. Invented
 * throughout; the same seed, end and size give the same bytes.
 */
import type { Capture } from '../core/capture.ts';
import { type Instant, instant } from '../core/instant.ts';
import { formatWall, wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import { type Chance, chanceFrom } from './chance.ts';
import { type History, liveThrough } from './history.ts';
import { type Happening, planLife, type Setting } from './life.ts';
import { emptyMemory } from './memory.ts';
import type { VirtualMeter } from './meter.ts';
import type { DemoCourses } from './port-alder.ts';
import { type Townsperson, townspeople } from './port-alder-people.ts';
import {
  type ClinicControl,
  type ClinicLot,
  CONTROLS,
  clinicCourse,
  clinicLots,
  type Testing,
} from './port-alder-tests.ts';

/** What to generate. */
export interface YearOptions {
  readonly seed: number;
  /** When the year ends. */
  readonly until: Instant;
  readonly zone: Zone;
  /** Default 365. */
  readonly days?: number;
  /** Home testers whose meters were read over the year; default 40, at least 12: the troubles need their meters. */
  readonly homes?: number;
}

/** One meter's year. */
export interface MeterYear {
  readonly id: string;
  /** Plain words on what went wrong with it; absent where nothing did. */
  readonly trouble?: string;
  readonly history: History;
}

/** A lend that had ended by the end of the year. */
export interface PastLend {
  readonly meter: string;
  readonly patientId: string;
  /** Local, `YYYY-MM-DD hh:mm`. */
  readonly from: string;
  readonly until: string;
}

/** The year. Tables are CSV texts with the columns that the imports know. */
export interface ClinicYear {
  /** In the order of time; `name` is that of a capture file. */
  readonly captures: readonly { readonly name: string; readonly capture: Capture }[];
  readonly meters: readonly MeterYear[];
  readonly lots: readonly ClinicLot[];
  readonly controls: readonly ClinicControl[];
  readonly people: readonly Townsperson[];
  /** Those whose meters went on to others: people without a meter now. */
  readonly former: string;
  readonly present: string;
  /** Targets that were changed in mid-year. */
  readonly targets: string;
  readonly appointments: string;
  readonly laboratory: string;
  readonly pastLends: readonly PastLend[];
  /** What the two live meters measure. */
  readonly courses: DemoCourses;
}

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
const FORMER = 2;
const CLINIC_ONLY = 18;
const SHARED = ['PA-C001', 'PA-C003', 'PA-C004'] as const;
/** The one of them that sends by itself, in the way of ASTM: over a weak checksum, and nobody can set its clock from here. */
const ASTM_METER = 'PA-C004';
/** The home meter that stands on the dock today. */
const ON_DOCK = 17;

/** Trouble of a home meter, by its number. */
type Trouble = (plan: Plan) => readonly Happening[];
interface Plan {
  readonly day: (share: number, hours?: number) => Instant;
}

const lostThenSet =
  (how: Setting): Trouble =>
  ({ day }) => [
    { kind: 'power-loss', at: day(0.4) },
    { kind: 'hand-setting', at: day(0.4, 0.2), how },
  ];

const TROUBLES: Readonly<Record<number, { readonly what: string; readonly happens: Trouble }>> = {
  3: {
    what: 'batteries ran out, the clock was never set',
    happens: ({ day }) => [{ kind: 'power-loss', at: day(0.35) }],
  },
  4: { what: 'clock set a year off', happens: lostThenSet('year') },
  5: { what: 'clock set with day and month exchanged', happens: lostThenSet('day-month') },
  6: { what: 'clock set twelve hours off', happens: lostThenSet('twelve-hours') },
  7: { what: 'a small memory, read too seldom: tests overwritten', happens: () => [] },
  8: {
    what: 'doubted results deleted',
    happens: ({ day }) => [0.25, 0.6].map((s) => ({ kind: 'delete-one', at: day(s) })),
  },
  9: { what: 'the whole memory deleted', happens: ({ day }) => [{ kind: 'delete-all', at: day(0.5) }] },
  10: {
    what: 'the cable pulled in mid-download',
    happens: ({ day }) => [0.5, 0.8].map((s) => ({ kind: 'visit', at: day(s), pulled: 0.6 })),
  },
  11: { what: 'strips used after their expiry', happens: () => [] },
  12: { what: 'a cluster of error tests', happens: () => [] },
};

/** Generates the year. */
export function portAlderYear(options: YearOptions): ClinicYear {
  const { seed, until, zone, days = 365, homes = 40 } = options;
  const from = instant(Math.floor(until / DAY_MS) * DAY_MS - days * DAY_MS);
  const day = (share: number, hours = 12): Instant =>
    instant(from + Math.floor(share * days) * DAY_MS + hours * HOUR_MS);
  const local = (at: Instant): string => formatWall(zone.wallAt(at), 60_000).replace('T', ' ');
  const chance = chanceFrom(seed);
  const people = townspeople(chance, homes + FORMER + CLINIC_ONLY);
  const lots = clinicLots(from, days);
  const handover = day(0.5);
  const comers = people.slice(homes + FORMER);
  const any = (draw: Chance) => (): Townsperson => one(comers, draw.whole(0, comers.length - 1));

  const meters: MeterYear[] = [];
  for (let n = 1; n <= homes; n++) {
    if (n === ON_DOCK) continue;
    const draw = chanceFrom(seed + n);
    const earlier = n <= FORMER ? people[homes + n - 1] : undefined;
    const own = one(people, n - 1);
    const testing: Testing = {
      who: (at) => (earlier && at < handover ? earlier : own),
      isShared: false,
      lots,
      ...(n === 11 ? { oldBoxUntil: day(0.5) } : {}),
      ...(n === 12 ? { errorsIn: [day(0.4), day(0.6)] as const } : {}),
    };
    const trouble = TROUBLES[n];
    const life = [...homeLife(draw, zone, from, days, n === 7 ? 4 : 1), ...(trouble?.happens({ day }) ?? [])];
    const id = `PA-H${String(n).padStart(3, '0')}`;
    const born = newMeter(draw, { id, isShared: false, capacity: n === 7 ? 12 : 200, from, zone });
    const what = trouble?.what ?? (earlier ? 'changed hands in mid-year' : undefined);
    meters.push({ id, ...(what ? { trouble: what } : {}), history: lived(draw, born, life, testing, until, zone) });
  }
  for (const [i, id] of SHARED.entries()) {
    const draw = chanceFrom(seed + 1000 + i);
    const isFailing = i === 1;
    const testing: Testing = {
      who: any(draw),
      isShared: true,
      lots,
      ...(isFailing ? { controlFailsIn: [day(0.65), day(0.68)] as const } : {}),
    };
    const born = newMeter(draw, { id, isShared: true, capacity: 200, from, zone });
    const history = lived(draw, born, sharedLife(draw, zone, from, days), testing, until, zone);
    meters.push({ id, trouble: isFailing ? 'a control failed' : 'ids keyed wrongly or not at all', history });
  }

  const meterOf = (i: number): string => `PA-H${String(i + 1).padStart(3, '0')}`;
  const columns = 'patient_id,name,birth_year,reason,plan_days,since,target_low,target_high,target_from';
  const began = local(instant(from - 30 * DAY_MS));
  const row = (p: Townsperson): string =>
    [p.id, p.name, p.birthYear, p.reason, p.planDays, began.slice(0, 10), p.low, p.high, began.slice(0, 10)].join(',');
  const changedOnes = [13, 14].map((i) => one(people, i % homes));
  return {
    captures: inOrder(meters),
    meters,
    lots,
    controls: CONTROLS,
    people,
    former: table(columns, people.slice(homes, homes + FORMER).map(row)),
    present: table(`${columns},meter,meter_from`, [
      ...people.slice(0, homes).map((p, i) => `${row(p)},${meterOf(i)},${i < FORMER ? local(handover) : began}`),
      ...comers.map((p) => `${row(p)},,`),
    ]),
    targets: table(
      'patient_id,target_low,target_high,target_from',
      changedOnes.map((p) => `${p.id},${p.low === '2.0' ? '2.5,3.5' : '2.0,3.0'},${local(day(0.6)).slice(0, 10)}`),
    ),
    appointments: table('time,patient_id', appointmentRows(meters, people, local)),
    laboratory: table('time,patient_id,value,laboratory', laboratoryRows(chance, meters, people, lots, local)),
    pastLends: people.slice(homes, homes + FORMER).map((p, i) => ({
      meter: meterOf(i),
      patientId: p.id,
      from: began,
      until: local(handover),
    })),
    courses: {
      home: clinicCourse(chanceFrom(seed + 2001), {
        who: () => one(people, Math.min(ON_DOCK, homes) - 1),
        isShared: false,
        lots,
      }),
      clinic: clinicCourse(chanceFrom(seed + 2002), { who: any(chanceFrom(seed + 2003)), isShared: true, lots }),
    },
  };
}

const table = (head: string, rows: readonly string[]): string => `${[head, ...rows].join('\n')}\n`;

function one<T>(items: readonly T[], place: number): T {
  const item = items[place];
  if (item === undefined) throw new Error(`nothing stands at ${place} of ${items.length}`);
  return item;
}

/** Tests at home, and visits to the clinic: only every `every`th of those drawn. */
function homeLife(draw: Chance, zone: Zone, from: Instant, days: number, every: number): Happening[] {
  const plan = planLife(draw, { world: 'drift-only', use: 'home', zone, from, days });
  let visits = 0;
  return plan.filter((h) => h.kind !== 'visit' || visits++ % every === 0);
}

/** Half the tests of a busy clinic, and a visit to the dock every few weeks. */
function sharedLife(draw: Chance, zone: Zone, from: Instant, days: number): Happening[] {
  const plan = planLife(draw, { world: 'drift-only', use: 'shared', zone, from, days });
  let visits = 0;
  return plan.filter((h) => (h.kind === 'visit' ? visits++ % 3 === 0 : draw.happens(0.4)));
}

interface Birth {
  readonly id: string;
  readonly isShared: boolean;
  readonly capacity: number;
  readonly from: Instant;
  readonly zone: Zone;
}

function newMeter(draw: Chance, { id, isShared, capacity, from, zone }: Birth): VirtualMeter {
  const setAt = instant(from - HOUR_MS);
  return {
    id,
    model: isShared ? 'GM-40' : 'GM-10',
    firmware: '1.0',
    memory: emptyMemory(capacity, isShared ? 'oldest' : 'newest'),
    clock: {
      rate: { ppm: draw.between(-40, 40), swayPpm: draw.between(0, 10), swayPhase: draw.next() },
      defaultStamp: wall(Date.UTC(2000, 0, 1)),
      losses: 0,
      setting: { at: setAt, shows: wall(zone.wallAt(setAt) + Math.round(draw.between(-90_000, 90_000))) },
    },
    stampResolutionMs: isShared ? 1000 : 60_000,
    clockResolutionMs: 1000,
    tellsRunNumbers: true,
    tellsLosses: !isShared,
    tellsDefault: false,
  };
}

function lived(
  draw: Chance,
  born: VirtualMeter,
  life: readonly Happening[],
  testing: Testing,
  until: Instant,
  zone: Zone,
): History {
  const before = life.filter((h) => h.at < until - DAY_MS).sort((a, b) => a.at - b.at);
  return liveThrough(born, before, {
    chance: draw,
    course: clinicCourse(draw, testing),
    dock: { port: 'dock-1', zone, protocol: born.id === ASTM_METER ? 'astm' : 'line', setsClock: 'when-off' },
    cutsReads: false,
    world: 'mixed',
  });
}

function inOrder(meters: readonly MeterYear[]): ClinicYear['captures'] {
  return meters
    .flatMap(({ id, history }) => history.captures.map((capture) => ({ id, capture })))
    .sort((a, b) => a.capture.openedAt - b.capture.openedAt)
    .map(({ id, capture }, i) => ({ name: `${String(i + 1).padStart(4, '0')}-${id}.capture.jsonl`, capture }));
}

const testsOf = (meters: readonly MeterYear[]) =>
  meters
    .filter((m) => SHARED.some((id) => id === m.id))
    .flatMap((m) => m.history.tests.filter((t) => t.kind === 'patient'))
    .sort((a, b) => a.at - b.at);

/** The appointment lists of the clinic: everyone who came and keyed an id, on the quarter of an hour before the test. */
function appointmentRows(
  meters: readonly MeterYear[],
  people: readonly Townsperson[],
  local: (at: Instant) => string,
): string[] {
  const known = new Set(people.map((p) => p.id));
  const rows = testsOf(meters).flatMap(({ at, patientId }) =>
    patientId !== undefined && known.has(patientId)
      ? [`${local(instant(Math.floor(at / 900_000) * 900_000))},${patientId}`]
      : [],
  );
  return [...new Set(rows)];
}

/** A vein sample within the half hour after every ninth test of a shared meter, as the laboratory measured it. */
function laboratoryRows(
  chance: Chance,
  meters: readonly MeterYear[],
  people: readonly Townsperson[],
  lots: readonly ClinicLot[],
  local: (at: Instant) => string,
): string[] {
  const known = new Set(people.map((p) => p.id));
  return testsOf(meters).flatMap((test, i) => {
    const shown = Number(test.values[0]?.value);
    if (i % 9 !== 0 || !Number.isFinite(shown) || test.patientId === undefined || !known.has(test.patientId)) return [];
    const factor = lots.find((l) => l.lot === test.lot)?.factor ?? 1;
    const value = (shown / factor) * (1 + chance.normal(0, 0.05));
    const at = instant(test.at + Math.round(chance.between(5, 28) * 60_000));
    return [`${local(at)},${test.patientId},${value.toFixed(1)},Port Alder laboratory`];
  });
}
