/**
 * What can go wrong on the way between a meter and its host, as plain functions on bytes: damage and noise. Cables
 * that are pulled and lines that are slow are the work of `serve`.
 */
import type { Chance } from './chance.ts';

/** Faults of a port. */
export interface PortFaults {
  /** Pace in bits a second; 0: as fast as it goes. */
  readonly baud: number;
  /** Share of bytes that arrive as another byte. */
  readonly damageRate: number;
  /** Which bytes are damaged: those from the meter, those to it, or both. */
  readonly damages: 'from-meter' | 'to-meter' | 'both';
  /** The cable is pulled, once, when the meter has sent this many bytes. */
  readonly pullAfter?: number;
  /** `silent`: it never sends; `endless`: it repeats what it sent last and never stops; `noisy`: noise before every answer. */
  readonly behaves: 'well' | 'silent' | 'endless' | 'noisy';
}

/** A port at which nothing goes wrong. */
export const NO_FAULTS: PortFaults = { baud: 0, damageRate: 0, damages: 'both', behaves: 'well' };

/** The bytes after damage: each becomes another byte with this probability. */
export function damage(chance: Chance, rate: number, data: Uint8Array): Uint8Array {
  if (rate <= 0) return data;
  return data.map((byte) => (chance.happens(rate) ? byte ^ chance.whole(1, 255) : byte));
}

/** A burst of 1 to 20 bytes that mean nothing, of any value. */
export const noise = (chance: Chance): Uint8Array =>
  Uint8Array.from({ length: chance.whole(1, 20) }, () => chance.whole(0, 255));
