/** RegressionChart. */
import type { JSX } from 'preact';
import type { RegressionPicture as Facts } from '../../../clinic/comparison/pictures.ts';

export function RegressionChart(_: { readonly picture: Facts }): JSX.Element | null {
  return null;
}
