/** The catalogue: every text of the page, in each language. A text that lacks in one language does not compile. */

import { de } from './words/de.ts';
import { en } from './words/en.ts';

export type Words = typeof en;
export type Language = 'en' | 'de';

/** Each language by its own name. */
export const LANGUAGE_NAMES: Readonly<Record<Language, string>> = { en: 'English', de: 'Deutsch' };

export const WORDS: Readonly<Record<Language, Words>> = { en, de };

const KEY = 'tallydock.language';

/** The language chosen on this PC, else the browser's, else English. */
export function startLanguage(): Language {
  const kept = localStorage.getItem(KEY);
  if (kept === 'en' || kept === 'de') return kept;
  return navigator.languages.some((l) => l.startsWith('de')) ? 'de' : 'en';
}

export const rememberLanguage = (language: Language): void => localStorage.setItem(KEY, language);
