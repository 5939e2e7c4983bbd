/** Texts of meters, in German. */
import type { Words } from '../../words.ts';

export const meters: Words['meters'] = {
  title: 'meters',
};
