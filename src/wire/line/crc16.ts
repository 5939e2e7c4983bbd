/**
 * CRC-16/IBM-3740 (also called CCITT-FALSE): width 16, polynomial 0x1021, start 0xFFFF, nothing reflected, nothing
 * xored at the end. Source: the catalogue entry of that name; its check value stands in tests/outside/crc.test.ts.
 */

/** The CRC of no bytes. */
export const CRC_START = 0xffff;

/** The CRC after `shifts` zero bits behind every value of one byte. */
const table = (shifts: number): Uint16Array =>
  Uint16Array.from({ length: 256 }, (_, byte) => {
    let crc = byte << 8;
    for (let bit = 0; bit < shifts; bit++) crc = crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1;
    return crc;
  });

// Four bytes at a time: each has a table of its own, so that the steps do not wait for one another.
const [T1, T2, T3, T4] = [table(8), table(16), table(24), table(32)] as const;

/** The CRC after one more byte (0 to 255). */
const crcStep = (crc: number, byte: number): number =>
  ((crc << 8) & 0xffff) ^ (T1[((crc >> 8) ^ byte) & 0xff] as number);

/**
 * CRC of the bytes from `start` up to `end`; `seed` is the CRC of what came before them, so that a stream can be
 * summed piece by piece.
 */
export function crc16(bytes: Uint8Array, seed: number = CRC_START, start = 0, end: number = bytes.length): number {
  let crc = seed;
  let i = start;
  for (; i + 4 <= end; i += 4)
    crc =
      (T4[(crc >> 8) ^ (bytes[i] as number)] as number) ^
      (T3[(crc & 0xff) ^ (bytes[i + 1] as number)] as number) ^
      (T2[bytes[i + 2] as number] as number) ^
      (T1[bytes[i + 3] as number] as number);
  for (; i < end; i++) crc = crcStep(crc, bytes[i] as number);
  return crc;
}

/** The same over text of one byte a character (a line's body). */
export function crc16Text(text: string, seed: number = CRC_START): number {
  let crc = seed;
  for (let i = 0; i < text.length; i++) crc = crcStep(crc, text.charCodeAt(i));
  return crc;
}

/** A CRC as it stands on the line: four upper-case hexadecimal digits. */
export const crcHex = (crc: number): string => crc.toString(16).toUpperCase().padStart(4, '0');
