/**
 * The proof of completeness that END gives: how many REC lines an answer had, and the CRC-16 over all their bodies in
 * order, each followed by one LF.
 */
import { CRC_START, crc16Text, crcStep } from './crc16.ts';

/** What END claims of its answer. */
export interface Claim {
  readonly count: number;
  readonly crc: number;
}

const LF = 0x0a;

/** The sum after one more body. */
export const addToSum = (crc: number, body: string): number => crcStep(crc16Text(body, crc), LF);

/** END's claim for these bodies. */
export function claimOf(bodies: Iterable<string>): Claim {
  let crc = CRC_START;
  let count = 0;
  for (const body of bodies) {
    crc = addToSum(crc, body);
    count++;
  }
  return { count, crc };
}

/** True where these bodies are what END claims. */
export function isProven(bodies: Iterable<string>, claim: Claim): boolean {
  const told = claimOf(bodies);
  return told.count === claim.count && told.crc === claim.crc;
}

/** The bodies of a memory in ascending order of their slots. */
export const inSlotOrder = (bodies: ReadonlyMap<number, string>): string[] =>
  [...bodies].sort(([a], [b]) => a - b).map(([, body]) => body);
