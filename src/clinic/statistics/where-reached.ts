/**
 * Inverts a rising function, to the last digit that a double holds: by straight lines through the ends of the bracket
 * (the Illinois form of false position, which gives way at the end that does not move), with a halving wherever three
 * lines did not halve the bracket, so that it can never get stuck.
 */

/** The argument in [low, high] at which the rising function reaches `target`; the nearer end where it never does. */
export function whereReached(rising: (x: number) => number, target: number, low: number, high: number): number {
  const bracket = { low, high, below: rising(low) - target, above: rising(high) - target, moved: 0 };
  if (bracket.below >= 0) return low;
  if (bracket.above <= 0) return high;
  const look = (x: number): void => narrow(bracket, x, rising(x) - target);
  while (isOpen(bracket)) {
    const width = bracket.high - bracket.low;
    for (let i = 0; i < 3 && isOpen(bracket); i++) look(onTheLine(bracket));
    if (bracket.high - bracket.low > width / 2) look(middleOf(bracket));
  }
  return target - rising(bracket.low) < rising(bracket.high) - target ? bracket.low : bracket.high;
}

/** Two arguments with what the function lacks or has over there; `moved`: which end moved last, −1 or 1. */
interface Bracket {
  low: number;
  high: number;
  below: number;
  above: number;
  moved: number;
}

const middleOf = ({ low, high }: Bracket): number => low + (high - low) / 2;

/** True while a double lies between the ends. */
const isOpen = (b: Bracket): boolean => middleOf(b) > b.low && middleOf(b) < b.high;

/** Where the straight line reaches the target, but a few digits inside: so both ends close in on a root beside one. */
function onTheLine(b: Bracket): number {
  const least = 4 * Number.EPSILON * Math.max(Math.abs(b.low), Math.abs(b.high));
  const line = b.high - (b.above * (b.high - b.low)) / (b.above - b.below);
  const x = Math.min(Math.max(line, b.low + least), b.high - least);
  return x > b.low && x < b.high ? x : middleOf(b);
}

function narrow(b: Bracket, x: number, over: number): void {
  if (over === 0) {
    b.low = x;
    b.high = x;
  } else if (over < 0) {
    if (b.moved === -1) b.above /= 2;
    b.low = x;
    b.below = over;
    b.moved = -1;
  } else {
    if (b.moved === 1) b.below /= 2;
    b.high = x;
    b.above = over;
    b.moved = 1;
  }
}
