/** The four delimiters of an E1394 message, which its header declares. */
import { bad, good, type Parsed } from '../../core/fault.ts';

export interface Delimiters {
  readonly field: string;
  readonly repeat: string;
  readonly component: string;
  readonly escape: string;
}

/** The usual ones, declared as `H|\^&`. */
export const USUAL_DELIMITERS: Delimiters = { field: '|', repeat: '\\', component: '^', escape: '&' };

/** The delimiters that a header's text declares: four different marks, none of them a letter or digit. */
export function readDelimiters(headerText: string): Parsed<Delimiters> {
  const [field = '', repeat = '', component = '', mark = ''] = headerText.slice(1, 5);
  const all = [field, repeat, component, mark];
  const areSound = all.every((ch) => /^[!-/:-@[-`{-~]$/.test(ch)) && new Set(all).size === 4;
  const after = headerText.charAt(5);
  if (!headerText.startsWith('H') || !areSound || (after !== '' && after !== field))
    return bad('a header that does not declare four delimiters');
  return good({ field, repeat, component, escape: mark });
}
