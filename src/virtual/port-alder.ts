/**
 * The two demo meters of Port Alder, a town that does not exist: a home tester's meter, whose batteries ran out weeks
 * ago, and the meter of the anticoagulation clinic. Invented throughout; the same seed and time give the same meters.
 */
import { type Instant, instant } from '../core/instant.ts';
import { wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import { chanceFrom } from './chance.ts';
import { type Course, createCourse } from './course.ts';
import { NO_FAULTS } from './faults.ts';
import { planLife } from './life.ts';
import type { VirtualMeter } from './meter.ts';
import { meterWithPast, weeklyMoments } from './past.ts';
import { virtualPort } from './port.ts';
import { type Served, serveTcp } from './serve.ts';
import { astmSpeaker } from './speak-astm.ts';
import { lineSpeaker } from './speak-line.ts';

/** A demo meter and how to read it. */
export interface DemoMeter {
  /** A few words for people: whose it is and what is wrong with it. */
  readonly what: string;
  /** The meter profile that reads it. */
  readonly profile: string;
  readonly meter: VirtualMeter;
  /** Puts it on a free TCP port of this machine. */
  serve(now: () => Instant): Promise<Served>;
}

const DAY_MS = 86_400_000;
const DEFAULT_STAMP = wall(Date.UTC(2000, 0, 1));

/** What the two meters measure, where it is not drawn: the people and strips of a clinic's year. */
export interface DemoCourses {
  readonly home: Course;
  readonly clinic: Course;
}

/** The home tester's meter and the clinic's, as they are at `now` in the town's zone. */
export function portAlderMeters(
  seed: number,
  now: Instant,
  zone: Zone,
  courses?: DemoCourses,
): readonly [home: DemoMeter, clinic: DemoMeter] {
  const home = homeMeter(seed, now, zone, courses?.home);
  const clinic = clinicMeter(seed + 1, now, zone, courses?.clinic);
  return [
    {
      what: 'a home tester’s meter; its batteries ran out some weeks ago and its clock was never set again',
      profile: 'tlp-generic',
      meter: home,
      serve: (clock) => serveTcp(virtualPort(lineSpeaker(), home, NO_FAULTS, chanceFrom(seed), clock), 0),
    },
    {
      what: 'the meter of the anticoagulation clinic; it sends by itself when it is docked',
      profile: 'astm-generic-oldest',
      meter: clinic,
      serve: (clock) => serveTcp(virtualPort(astmSpeaker(), clinic, NO_FAULTS, chanceFrom(seed), clock), 0),
    },
  ];
}

/** 34 weekly tests in minutes; the last third was made after the clock had fallen back to its default date. */
function homeMeter(seed: number, now: Instant, zone: Zone, given?: Course): VirtualMeter {
  const chance = chanceFrom(seed);
  const past = {
    id: 'PA-H017',
    model: 'GM-10',
    capacity: 200,
    order: 'newest',
    stampResolutionMs: 60_000,
    tellsRunNumbers: true,
    tellsLosses: true,
    defaultStamp: DEFAULT_STAMP,
    driftPpm: 24,
    clockOffMs: 70_000,
    clockLost: true,
    deletions: 0,
  } as const;
  const drawn = createCourse(chance, { people: 1, controls: 0.05, errors: 0.04, tellsExpiry: false });
  return meterWithPast(past, weeklyMoments(chance, 34, now, zone), zone, now, chance, given ?? drawn);
}

/** Four weeks of a clinic: many people, control tests, operators; a clock three minutes slow. */
function clinicMeter(seed: number, now: Instant, zone: Zone, given?: Course): VirtualMeter {
  const chance = chanceFrom(seed);
  const past = {
    id: 'PA-C002',
    model: 'GM-40',
    capacity: 200,
    order: 'oldest',
    stampResolutionMs: 1000,
    tellsRunNumbers: true,
    tellsLosses: false,
    defaultStamp: DEFAULT_STAMP,
    driftPpm: -38,
    clockOffMs: -170_000,
    clockLost: false,
    deletions: 0,
  } as const;
  const drawn = createCourse(chance, { people: 26, controls: 0.08, errors: 0.03, tellsExpiry: true });
  const from = instant(Math.floor(now / DAY_MS) * DAY_MS - 28 * DAY_MS);
  const moments = planLife(chance, { world: 'drift-only', use: 'shared', zone, from, days: 28 })
    .filter((happening) => happening.kind === 'test')
    .map((happening) => happening.at);
  return meterWithPast(past, moments, zone, now, chance, given ?? drawn);
}
