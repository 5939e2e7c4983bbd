/**
 * Whether INR and PT of one test fit each other: INR = (PT / MNPT)^ISI, where a strip lot's figures are known. All four
 * are rounded before they are shown, so intervals are compared: what rounding alone can explain is never reported.
 */

/** The figures as shown or printed: decimals with a point. */
export interface InrAndPt {
  readonly inr: string;
  /** Prothrombin time, seconds. */
  readonly pt: string;
  readonly isi: string;
  /** Mean normal prothrombin time, seconds. */
  readonly mnpt: string;
}

/** A closed interval. */
export interface Interval {
  readonly low: number;
  readonly high: number;
}

/** `not-checkable`: a figure is no plain number above 0, such as one with `<` or `>`. */
export type InrFit =
  | { readonly kind: 'fits'; readonly shown: Interval; readonly expected: Interval }
  | { readonly kind: 'does-not-fit'; readonly shown: Interval; readonly expected: Interval; readonly sentence: string }
  | { readonly kind: 'not-checkable' };

/** A limit is taken for so much more: what computing with doubles may lose of it. */
const ROUNDING_OF_DOUBLES = 1 + 1e-12;

/** Compares the INR shown with the one that the PT shown leads to. */
export function inrFitsPt({ inr, pt, isi, mnpt }: InrAndPt): InrFit {
  const shown = behind(inr);
  const seconds = behind(pt);
  const index = behind(isi);
  const normal = behind(mnpt);
  if (!shown || !seconds || !index || !normal) return { kind: 'not-checkable' };
  // The power rises with its base, and with its exponent too unless the base is below 1: the corners hold the extremes.
  const corners = [seconds.low / normal.high, seconds.high / normal.low].flatMap((ratio) => [
    ratio ** index.low,
    ratio ** index.high,
  ]);
  const expected = { low: Math.min(...corners), high: Math.max(...corners) };
  if (shown.low <= expected.high * ROUNDING_OF_DOUBLES && expected.low <= shown.high * ROUNDING_OF_DOUBLES)
    return { kind: 'fits', shown, expected };
  const range = `${expected.low.toFixed(2)} to ${expected.high.toFixed(2)}`;
  return {
    kind: 'does-not-fit',
    shown,
    expected,
    sentence: `INR ${inr} and PT ${pt} s do not fit each other: with ISI ${isi} and a normal PT of ${mnpt} s the INR would be ${range}.`,
  };
}

/** What may lie behind a rounded decimal: half a unit of its last digit to either side. */
function behind(text: string): Interval | undefined {
  const match = /^\d+(?:\.(\d+))?$/.exec(text);
  const value = Number(text);
  if (!match || value <= 0) return undefined;
  const half = 0.5 / 10 ** (match[1]?.length ?? 0);
  return { low: value - half, high: value + half };
}
