/** Which meters need looking after: power losses, drift, batteries that keep dying, and meters not seen for long. */
import type { Instant } from '../../core/instant.ts';
import { groupBy } from '../group-by.ts';
import type { MeterHabits } from '../rules/meter-habits.ts';

/** One power loss with what is known of its moment; a bound that is absent is open. */
export interface PowerLoss {
  readonly meter: string;
  readonly earliest?: Instant;
  readonly latest?: Instant;
}

const DAY = 86_400_000;

/** Meters by how often their clock lost power, most first; meters with none are not in it. */
export function rankPowerLosses(
  losses: readonly PowerLoss[],
): readonly { readonly meter: string; readonly losses: number }[] {
  return [...groupBy(losses, (l) => l.meter)]
    .map(([meter, own]) => ({ meter, losses: own.length }))
    .sort((a, b) => b.losses - a.losses || (a.meter < b.meter ? -1 : 1));
}

/** A meter whose batteries keep dying. `isSure`: the bounds leave no doubt that the losses lie so near to each other. */
export interface DyingBattery {
  readonly meter: string;
  readonly isSure: boolean;
  /** The losses that lie together, in order. */
  readonly losses: readonly PowerLoss[];
}

/** Meters with as many power losses within as many days as the habits say, or perhaps so; sure ones first. */
export function dyingBatteries(losses: readonly PowerLoss[], habits: MeterHabits): readonly DyingBattery[] {
  return [...groupBy(losses, (l) => l.meter)]
    .flatMap(([meter, own]): DyingBattery[] => {
      const ordered = own.toSorted((a, b) => middle(a) - middle(b));
      const together = ordered
        .map((_, i) => ordered.slice(i, i + habits.batteryLosses))
        .filter((list) => list.length === habits.batteryLosses);
      const within = habits.batteryDays * DAY;
      const sure = together.findLast((list) => longest(list) <= within);
      const perhaps = sure ?? together.findLast((list) => shortest(list) <= within);
      return perhaps ? [{ meter, isSure: sure !== undefined, losses: perhaps }] : [];
    })
    .sort((a, b) => Number(b.isSure) - Number(a.isSure) || (a.meter < b.meter ? -1 : 1));
}

const from = (l: PowerLoss): number => l.earliest ?? Number.NEGATIVE_INFINITY;
const to = (l: PowerLoss): number => l.latest ?? Number.POSITIVE_INFINITY;

/** Orders losses: the middle of the bounds, or the one bound that is known. */
function middle({ earliest, latest }: PowerLoss): number {
  if (earliest !== undefined && latest !== undefined) return (earliest + latest) / 2;
  return earliest ?? latest ?? Number.NEGATIVE_INFINITY;
}

/** The longest and the shortest time that may lie between the first and the last of these. */
const longest = (list: readonly PowerLoss[]): number => Math.max(...list.map(to)) - Math.min(...list.map(from));
const shortest = (list: readonly PowerLoss[]): number => Math.max(...list.map(from)) - Math.min(...list.map(to));

/** What the clock room knows of a meter's clock. */
export interface ClockFact {
  readonly meter: string;
  /** Positive = the clock runs fast. */
  readonly secondsPerDay: number;
}

/** Meters by how fast their clock drifts, either way, the worst first. */
export function rankDrift(
  clocks: readonly ClockFact[],
  habits: MeterHabits,
): readonly (ClockFact & { readonly isBeyondCrystal: boolean })[] {
  return clocks
    .map((c) => ({ ...c, isBeyondCrystal: Math.abs(c.secondsPerDay) > habits.greatestDriftSecondsPerDay }))
    .sort((a, b) => Math.abs(b.secondsPerDay) - Math.abs(a.secondsPerDay) || (a.meter < b.meter ? -1 : 1));
}

/** When a meter was last read, and how often it is to be. */
export interface LastSeen {
  readonly meter: string;
  /** Absent: never. */
  readonly seen?: Instant;
  /** Days from visit to visit of the person to whom it is lent; absent: the usual. */
  readonly planDays?: number;
}

/** A meter that was not seen for longer than planned; `daysOver` is absent where it was never seen. */
export type Unseen = LastSeen & { readonly daysOver?: number };

/** Meters not seen for longer than planned, the longest over time first; those never seen before all others. */
export function notSeenForLong(meters: readonly LastSeen[], now: Instant, habits: MeterHabits): readonly Unseen[] {
  const over = ({ daysOver = Number.POSITIVE_INFINITY }: Unseen): number => daysOver;
  return meters
    .map((m): Unseen => {
      if (m.seen === undefined) return m;
      return { ...m, daysOver: (now - m.seen) / DAY - (m.planDays ?? habits.notSeenDays) };
    })
    .filter((m) => over(m) > 0)
    .sort((a, b) => (over(a) === over(b) ? (a.meter < b.meter ? -1 : 1) : over(b) - over(a)));
}
