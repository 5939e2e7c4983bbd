/** Texts of month, in German. */
import type { Words } from '../../words.ts';

export const month: Words['month'] = {
  title: 'month',
};
