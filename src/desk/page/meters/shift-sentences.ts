/** Whether a later strip lot reads differently, in sentences. Pure. */
import type { Estimate } from '../../../clinic/statistics/intervals.ts';
import type { MetersReport } from '../../../reports/gather-meters.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

export interface ShiftSentence {
  readonly says: string;
  readonly isShift: boolean;
}

/** One sentence for each way in which two lots were compared. */
export function shiftSentences(shifts: MetersReport['shifts'], words: Words, format: Format): ShiftSentence[] {
  const { meters, terms } = words;
  return shifts.flatMap(({ byPeople: p, byControls }) => [
    {
      says: `${meters.shiftPeople(p.from, p.to, format.count(p.people.length, terms.people))} ${found(p, p.middle, words, format)}`,
      isShift: p.isShift,
    },
    ...byControls.map((c) => ({
      says: `${meters.shiftControl(c.from, c.to, `${c.controlLot} ${c.level}`)} ${found(c, c.shift, words, format)}`,
      isShift: c.isShift,
    })),
  ]);
}

function found(
  { isShift }: { readonly isShift: boolean },
  estimate: Estimate | undefined,
  { meters }: Words,
  format: Format,
): string {
  if (!estimate) return meters.shiftNone;
  const signed = (value: number): string => `${value < 0 ? '−' : '+'}${format.number(Math.abs(value), 2)}`;
  const [middle, low, high] = [signed(estimate.estimate), signed(estimate.low), signed(estimate.high)];
  return isShift ? meters.shiftFound(middle, low, high) : meters.shiftNot(middle, low, high);
}
