/** The bytes of E1381 (now LIS01-A2) and its sum. Bytes in, numbers out; knows nothing of frames or timers. */

export const STX = 0x02;
export const ETX = 0x03;
export const EOT = 0x04;
export const ENQ = 0x05;
export const ACK = 0x06;
export const LF = 0x0a;
export const CR = 0x0d;
export const NAK = 0x15;
export const ETB = 0x17;

/** Longest text of one frame that is accepted (LIS01-A2: 64,000 with the 7 bytes around it; a few more do no harm). */
export const MAX_TEXT = 64_000;
/** Longest text of one frame that is sent unless told otherwise (E1381-91 and -95). */
export const USUAL_TEXT = 240;

/** 1 for each byte that may not stand in a frame's text (LIS01-A2 6.6.2), by byte value; a CR may. */
export const RESTRICTED: Readonly<Uint8Array> = (() => {
  const table = new Uint8Array(256);
  for (const byte of [0x01, STX, ETX, EOT, ENQ, ACK, LF, 0x10, 0x11, 0x12, 0x13, 0x14, NAK, 0x16, ETB]) table[byte] = 1;
  return table;
})();

/** The sum of a frame: every byte from the frame number through ETB or ETX, modulo 256. */
export function frameSum(numberThroughEnd: Uint8Array): number {
  let sum = 0;
  for (const byte of numberThroughEnd) sum = (sum + byte) & 0xff;
  return sum;
}

/** The value of a hexadecimal digit, upper or lower case, or -1. */
export function hexValue(byte: number): number {
  if (byte >= 0x30 && byte <= 0x39) return byte - 0x30;
  if (byte >= 0x41 && byte <= 0x46) return byte - 0x37;
  if (byte >= 0x61 && byte <= 0x66) return byte - 0x57;
  return -1;
}
