/**
 * Lot-to-lot shift by controls: the same control material measured with strips of two lots. The material does not change
 * as people do, but it is not blood: strips may read it and blood differently.
 */
import type { JudgedControl } from '../controls/assess.ts';
import { materialOf } from '../controls/level.ts';
import { groupBy } from '../group-by.ts';
import type { LotHabits } from '../rules/lot-habits.ts';
import { type Estimate, welchInterval } from '../statistics/intervals.ts';
import { isShift, shiftSentence } from './shift-words.ts';

/** The shift of one control material between two strip lots, positive where the later lot reads higher. */
export interface ShiftByControls {
  readonly from: string;
  readonly to: string;
  readonly controlLot: string;
  readonly level: string;
  readonly analyte: string;
  /** How many values each strip lot has. */
  readonly values: { readonly before: number; readonly after: number };
  /** Difference of the means with Welch's interval; absent where a lot has fewer than two values. */
  readonly shift?: Estimate;
  readonly isShift: boolean;
  readonly sentence: string;
}

/**
 * One shift for each liquid control material that was measured with both strip lots. Only meters that measured it with
 * both count: else a difference between meters would pass for one between lots. Values off the measuring range and
 * controls without a known level are left out.
 */
export function shiftByControls(
  judged: readonly JudgedControl[],
  from: string,
  to: string,
  habits: LotHabits,
): readonly ShiftByControls[] {
  const placed = judged.flatMap(({ match, reading }) =>
    match.kind === 'unassigned' || match.level.kind !== 'liquid' || reading.beyond
      ? []
      : [{ level: match.level, reading }],
  );
  const materials = groupBy(placed, ({ level }) => materialOf(level));
  return [...materials.values()].flatMap((controls): ShiftByControls[] => {
    const meters = [...groupBy(controls, (c) => c.reading.meter).values()];
    const withLot = (list: typeof controls, lot: string) => list.filter((c) => c.reading.stripLot === lot);
    const both = meters.filter((list) => withLot(list, from).length > 0 && withLot(list, to).length > 0).flat();
    const [head] = both;
    if (!head) return [];
    const before = withLot(both, from).map((c) => c.reading.value);
    const after = withLot(both, to).map((c) => c.reading.value);
    const shift = welchInterval(before, after, habits.confidence);
    const who = `${before.length} and ${after.length} values of control ${head.level.lot} level ${head.level.level}`;
    const isFew = Math.min(before.length, after.length) < habits.cautionBelow;
    return [
      {
        from,
        to,
        controlLot: head.level.lot,
        level: head.level.level,
        analyte: head.level.analyte,
        values: { before: before.length, after: after.length },
        ...(shift && { shift }),
        isShift: isShift(shift),
        sentence: shiftSentence(from, to, shift, who, isFew),
      },
    ];
  });
}
