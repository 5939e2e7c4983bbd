/** The list of people: a search over ids and names, and for those shown how they stand. */
import { inOrder } from '../clinic/course/dated-point.ts';
import { planOf } from '../clinic/course/plan.ts';
import { INR_LONGEST_INTERVAL } from '../clinic/rules/inr-limits.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import { zoneOf } from '../core/zone.ts';
import { isLentAt } from '../store/lends.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';
import type { PeopleList, PersonRow } from './api/people.ts';
import { nameOf } from './named.ts';

/** What is asked. */
export interface PeopleAsk {
  readonly search: string;
  readonly offset: number;
  readonly limit: number;
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
}

/** Letters as they are searched for: `Ávila` is found by `avila`. */
const plain = (text: string): string => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();

/** The list: by name, those without one by id, people who left at the end. Every word of the search must be found. */
export function peopleList(store: Store, ask: PeopleAsk): PeopleList {
  return store.db.read(() => {
    const words = plain(ask.search).split(/\s+/).filter(Boolean);
    const found = store.patients
      .list()
      .map((person) => ({ person, text: plain(`${person.name ?? ''} ${person.id}`) }))
      .filter(({ text }) => words.every((word) => text.includes(word)))
      .sort((a, b) => order(a.person, ask.now) - order(b.person, ask.now) || (a.text < b.text ? -1 : 1));
    return {
      total: found.length,
      rows: found.slice(ask.offset, ask.offset + ask.limit).map(({ person }) => rowOf(store, person, ask)),
    };
  });
}

const order = ({ left }: StoredPatient, now: Instant): number => (left !== undefined && left <= now ? 1 : 0);

function rowOf(store: Store, person: StoredPatient, { now, zone, policy }: PeopleAsk): PersonRow {
  const { patientNo, birthYear, planDays } = person;
  const analyte = policy.targeted[0] ?? 'INR';
  const [last] = store.judged.valuesBefore(patientNo, analyte, instant(now + 1), instant(0), 1);
  const target = store.patients.targets(patientNo).findLast((t) => t.from <= now);
  const local = zoneOf(zone);
  const localDate = (at: Instant): string => localDay(at, local);
  const tests = last ? inOrder([{ id: last.reading, time: { at: last.at }, value: last.value }], localDate) : [];
  const plan = planOf(tests, {
    now,
    localDate,
    longestDays: INR_LONGEST_INTERVAL.days,
    ...(planDays === undefined ? {} : { everyDays: planDays }),
  });
  return {
    ...nameOf(person),
    ...(birthYear === undefined ? {} : { birthYear }),
    ...(target ? { target: { low: target.low, high: target.high } } : {}),
    ...(last
      ? {
          last: {
            at: last.at,
            value: last.value,
            ...(last.beyond ? { beyond: last.beyond } : {}),
            ...(last.standing ? { standing: last.standing } : {}),
          },
        }
      : {}),
    waiting: store.judged.countHeldOf(patientNo),
    overdueDays: person.left !== undefined && person.left <= now ? 0 : plan.overdueDays,
    meters: store.lends
      .list({ patientNo })
      .filter((lend) => isLentAt(lend, now))
      .map((l) => l.meterId),
  };
}
