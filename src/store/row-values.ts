/** How truth values, flags and open-ended keys are written in a row: SQLite has no types for them. */
import { z } from 'zod';

/** A truth value as the store keeps it. */
export const truth = (value: boolean): 0 | 1 => (value ? 1 : 0);

/** Flags as one text separated by spaces; a space inside a flag becomes `_`. */
export const joinFlags = (flags: readonly string[]): string => flags.map((f) => f.replace(/\s+/g, '_')).join(' ');

/** The flags of such a text. */
export const splitFlags = (text: string): string[] => (text === '' ? [] : text.split(' '));

const Texts = z.record(z.string(), z.string());

/** Keys that the program does not know, from their JSON column. Throws where it holds anything else. */
export const readTexts = (json: string): Record<string, string> => Texts.parse(JSON.parse(json));
