/** Texts of setup, in German. */
import type { Words } from '../../words.ts';

export const setup: Words['setup'] = {
  title: 'setup',
};
