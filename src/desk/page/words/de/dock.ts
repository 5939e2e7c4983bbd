/** Texts of dock, in German. */
import type { Words } from '../../words.ts';

export const dock: Words['dock'] = {
  title: 'dock',
};
