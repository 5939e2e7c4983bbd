/** Texts of controls, in German. */
import type { Words } from '../../words.ts';

export const controls: Words['controls'] = {
  title: 'controls',
};
