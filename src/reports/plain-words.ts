/** How reports say times, standings and figures. Pure. */
import type { Figure } from '../clinic/course/figure.ts';
import type { TimeSpan } from '../clinic/facts.ts';
import { localMinute } from '../core/local-words.ts';
import type { Standing } from '../core/outgoing.ts';
import { spanInWords } from '../core/span-words.ts';
import type { Zone } from '../core/zone.ts';

const WORDS: Readonly<Record<Standing, string>> = {
  'critical-low': 'critically low',
  below: 'below',
  in: 'in range',
  above: 'above',
  'critical-high': 'critically high',
  'no-target': 'no target set',
};

/** A standing in words. */
export const standingWords = (standing: Standing): string => WORDS[standing];

/** Half a minute is as good as sure: nobody reads a wall clock better. */
const SURE_MS = 30_000;

/** How sure a time is: `sure`, `± 3 min`, or the bounds where they are far apart, open or lopsided. */
export function sureWords({ at, earliest, latest }: TimeSpan, zone: Zone): string {
  if (earliest === undefined && latest === undefined) return 'as the meter showed it, not checked';
  if (earliest === undefined) return `not later than ${localMinute(latest ?? at, zone)}`;
  if (latest === undefined) return `not earlier than ${localMinute(earliest, zone)}`;
  const before = at - earliest;
  const after = latest - at;
  const half = Math.max(before, after);
  if (half <= SURE_MS) return 'sure';
  const isEven = half <= 2 * Math.min(before, after) || half <= 60_000;
  return isEven && half < 43_200_000
    ? `± ${spanInWords(half / 1000)}`
    : `between ${localMinute(earliest, zone)} and ${localMinute(latest, zone)}`;
}

/** A share as whole percent: `68 %`. */
export const percent = (share: number): string => `${Math.round(share * 100)} %`;

/** A share cut to whole percents: what lies under 65 % does not stand there as 65 %, though it were 64.6 %. */
export const percentCut = (share: number): string => `${wholePercents(share)} %`;

/** Whole percents that surely hold the share: `62 to 71 %`. */
export function percentRange(low: number, high: number): string {
  const [from, to] = [wholePercents(low), Math.ceil(high * 100 - 1e-9)];
  return from === to ? `${from} %` : `${from} to ${to} %`;
}

/** The whole percents in a share. */
const wholePercents = (share: number): number => Math.floor(share * 100 + 1e-9);

/** A figure with so many decimals, or the sentence why there is none. */
export const figureWords = (figure: Figure, decimals = 2): string =>
  figure.kind === 'known' ? figure.value.toFixed(decimals) : figure.sentence;

/** `1 day`, `3 days`. */
export const countWords = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** How far a clock is off: `right`, `42 s behind`, `2 min ahead`. */
export const offWords = (seconds: number): string =>
  seconds === 0 ? 'right to the second' : `${spanInWords(seconds)} ${seconds < 0 ? 'behind' : 'ahead'}`;
