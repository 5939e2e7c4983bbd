/**
 * What the tests of one meter say, one after the other: INR and PT of people whose values wander around their usual
 * one, control tests, errors of technique, strip lots that run out. Invented, but plausible. When the tests are made
 * is not decided here.
 */
import type { Instant } from '../core/instant.ts';
import { formatWall, wall } from '../core/meter-time.ts';
import type { Chance } from './chance.ts';
import type { TestFacts } from './memory.ts';

/** Who uses the meter and how. */
export interface CourseOptions {
  /** 1: a person's own meter; more: a shared one, where patient and operator are keyed in. */
  readonly people: number;
  /** Share of control tests, and of tests that end in an error. */
  readonly controls: number;
  readonly errors: number;
  /** Whether the meter knows the expiry of its strips. */
  readonly tellsExpiry: boolean;
}

/** Gives the facts of test after test. */
export interface Course {
  next(at: Instant): TestFacts;
}

/** Measuring range of a usual INR strip: outside of it the meter shows only that. */
const LOWEST = 0.8;
const HIGHEST = 8;
/** PT in seconds of plasma at INR 1, and how much PT scatters around what INR says. */
const NORMAL_PT_S = 11.5;
const PT_SCATTER = 0.006;
const DAY_MS = 86_400_000;

/** A course drawn from the chance given. */
export function createCourse(chance: Chance, options: CourseOptions): Course {
  const people = Array.from({ length: options.people }, (_, i) => ({
    id: `PA-${1001 + i}`,
    usual: chance.happens(0.75) ? 2.5 : 3.1,
    away: chance.normal(0, 0.2),
  }));
  let lot = 1_200_000 + chance.whole(0, 40);
  let strips = chance.whole(5, 50);
  let expiry: string | undefined;

  const strip = (at: Instant): Pick<TestFacts, 'lot' | 'lotExpiry'> => {
    if (strips-- <= 0) {
      lot += chance.whole(1, 3);
      strips = chance.whole(10, 24 * Math.max(1, Math.sqrt(options.people)));
      expiry = undefined;
    }
    expiry ??= formatWall(wall(at + chance.whole(120, 500) * DAY_MS), DAY_MS);
    return { lot: String(lot), ...(options.tellsExpiry ? { lotExpiry: expiry } : {}) };
  };

  return {
    next(at) {
      const keyed = options.people > 1 ? { operator: `OP${chance.whole(1, 4)}` } : {};
      if (chance.happens(options.errors)) {
        return { kind: 'error', values: [], errorCode: `E${chance.whole(1, 8)}`, ...strip(at), ...keyed };
      }
      if (chance.happens(options.controls)) {
        const level = chance.happens(0.5) ? 1.1 : 2.9;
        return { kind: 'control', ...measured(chance, chance.normal(level, 0.04 * level)), ...strip(at), ...keyed };
      }
      const person = people[chance.whole(0, people.length - 1)];
      if (!person) throw new Error('a course needs at least one person');
      // A value returns towards its usual one; a seventh of the tests is off for a reason of its own.
      person.away = 0.6 * person.away + chance.normal(0, chance.happens(0.14) ? 0.35 : 0.15);
      const who = options.people > 1 ? { patientId: person.id } : {};
      return {
        kind: 'patient',
        ...measured(chance, person.usual * Math.exp(person.away)),
        ...strip(at),
        ...keyed,
        ...who,
      };
    },
  };
}

/** INR and PT as the meter shows them. */
export function measured(chance: Chance, inr: number): Pick<TestFacts, 'values' | 'flags'> {
  const pt = NORMAL_PT_S * inr * (1 + chance.normal(0, PT_SCATTER));
  const limit = inr > HIGHEST ? '>' : inr < LOWEST ? '<' : '';
  const shown = Math.min(HIGHEST, Math.max(LOWEST, inr));
  const shownPt = limit ? NORMAL_PT_S * shown : pt;
  return {
    values: [
      { analyte: 'INR', value: `${limit}${shown.toFixed(1)}`, unit: '{INR}' },
      { analyte: 'PT', value: `${limit}${shownPt.toFixed(1)}`, unit: 's' },
    ],
    ...(limit ? { flags: ['rng'] } : {}),
  };
}
