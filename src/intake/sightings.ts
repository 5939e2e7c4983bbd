/** Where a reading was told: every download that told it, found by settling the meter's captures again. Changes nothing. */
import { Fault } from '../core/fault.ts';
import type { ReadingId } from '../core/reading.ts';
import type { Store } from '../store/store.ts';
import { foldMeter, type Sighting } from './fold.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { downloadsOfMeter } from './settle-again.ts';

/** All tellings of a reading, in the order of the downloads' times. Throws READING_UNKNOWN. */
export function sightingsOf(store: Store, profiles: ProfileLibrary, id: ReadingId): readonly Sighting[] {
  const reading = store.readings.get(id);
  if (!reading)
    throw new Fault('READING_UNKNOWN', `There is no reading ${id}`, 'List the readings with "tallydock readings".');
  const meter = store.meters.byNumber(reading.meterNo);
  return foldMeter(meter.meterNo, downloadsOfMeter(store, meter, profiles)).sightings.get(id) ?? [];
}
