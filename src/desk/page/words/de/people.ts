/** Texts of people, in German. */
import type { Words } from '../../words.ts';

export const people: Words['people'] = {
  title: 'people',
};
