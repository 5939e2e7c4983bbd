/**
 * CRC-16/IBM-3740 (also called CCITT-FALSE): width 16, polynomial 0x1021, start 0xFFFF, nothing reflected, nothing
 * xored at the end. Source: the catalogue entry of that name; its check value stands in tests/outside/crc.test.ts.
 */

/** The CRC of no bytes. */
export const CRC_START = 0xffff;

/** What eight shifts make of every high byte: one look-up a byte. */
const TABLE = Uint16Array.from({ length: 256 }, (_, high) => {
  let crc = high << 8;
  for (let bit = 0; bit < 8; bit++) crc = crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1;
  return crc;
});

/** The CRC after one more byte (0 to 255). */
export const crcStep = (crc: number, byte: number): number =>
  ((crc << 8) & 0xffff) ^ (TABLE[((crc >> 8) ^ byte) & 0xff] as number);

/** CRC of `bytes`; `seed` is the CRC of what came before them, so that a stream can be summed piece by piece. */
export function crc16(bytes: Uint8Array, seed: number = CRC_START): number {
  let crc = seed;
  for (let i = 0; i < bytes.length; i++) crc = crcStep(crc, bytes[i] as number);
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
