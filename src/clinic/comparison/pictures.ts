/** What the pictures of a comparison show, as plain data: points and lines in the units of the values. */
import { type BlandAltman, type DifferenceKind, differencePoint } from './bland-altman.ts';
import type { Estimate } from './estimate.ts';
import type { Line, XY } from './points.ts';

/** A pair to be drawn. `isJudged` is false for one that is shown and not reckoned with. */
export interface DrawnPair extends XY {
  readonly laboratoryId: string;
  readonly readingId: string;
  readonly isJudged: boolean;
}

/** Differences over means: the points, and with enough pairs the bias and the limits, each between its confidence limits. */
export interface DifferencePicture {
  readonly kind: DifferenceKind;
  readonly points: readonly (Omit<DrawnPair, 'x' | 'y'> & { readonly mean: number; readonly difference: number })[];
  readonly lines: readonly { readonly name: 'bias' | 'lower limit' | 'upper limit'; readonly at: Estimate }[];
}

/** The meter's values over the laboratory's, and the lines from the least to the greatest laboratory value. */
export interface RegressionPicture {
  readonly points: readonly DrawnPair[];
  readonly lines: readonly {
    readonly name: string;
    readonly from: XY;
    readonly to: XY;
  }[];
}

/** The picture of Bland and Altman. Without figures only the points. */
export function differencePicture(
  pairs: readonly DrawnPair[],
  kind: DifferenceKind,
  figures: BlandAltman | undefined,
): DifferencePicture {
  return {
    kind,
    points: pairs.map(({ x, y, ...rest }) => ({ ...rest, ...differencePoint({ x, y }, kind) })),
    lines: figures
      ? [
          { name: 'bias', at: plain(figures.bias) },
          { name: 'lower limit', at: plain(figures.lowerLimit) },
          { name: 'upper limit', at: plain(figures.upperLimit) },
        ]
      : [],
  };
}

/** The picture of the lines. `equal` is the line on which both show the same. */
export function regressionPicture(
  pairs: readonly DrawnPair[],
  lines: readonly (Line & { readonly name: string })[],
): RegressionPicture {
  if (pairs.length === 0) return { points: [], lines: [] };
  const xs = pairs.map(({ x }) => x);
  const [from, to] = [Math.min(...xs), Math.max(...xs)];
  const all = [{ name: 'equal', slope: 1, intercept: 0 }, ...lines];
  return {
    points: pairs,
    lines: all.map(({ name, slope, intercept }) => ({
      name,
      from: { x: from, y: intercept + slope * from },
      to: { x: to, y: intercept + slope * to },
    })),
  };
}

const plain = ({ value, low, high }: Required<Estimate>): Estimate => ({ value, low, high });
