/** DifferenceChart. */
import type { JSX } from 'preact';
import type { DifferencePicture as Facts } from '../../../clinic/comparison/pictures.ts';

export function DifferenceChart(_: { readonly picture: Facts }): JSX.Element | null {
  return null;
}
