/**
 * A tiny TLP/1 writer and reader for tests, made from the protocol page alone and sharing nothing with src: bit by bit
 * CRC, lines cut at LF, keys split at blanks. So a test that uses it does not ask the program about itself.
 */

/** CRC-16/IBM-3740, bit by bit, as four hex digits. */
export function slowCrc(text: string): string {
  let crc = 0xffff;
  for (const byte of Buffer.from(text, 'latin1')) {
    crc ^= byte << 8;
    for (let bit = 0; bit < 8; bit++) crc = crc & 0x8000 ? ((crc << 1) ^ 0x1021) & 0xffff : crc << 1;
  }
  return crc.toString(16).toUpperCase().padStart(4, '0');
}

/** A line to send. */
export const tlpLine = (body: string): string => `${body}*${slowCrc(body)}\r\n`;

/** One line that came: its verb and keys. */
export interface TinyLine {
  readonly verb: string;
  readonly keys: Readonly<Record<string, string>>;
  readonly body: string;
}

/** The whole, undamaged lines in some bytes; what is behind the last LF does not count. */
export function readTlp(bytes: Uint8Array): TinyLine[] {
  const lines = Buffer.from(bytes).toString('latin1').split('\n').slice(0, -1);
  return lines.flatMap((line) => {
    const [body = '', crc] = line.replace(/\r$/, '').split('*');
    if (crc !== slowCrc(body)) return [];
    const [verb = '', ...pairs] = body.split(' ');
    const keys = Object.fromEntries(
      pairs.map((pair) => [pair.slice(0, pair.indexOf('=')), decodeURIComponent(pair.slice(pair.indexOf('=') + 1))]),
    );
    return [{ verb, keys, body }];
  });
}
