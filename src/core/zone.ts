/**
 * Local time of an IANA zone, both ways, from a table of the zone's transitions that is made once with the Temporal
 * polyfill (the rules come from the platform's tzdata through Intl). Binary search afterwards: the clock room asks
 * for offsets hundreds of thousands of times.
 */
import { Temporal } from 'temporal-polyfill';
import { Fault } from './fault.ts';
import { type Instant, instant } from './instant.ts';
import { type Wall, wall } from './meter-time.ts';

/** How a wall time maps to true time in a zone. */
export type LocalMoment =
  | { readonly kind: 'unique'; readonly at: Instant }
  /** The hour that happens twice in autumn. */
  | { readonly kind: 'repeated'; readonly earlier: Instant; readonly later: Instant }
  /** The hour that a spring change skips; both readings are given: with the offset before (later) and after (earlier). */
  | { readonly kind: 'skipped'; readonly earlier: Instant; readonly later: Instant };

/** A zone's offsets over time. */
export interface Zone {
  readonly name: string;
  /** Milliseconds to add to UTC to get local time, at an instant. */
  offsetAt(at: Instant): number;
  /** The wall time that a correct clock shows in this zone at an instant. */
  wallAt(at: Instant): Wall;
  /** The instants that a wall time can mean. */
  momentOf(at: Wall): LocalMoment;
  /** Stretches of constant offset that meet [from, to], in order. `from`/`to` of each are clipped to the request. */
  stretches(
    from: Instant,
    to: Instant,
  ): readonly { readonly from: Instant; readonly to: Instant; readonly offset: number }[];
}

// Meters and their default dates live between these years; outside of them the first and last offsets are used.
const FIRST_YEAR = 1990;
const LAST_YEAR = 2060;
const cache = new Map<string, Zone>();

/** The zone of an IANA name. Throws ZONE_UNKNOWN for a name that the platform's tzdata does not have. */
export function zoneOf(name: string): Zone {
  const known = cache.get(name);
  if (known) return known;
  const made = makeZone(name);
  cache.set(name, made);
  return made;
}

function makeZone(name: string): Zone {
  let at: Temporal.ZonedDateTime;
  try {
    at = Temporal.ZonedDateTime.from({ year: FIRST_YEAR, month: 1, day: 1, timeZone: name });
  } catch (cause) {
    throw new Fault('ZONE_UNKNOWN', `"${name}" is not a time zone`, 'Use an IANA name such as Europe/Lisbon.', {
      cause,
    });
  }
  const starts: number[] = [Number.NEGATIVE_INFINITY];
  const offsets: number[] = [at.offsetNanoseconds / 1e6];
  for (;;) {
    const next = at.getTimeZoneTransition('next');
    if (!next || next.year > LAST_YEAR) break;
    starts.push(next.epochMilliseconds);
    offsets.push(next.offsetNanoseconds / 1e6);
    at = next;
  }
  const indexAt = (ms: number): number => {
    let lo = 0;
    let hi = starts.length - 1;
    while (lo < hi) {
      const mid = (lo + hi + 1) >> 1;
      if ((starts[mid] ?? 0) <= ms) lo = mid;
      else hi = mid - 1;
    }
    return lo;
  };
  const offsetAt = (ms: number): number => offsets[indexAt(ms)] ?? 0;
  return {
    name,
    offsetAt,
    wallAt: (ms) => wall(ms + offsetAt(ms)),
    momentOf(local) {
      // Candidates: the offsets in force a day before and a day after cover every transition of tzdata.
      const before = offsetAt(local - 86_400_000);
      const after = offsetAt(local + 86_400_000);
      const fits = [...new Set([before, after])].filter((o) => offsetAt(local - o) === o).map((o) => local - o);
      const [a, b] = fits;
      if (a !== undefined && b === undefined) return { kind: 'unique', at: instant(a) };
      if (a !== undefined && b !== undefined)
        return { kind: 'repeated', earlier: instant(Math.min(a, b)), later: instant(Math.max(a, b)) };
      const readings = [local - before, local - after];
      return { kind: 'skipped', earlier: instant(Math.min(...readings)), later: instant(Math.max(...readings)) };
    },
    stretches(from, to) {
      const out: { from: Instant; to: Instant; offset: number }[] = [];
      for (let i = indexAt(from); i < starts.length && (i === indexAt(from) || (starts[i] ?? 0) <= to); i++) {
        const start = Math.max(from, starts[i] ?? from);
        const end = Math.min(to, (starts[i + 1] ?? Number.POSITIVE_INFINITY) - 1);
        out.push({ from: instant(start), to: instant(Math.max(start, end)), offset: offsets[i] ?? 0 });
      }
      return out;
    },
  };
}
