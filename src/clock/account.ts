/**
 * The account of one test's time, for `explain`: the two downloads that hold it, what they showed of the clock, the
 * sum that gives the estimate, the bounds, and the stories that were weighed. Times are local to the dock.
 */
import { type Instant, instant } from '../core/instant.ts';
import { localSecond } from '../core/local-words.ts';
import { formatWall, wall } from '../core/meter-time.ts';
import type { Placement } from '../core/placement.ts';
import { spanInWords } from '../core/span-words.ts';
import type { Zone } from '../core/zone.ts';
import { type Anchor, middle, type Span } from './anchors.ts';
import { type ChangeKind, MARGIN } from './costs.ts';
import type { GapReport } from './gap-times.ts';

/** A story that was weighed, in plain words. */
export interface WeighedStory {
  readonly words: string;
  readonly cost: number;
  /** In how many places its changes can have been. */
  readonly ways: number;
  /** True for the cheapest: the estimate follows it. */
  readonly chosen: boolean;
}

export interface Account {
  /** The zone of all times in the account. */
  readonly zone: string;
  /** Lines of text, in the order of time: the anchor before, the test, the anchor after. */
  readonly timeline: readonly string[];
  /** The sum, one step a line. */
  readonly arithmetic: readonly string[];
  /** Cheapest first; one alone means that nothing called for a change of the clock. */
  readonly stories: readonly WeighedStory[];
}

const CHANGE_WORDS: Readonly<Record<ChangeKind, string>> = {
  loss: 'power was lost',
  'set-right': 'the clock was set right',
  hour: 'the clock was set an hour off',
  'half-day': 'the clock was set twelve hours off',
  'day-month': 'the clock was set with day and month exchanged',
  year: 'the clock was set with a wrong year',
  unexplained: 'the clock was changed in a way that fits no usual cause',
};

/** A length to the second, so that the sum can be checked by hand. */
function lengthInFull(ms: number): string {
  const s = Math.round(Math.abs(ms) / 1000);
  const parts = [
    [Math.floor(s / 86_400), 'days'],
    [Math.floor(s / 3600) % 24, 'h'],
    [Math.floor(s / 60) % 60, 'min'],
    [s % 60, 's'],
  ] as const;
  return (
    parts
      .filter(([n]) => n > 0)
      .map(([n, unit]) => `${n} ${unit}`)
      .join(' ') || '0 s'
  );
}

/** How far a clock with these offsets is off local time, as a span in words. */
function offSpan(offset: Span, at: number, zone: Zone): string {
  const local = zone.offsetAt(instant(at));
  const [lo, hi] = [offset.lo - local, offset.hi - local].map((ms) => Math.round(ms / 100) / 10);
  const words = spanInWords((middle(offset) - local) / 1000);
  const side = middle(offset) < local ? 'behind' : 'ahead of';
  return `${words} ${side} local time (between ${lo} s and ${hi} s)`;
}

function anchorLine(a: Anchor, offset: Span | undefined): string {
  const at = Math.round(middle(a.at));
  return `${a.readout}  ${localSecond(instant(at), a.zone)}  the meter's clock showed ${formatWall(wall(a.wall), a.resolutionMs).replace('T', ' ')}: ${offSpan(offset ?? a.offset, at, a.zone)}`;
}

/** The account of a test of this gap. `placement` is the one that was made of it. */
export function accountOf({ gap, ends, times }: GapReport, testId: string, placement: Placement): Account {
  const test = gap.tests.find((t) => t.id === testId);
  const { zone } = gap;
  const timeline: string[] = [];
  const arithmetic: string[] = [];
  if (gap.first) timeline.push(anchorLine(gap.first, ends.first));
  if (test?.stamp) {
    const { wall: stamped, resolutionMs } = test.stamp;
    const stamp = formatWall(stamped, resolutionMs).replace('T', ' ');
    timeline.push(`${testId}  the test, stamped ${stamp} by the meter`);
    if (placement.takenAt !== undefined) {
      const at = placement.takenAt;
      const offset = stamped + resolutionMs / 2 - at - zone.offsetAt(at);
      const half =
        resolutionMs > 1000 ? ` (the middle of the ${spanInWords(resolutionMs / 1000)} that the stamp can mean)` : '';
      const [sign, side] = offset < 0 ? ['plus', 'behind'] : ['minus', 'ahead'];
      arithmetic.push(
        `stamp ${stamp}${half}`,
        `${sign} ${lengthInFull(offset)}, by which the clock was ${side} at that time (${basisWords(placement)})`,
        `= ${localSecond(at, zone)} (${zone.name})`,
      );
    }
  } else timeline.push(`${testId}  the test, without a stamp that can be read`);
  if (gap.last) timeline.push(anchorLine(gap.last, ends.last));
  arithmetic.push(boundsLine(placement, zone));
  const least = times.stories[0]?.cost ?? 0;
  const stories = times.stories
    .filter(({ cost }) => cost <= least + MARGIN)
    .map(({ changes, cost, ways }, i) => ({
      words: changes.length === 0 ? 'nothing was changed' : changes.map((c) => CHANGE_WORDS[c]).join(', then '),
      cost,
      ways,
      chosen: i === 0,
    }));
  return { zone: zone.name, timeline, arithmetic, stories };
}

function basisWords(placement: Placement): string {
  switch (placement.basis) {
    case 'interpolated':
      return 'in a straight line from the download before to the one after';
    case 'anchored':
      return "reckoned from one download with the meter's usual drift";
    case 'bounded':
      return 'no download saw this stretch of the clock: read as local time where the bounds allow it, else their middle';
    case 'displayed':
      return 'taken as it stands';
  }
}

function boundsLine({ earliest, latest }: Placement, zone: Zone): string {
  const at = (t: Instant | undefined): string => (t === undefined ? 'open' : localSecond(t, zone));
  const width =
    earliest === undefined || latest === undefined ? '' : `, a span of ${spanInWords((latest - earliest) / 1000)}`;
  return `bounds: from ${at(earliest)} to ${at(latest)}${width}; they cover every story below`;
}
