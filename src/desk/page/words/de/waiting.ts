/** Texts of waiting, in German. */
import type { Words } from '../../words.ts';

export const waiting: Words['waiting'] = {
  title: 'waiting',
};
