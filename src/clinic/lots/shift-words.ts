/** Says what a comparison of two strip lots shows, and what so few values cannot show. */
import type { Estimate } from '../statistics/intervals.ts';

/** True where zero lies outside the interval. */
export const isShift = (shift: Estimate | undefined): boolean =>
  shift !== undefined && (shift.low > 0 || shift.high < 0);

/** The sentence. `who` says what it rests on: `12 people`. */
export function shiftSentence(
  from: string,
  to: string,
  shift: Estimate | undefined,
  who: string,
  isFew: boolean,
): string {
  if (!shift) return `Lot ${to} against lot ${from}: ${who} are too few to say anything of a shift.`;
  const { estimate, low, high } = shift;
  const percent = Math.round(shift.confidence * 1000) / 10;
  const range = `${percent} % interval ${signed(low)} to ${signed(high)}, from ${who}`;
  const verdict = isShift(shift)
    ? `Lot ${to} reads ${estimate > 0 ? 'higher' : 'lower'} than lot ${from} by ${Math.abs(estimate).toFixed(2)}`
    : `No shift is shown from lot ${from} to lot ${to}: ${signed(estimate)}`;
  const caution = isFew ? ' These are few: more would make the interval narrower.' : '';
  return `${verdict} (${range}).${caution}`;
}

const signed = (value: number): string => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(2)}`;
