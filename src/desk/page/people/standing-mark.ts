/** The shape of a standing as a character, the same as in the picture of the course. Pure. */
import type { Standing } from '../../../core/outgoing.ts';

const MARKS: Readonly<Record<Standing, string>> = {
  'critical-low': '▼▼',
  below: '▼',
  in: '●',
  above: '▲',
  'critical-high': '▲▲',
  'no-target': '○',
};

/** The mark; a ring where nothing is known. */
export const standingMark = (standing: Standing | undefined): string => MARKS[standing ?? 'no-target'];
