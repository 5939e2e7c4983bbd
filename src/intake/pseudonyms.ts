/**
 * Pseudonyms for patients and operators: the same text gets the same one throughout an export, as long as itself, and
 * two texts never share one while there are enough of that length. Who lacks the key cannot find out whose it is.
 */
import { createHmac } from 'node:crypto';

/** What a text names. A patient and an operator of the same text have nothing to do with each other. */
export type Named = 'patient' | 'operator';

export interface Pseudonyms {
  /** The pseudonym of a text: capital letters and digits, one for each byte. The text holds one character a byte. */
  of(named: Named, text: string): string;
}

const ALPHABET = 'ABCDEFGHJKLMNPQRSTUVWXYZ0123456789';
/** Tries before a pseudonym is given twice: by then next to all of that length are taken. */
const TRIES = 500;

/** Pseudonyms under a key that nobody keeps. */
export function makePseudonyms(key: Uint8Array): Pseudonyms {
  const given = new Map<string, string>();
  const taken = new Set<string>();
  const draw = (named: Named, text: string, attempt: number): string => {
    let out = '';
    for (let block = 0; out.length < text.length; block++) {
      const hash = createHmac('sha256', key)
        .update(JSON.stringify([named, text, attempt, block]))
        .digest();
      for (const byte of hash) out += ALPHABET[byte % ALPHABET.length];
    }
    return out.slice(0, text.length);
  };
  return {
    of(named, text) {
      const known = given.get(`${named} ${text}`);
      if (known !== undefined) return known;
      let made = draw(named, text, 0);
      for (let i = 1; i < TRIES && (made === text || taken.has(`${named} ${made}`)); i++) made = draw(named, text, i);
      given.set(`${named} ${text}`, made);
      taken.add(`${named} ${made}`);
      return made;
    },
  };
}
