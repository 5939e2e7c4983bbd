/**
 * Damages an input while most of its shape stays, so that the damage reaches deep: flipped bits, cuts, doublings,
 * splices with another input, numbers made extreme, separators in wrong places, very long fields. Texts of one
 * character a byte; the same chance gives the same damage.
 */

/** Numbers in [0, 1) of one input. */
export type Chance = () => number;

/** A whole number from 0 to below `limit`. */
export const below = (chance: Chance, limit: number): number => Math.floor(chance() * limit);

const pick = <T>(chance: Chance, from: readonly T[]): T => from[below(chance, from.length)] as T;

const EXTREMES = [
  '0',
  '-1',
  '00',
  '1e308',
  '1e-400',
  'NaN',
  'Infinity',
  '0x10',
  '255',
  '256',
  '65536',
  '2147483648',
  '4294967296',
  '9007199254740993',
  '99999999999999999999999999',
  '0.00000000000000000000001',
  '1.',
  '.5',
  '-0',
  '1_000',
  '2000-02-30T25:61',
  '9999-12-31T23:59:59',
];

const SEPARATORS = [...'|\\^&*=% ,;:"\'{}[]<>\t\r\n\0\x7f\x80\xff', '\r\n', '\n\n', '""', '%FF', '%', '\xef\xbb\xbf'];

type Damage = (text: string, chance: Chance, peers: readonly string[], words: readonly string[]) => string;

const insert = (text: string, at: number, what: string): string => text.slice(0, at) + what + text.slice(at);
const replace = (text: string, from: number, to: number, what: string): string =>
  text.slice(0, from) + what + text.slice(to);

/** Two places, the first not after the second; usually near each other. */
function range(text: string, chance: Chance): [number, number] {
  const from = below(chance, text.length + 1);
  const most = chance() < 0.8 ? 12 : text.length;
  return [from, Math.min(text.length, from + 1 + below(chance, most))];
}

/** The digits at or behind a random place; undefined where there are none. */
function digits(text: string, chance: Chance): [number, number] | undefined {
  const isDigit = (at: number): boolean => text.charCodeAt(at) >= 0x30 && text.charCodeAt(at) <= 0x39;
  let from = below(chance, text.length);
  while (from < text.length && !isDigit(from)) from++;
  if (from === text.length) return undefined;
  let to = from;
  while (to < text.length && isDigit(to)) to++;
  return [from, to];
}

const DAMAGES: readonly Damage[] = [
  function flipBit(text, chance) {
    const at = below(chance, text.length);
    if (text === '') return text;
    return replace(text, at, at + 1, String.fromCharCode(text.charCodeAt(at) ^ (1 << below(chance, 8))));
  },
  function anyByte(text, chance) {
    const at = below(chance, text.length + 1);
    return replace(text, at, at + 1, String.fromCharCode(below(chance, 256)));
  },
  function cutOut(text, chance) {
    const [from, to] = range(text, chance);
    return replace(text, from, to, '');
  },
  function cutOff(text, chance) {
    return text.slice(0, below(chance, text.length + 1));
  },
  function double(text, chance) {
    const [from, to] = range(text, chance);
    return insert(text, to, text.slice(from, to));
  },
  function doubleLine(text, chance) {
    const end = text.indexOf('\n', below(chance, text.length)) + 1;
    const start = end < 2 ? 0 : text.lastIndexOf('\n', end - 2) + 1;
    return insert(text, below(chance, 2) === 0 ? end : 0, text.slice(start, end));
  },
  function splice(text, chance, peers) {
    const other = pick(chance, peers);
    return text.slice(0, below(chance, text.length + 1)) + other.slice(below(chance, other.length + 1));
  },
  function implant(text, chance, peers) {
    const other = pick(chance, peers);
    const [from, to] = range(other, chance);
    return insert(text, below(chance, text.length + 1), other.slice(from, to));
  },
  function extremeNumber(text, chance) {
    const found = digits(text, chance);
    return found ? replace(text, found[0], found[1], pick(chance, EXTREMES)) : text;
  },
  function separator(text, chance) {
    return insert(text, below(chance, text.length + 1), pick(chance, SEPARATORS));
  },
  function word(text, chance, _, words) {
    if (words.length === 0) return text;
    const [from, to] = range(text, chance);
    return replace(text, from, chance() < 0.5 ? from : to, pick(chance, words));
  },
  function exchange(text, chance) {
    const [from, to] = range(text, chance);
    const at = to + below(chance, text.length - to + 1);
    return text.slice(0, from) + text.slice(to, at) + text.slice(from, to) + text.slice(at);
  },
  function longField(text, chance) {
    // Mostly around the limits of a line and of a frame; seldom beyond the largest of them.
    const length = chance() < 0.97 ? below(chance, 300) : chance() < 0.9 ? below(chance, 3000) : below(chance, 70_000);
    const what = chance() < 0.5 ? pick(chance, SEPARATORS) : String.fromCharCode(0x20 + below(chance, 0x5f));
    return insert(text, below(chance, text.length + 1), what.repeat(length));
  },
];

/** An input with one to four damages, most often one. `peers`: whole inputs to splice with; `words`: pieces that mean something. */
export function mutate(text: string, chance: Chance, peers: readonly string[], words: readonly string[]): string {
  let out = text;
  const damages = chance() < 0.5 ? 1 : 1 + below(chance, 4);
  for (let left = damages; left > 0; left--) out = pick(chance, DAMAGES)(out, chance, peers, words);
  return out;
}

/** The same bytes in random chunks, some of them empty. */
export function rechunk(bytes: Uint8Array, chance: Chance): Uint8Array[] {
  const chunks: Uint8Array[] = [];
  const most = chance() < 0.3 ? 1 : 1 + below(chance, 80);
  for (let at = 0; at < bytes.length; ) {
    const to = Math.min(bytes.length, at + below(chance, most + 1) + (most === 1 ? 1 : 0));
    chunks.push(bytes.subarray(at, to));
    at = to;
    if (chunks.length > 400) {
      chunks.push(bytes.subarray(at));
      break;
    }
  }
  return chunks;
}
