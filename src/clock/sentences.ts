/**
 * The sentences with which the clock room explains itself to a nurse. Dates are those of the dock's zone.
 */
import { instant } from '../core/instant.ts';
import { localMinute } from '../core/local-words.ts';
import { spanInWords } from '../core/span-words.ts';
import { type Anchor, type Gap, middle, type Span } from './anchors.ts';
import type { ChangeKind } from './costs.ts';
import type { EpochPlace } from './gap-times.ts';

/** `42 s behind`, `2 min ahead`, `right to the second`: how far a clock is off local time at an anchor. */
function offInWords(a: Anchor, offset: Span): string {
  const off = middle(offset) - a.zone.offsetAt(instant(middle(a.at)));
  if (Math.abs(off) < 1000) return 'right to the second';
  return `${spanInWords(off / 1000)} ${off < 0 ? 'behind' : 'ahead'}`;
}

const BEGAN: Readonly<Record<ChangeKind, string>> = {
  loss: 'it had lost power and ran from its default date',
  'set-right': 'it had been set by hand',
  hour: 'it had been set by hand, an hour off',
  'half-day': 'it had been set by hand, twelve hours off',
  'day-month': 'it had been set by hand with day and month exchanged',
  year: 'it had been set by hand with a wrong year',
  unexplained: 'it had been changed in a way that fits no usual cause',
};

/** Why a test has its time, in one sentence. */
export function reasonOf(
  place: EpochPlace,
  gap: Gap,
  ends: { readonly first?: Span; readonly last?: Span },
  began: ChangeKind | undefined,
  changed: boolean,
): string {
  const at = (a: Anchor): string => localMinute(instant(a.at.lo), a.zone);
  if (place === 'between' && gap.first && gap.last && ends.first && ends.last) {
    return `The meter's clock ran undisturbed between the downloads of ${at(gap.first)} (${offInWords(gap.first, ends.first)}) and ${at(gap.last)} (${offInWords(gap.last, ends.last)}).`;
  }
  const maybe = changed ? '; the bounds allow for the clock having been changed earlier or later' : '';
  if (place === 'first' && gap.first && ends.first) {
    return `Reckoned onwards from the download of ${at(gap.first)}, when the meter's clock was ${offInWords(gap.first, ends.first)}${maybe}.`;
  }
  if (place === 'last' && gap.last && ends.last) {
    return `Reckoned back from the download of ${at(gap.last)}, when the meter's clock was ${offInWords(gap.last, ends.last)}${maybe}.`;
  }
  const why = began ? `: ${BEGAN[began]}` : '';
  return `No download saw the meter's clock while it ran like this${why}; the time is bounded by the tests and downloads before and after.`;
}
