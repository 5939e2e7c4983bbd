/**
 * What happened to a meter's clock, told from the changes in the cheapest stories: kind, when at the earliest and
 * latest, how far it jumped, and the cause that the size makes likely.
 */
import { instant } from '../core/instant.ts';
import { localMinute } from '../core/local-words.ts';
import type { Incident } from '../core/placement.ts';
import { spanInWords } from '../core/span-words.ts';
import type { Zone } from '../core/zone.ts';
import type { ChangeKind } from './costs.ts';
import type { Change } from './gap-times.ts';

const HOUR = 3_600_000;
const MINUTE = 60_000;
/** A jump of so much is that of a clock that showed another date, such as the default one after a power loss. */
const OTHER_DATE = 27 * 24 * HOUR;

/** The slip alone does not explain a jump from another date. */
const dateToo = ({ size = 0 }: Change): string => (Math.abs(size) >= OTHER_DATE ? 'date put right, but ' : '');

/** The likely cause of a hand's change, from its size and what the story says. */
function causeOf(kind: Exclude<ChangeKind, 'loss'>, c: Change, zone: Zone): string {
  switch (kind) {
    case 'hour':
      return `${dateToo(c)}set an hour off: summer time forgotten, or taken the wrong way`;
    case 'half-day':
      return `${dateToo(c)}set twelve hours off: morning and afternoon exchanged`;
    case 'day-month':
      return 'set with day and month exchanged';
    case 'year':
      return 'set with a wrong year';
    case 'unexplained':
      return 'no usual cause fits the size';
    case 'set-right': {
      const { size = Number.NaN } = c; // no number is near an unknown one
      const shift = zone.offsetAt(instant(c.when.hi)) - zone.offsetAt(instant(c.when.lo - 7 * 86_400_000));
      const near = (target: number): boolean => Math.abs(Math.abs(size) - target) <= 10 * MINUTE;
      if (shift !== 0 && Math.abs(size - shift) <= 10 * MINUTE) return 'set for summer or winter time';
      if (near(HOUR)) return 'put right after being an hour off: summer time';
      if (near(12 * HOUR)) return 'put right after being twelve hours off';
      if (Math.abs(size) <= 10 * MINUTE) return 'set by eye';
      if (Math.abs(size) >= OTHER_DATE) return 'date put right';
      return 'set by hand';
    }
  }
}

/** The incidents that the changes of one gap amount to. */
export function incidentsOf(changes: readonly Change[], zone: Zone): Incident[] {
  return changes.flatMap((c): Incident[] => {
    const span = { earliest: instant(Math.floor(c.when.lo)), latest: instant(Math.ceil(c.when.hi)) };
    const when = `between ${localMinute(span.earliest, zone)} and ${localMinute(span.latest, zone)} (${zone.name})`;
    const sizeS = c.size === undefined ? undefined : Math.round(c.size / 1000);
    const out: Incident[] = [];
    if (c.kind === 'loss' || c.lossProven) {
      out.push({
        kind: 'power-loss',
        ...span,
        ...(sizeS === undefined || c.kind !== 'loss' ? {} : { sizeS }),
        likelyCause: 'power lost: the clock started again at its default date',
        explanation: `The meter lost power ${when}. Date, time and the target range in the meter must be entered again.`,
      });
    }
    if (c.kind !== 'loss') {
      const likelyCause = causeOf(c.kind, c, zone);
      const jump = sizeS === undefined ? '' : ` by ${spanInWords(sizeS)} ${sizeS < 0 ? 'backwards' : 'forwards'}`;
      out.push({
        kind: 'clock-changed',
        ...span,
        ...(sizeS === undefined ? {} : { sizeS }),
        likelyCause,
        explanation: `The meter's clock was changed${jump} ${when}: ${likelyCause}.`,
      });
    }
    return out;
  });
}
