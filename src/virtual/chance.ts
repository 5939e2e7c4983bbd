/**
 * Seeded randomness for meters that do not exist: the same seed gives the same life, byte for byte, on every machine.
 * Nothing else in this room draws random numbers.
 */

/** A stream of random draws. It is the one thing here that changes when it is used. */
export interface Chance {
  /** Uniform in [0, 1). */
  next(): number;
  /** Uniform in [low, high). */
  between(low: number, high: number): number;
  /** A whole number from low to high, both included. */
  whole(low: number, high: number): number;
  /** True with this probability. */
  happens(probability: number): boolean;
  /** One of the items, each as likely; the list must not be empty. */
  pick<T>(items: readonly [T, ...T[]]): T;
  /** Normal distribution, by the Box-Muller transform. */
  normal(mean: number, deviation: number): number;
  /** Exponential distribution with this mean: the wait for an event that comes at random. */
  wait(mean: number): number;
}

/** A stream of draws from a seed (any finite number; its whole part counts, modulo 2^32). */
export function chanceFrom(seed: number): Chance {
  const next = smallFast(seed);
  const between = (low: number, high: number): number => low + next() * (high - low);
  return {
    next,
    between,
    whole: (low, high) => low + Math.floor(next() * (high - low + 1)),
    happens: (probability) => next() < probability,
    pick: (items) => items[Math.floor(next() * items.length)] ?? items[0],
    normal: (mean, deviation) =>
      mean + deviation * Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    wait: (mean) => -mean * Math.log(1 - next()),
  };
}

/** Chris Doty-Humphrey's sfc32 (PractRand, public domain; from memory), its state filled from the seed. */
function smallFast(seed: number): () => number {
  let a = 0x9e3779b9;
  let b = seed >>> 0;
  let c = 0x243f6a88;
  let counter = 1;
  const draw = (): number => {
    const sum = (a + b + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = ((c << 21) | (c >>> 11)) + sum;
    return sum >>> 0;
  };
  // Neighbouring seeds start in neighbouring states: the first draws are thrown away until they have parted.
  for (let i = 0; i < 12; i++) draw();
  return () => draw() / 0x1_0000_0000;
}
