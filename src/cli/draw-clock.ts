/** Writes the picture of a meter's clock into the file that --svg names. */
import type { PlaceResult } from '../clock/place.ts';
import { Fault } from '../core/fault.ts';
import { clockPicture, type PictureOptions } from '../reports/clock-picture.ts';
import { writeWhole } from '../store/write-whole.ts';
import type { CommonOptions } from './common-options.ts';
import { print } from './output.ts';

/** Draws it. Throws NOT_POSSIBLE where nothing has a time, or FILE_UNWRITABLE. */
export async function drawClock(
  file: string,
  placed: PlaceResult,
  picture: PictureOptions,
  options: CommonOptions,
): Promise<void> {
  const svg = clockPicture(placed, picture);
  if (svg === undefined)
    throw new Fault(
      'NOT_POSSIBLE',
      'There is nothing to draw: no test of this meter has a time, and its clock was never seen',
      'Set the clock of the meter and read it once more.',
    );
  writeWhole(file, svg);
  if (!options.json && !options.quiet) await print(`The picture is in ${file}.\n`);
}
