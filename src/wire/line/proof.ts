/**
 * The proof of completeness that END gives: how many REC lines an answer had, and the CRC-16 over all their bodies in
 * order, each followed by one LF.
 */
import { CRC_START, crc16 } from './crc16.ts';

/** What END claims of its answer. */
export interface Claim {
  readonly count: number;
  readonly crc: number;
}

/** END's claim for these bodies. They are summed as bytes, together: over the characters of each it takes thrice the time. */
export function claimOf(bodies: Iterable<string>): Claim {
  const all = [...bodies];
  if (all.length === 0) return { count: 0, crc: CRC_START };
  return { count: all.length, crc: crc16(Buffer.from(`${all.join('\n')}\n`, 'latin1')) };
}

/** True where these bodies are what END claims. */
export function isProven(bodies: Iterable<string>, claim: Claim): boolean {
  const told = claimOf(bodies);
  return told.count === claim.count && told.crc === claim.crc;
}

/** The bodies of a memory in ascending order of their slots. */
export const inSlotOrder = (bodies: ReadonlyMap<number, string>): string[] =>
  [...bodies].sort(([a], [b]) => a - b).map(([, body]) => body);
