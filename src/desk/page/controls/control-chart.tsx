/** ControlChart. */
import type { JSX } from 'preact';
import type { ControlChart as Facts } from '../../../clinic/controls/levey-jennings.ts';

export function ControlChart(_: { readonly chart: Facts }): JSX.Element | null {
  return null;
}
