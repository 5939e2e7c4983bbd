/**
 * What is fuzzed: a parser with inputs to begin from and the promises that hold for every input. And the inputs
 * themselves: number `seed` of a target is always the same text.
 */
import { numbersFrom } from '../support/numbers.ts';
import { type Chance, mutate } from './mutate.ts';

export interface Target {
  readonly name: string;
  /** Sound inputs and known bad ones, one character a byte. */
  readonly corpus: readonly string[];
  /** Pieces that mean something to this parser. */
  readonly words: readonly string[];
  /** Makes the checks in a damaged input right again, so that the damage gets past them. */
  readonly repair?: (text: string) => string;
  /** Throws where a promise does not hold. `chance` is for how the input is handed over, such as its chunks. */
  readonly check: (bytes: Uint8Array, chance: Chance) => void | Promise<void>;
  /** Takes down what the checks opened; for the last one to call. */
  readonly close?: () => Promise<void>;
}

/** A promise that did not hold. */
class BrokenPromise extends Error {
  override readonly name = 'BrokenPromise';
}

/** Throws BrokenPromise with `what` unless `holds`. */
export function promise(holds: boolean, what: string): asserts holds {
  if (!holds) throw new BrokenPromise(what);
}

/** Bytes of a text of one character a byte. */
export const bytesOf = (text: string): Uint8Array => Buffer.from(text, 'latin1');
/** A text of one character a byte. */
export const textOf = (bytes: Uint8Array): string =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('latin1');

/** Input number `seed` of a target, and the chance that goes on with it. */
export function inputOf(target: Target, seed: number): { readonly bytes: Uint8Array; readonly chance: Chance } {
  const chance = numbersFrom(seed);
  const { corpus, words, repair } = target;
  const base = corpus[Math.floor(chance() * corpus.length)] ?? '';
  const damaged = mutate(base, chance, corpus, words);
  return { bytes: bytesOf(repair && chance() < 0.6 ? repair(damaged) : damaged), chance };
}

/** Tries input number `seed`. Throws what the target's check throws; a promise only where the target needs to wait. */
export function tryInput(target: Target, seed: number): void | Promise<void> {
  const { bytes, chance } = inputOf(target, seed);
  return target.check(bytes, chance);
}
