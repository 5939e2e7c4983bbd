/** Exact fractions of whole numbers of any size: the second way to reckon where no published example exists. */

/** top / bottom, bottom above zero; not always in lowest terms. */
export interface Rational {
  readonly top: bigint;
  readonly bottom: bigint;
}

/** A whole number, or a decimal as written. */
export function rational(text: string | number | bigint): Rational {
  const [whole = '', digits = ''] = String(text).split('.');
  return { top: BigInt(whole + digits), bottom: 10n ** BigInt(digits.length) };
}

const greatestCommon = (a: bigint, b: bigint): bigint => (b === 0n ? (a < 0n ? -a : a) : greatestCommon(b, a % b));

function made(top: bigint, bottom: bigint): Rational {
  const by = greatestCommon(top, bottom) * (bottom < 0n ? -1n : 1n);
  return { top: top / by, bottom: bottom / by };
}

export const plus = (a: Rational, b: Rational): Rational =>
  made(a.top * b.bottom + b.top * a.bottom, a.bottom * b.bottom);
export const minus = (a: Rational, b: Rational): Rational => plus(a, { top: -b.top, bottom: b.bottom });
export const times = (a: Rational, b: Rational): Rational => made(a.top * b.top, a.bottom * b.bottom);
/** Throws where b is zero. */
export const over = (a: Rational, b: Rational): Rational => made(a.top * b.bottom, a.bottom * b.top);
/** Below zero, zero or above, as a − b. */
export const compared = (a: Rational, b: Rational): number => {
  const difference = a.top * b.bottom - b.top * a.bottom;
  return difference < 0n ? -1 : difference > 0n ? 1 : 0;
};
/** The nearest double, but for the last digit. */
export function asNumber({ top, bottom }: Rational): number {
  const scale = 10n ** 25n;
  return Number((top * scale) / bottom) / Number(scale);
}
