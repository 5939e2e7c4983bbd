/**
 * Which meter reading belongs to which laboratory value: the same person, near enough in time. Times are known between
 * bounds, so that two moments lie surely within the set time, possibly, or not.
 */
import type { CoursePoint, TimeSpan } from '../facts.ts';
import { groupBy } from '../group-by.ts';

/** A value of a person, from the laboratory or from a meter. Values are positive. */
export interface PersonValue extends CoursePoint {
  readonly patient: string;
}

/** `surely` whatever the true times are within their bounds, `possibly` for some of them. */
export type Nearness = 'surely' | 'possibly';

/** The time from one moment to another, milliseconds. */
export interface Apart {
  /** From the laboratory value to the reading by the best estimates; negative where the reading came first. */
  readonly bestMs: number;
  /** The least and the most that can lie between them; absent where a bound is open. */
  readonly leastMs: number;
  readonly mostMs?: number;
}

/** A laboratory value and the reading it is compared with. */
export interface Pair {
  readonly laboratory: PersonValue;
  readonly reading: PersonValue;
  readonly nearness: Nearness;
  readonly apart: Apart;
  /** One of the two lies beyond its measuring range: there is no difference to reckon with. */
  readonly isOffScale: boolean;
}

export interface Pairing {
  /** In order of the laboratory's time. */
  readonly pairs: readonly Pair[];
  /** Laboratory values without a reading near enough. */
  readonly alone: readonly PersonValue[];
}

/** How far two moments lie apart, by best estimate and by their bounds. */
export function apart(from: TimeSpan, to: TimeSpan): Apart {
  const [fromEarliest, fromLatest] = bounds(from);
  const [toEarliest, toLatest] = bounds(to);
  const mostMs = Math.max(toLatest - fromEarliest, fromLatest - toEarliest);
  return {
    bestMs: to.at - from.at,
    leastMs: Math.max(0, toEarliest - fromLatest, fromEarliest - toLatest),
    ...(Number.isFinite(mostMs) ? { mostMs } : {}),
  };
}

/**
 * Pairs laboratory values with readings of the same person, each used once. Where several compete, sure pairs come
 * first, and among them the two moments that lie nearest to each other, then the next nearest that are still free: no
 * value and reading are left apart that lie nearer to each other than to what they were given instead. Making the most
 * pairs or the least total time would break a pair of minutes to win one of hours. Equal distances: the earlier
 * laboratory value, then the earlier reading, then by id.
 */
export function pairUp(
  laboratory: readonly PersonValue[],
  readings: readonly PersonValue[],
  withinHours: number,
): Pairing {
  const readingsOf = groupBy(readings, ({ patient }) => patient);
  const candidates = laboratory
    .flatMap((value) =>
      (readingsOf.get(value.patient) ?? []).flatMap((reading) => candidate(value, reading, withinHours)),
    )
    .sort(nearestFirst);
  const used = new Set<PersonValue>();
  const pairs = candidates.filter(({ laboratory, reading }) => {
    if (used.has(laboratory) || used.has(reading)) return false;
    used.add(laboratory).add(reading);
    return true;
  });
  return {
    pairs: pairs.sort((a, b) => earliestFirst(a.laboratory, b.laboratory)),
    alone: laboratory.filter((value) => !used.has(value)),
  };
}

function candidate(laboratory: PersonValue, reading: PersonValue, withinHours: number): readonly Pair[] {
  const between = apart(laboratory.time, reading.time);
  const withinMs = withinHours * 3_600_000;
  if (between.leastMs > withinMs) return [];
  return [
    {
      laboratory,
      reading,
      nearness: between.mostMs !== undefined && between.mostMs <= withinMs ? 'surely' : 'possibly',
      apart: between,
      isOffScale: laboratory.beyond !== undefined || reading.beyond !== undefined,
    },
  ];
}

const bounds = ({ earliest, latest }: TimeSpan): readonly [number, number] => [
  earliest ?? -Infinity,
  latest ?? Infinity,
];

const nearestFirst = (a: Pair, b: Pair): number =>
  Number(a.nearness === 'possibly') - Number(b.nearness === 'possibly') ||
  Math.abs(a.apart.bestMs) - Math.abs(b.apart.bestMs) ||
  earliestFirst(a.laboratory, b.laboratory) ||
  earliestFirst(a.reading, b.reading);

const earliestFirst = (a: PersonValue, b: PersonValue): number =>
  a.time.at - b.time.at || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0);
