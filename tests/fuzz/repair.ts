/** Makes checks right again in damaged bytes, so that the damage reaches what lies behind the check. */
import { frameSum } from '../../src/wire/astm/link-bytes.ts';
import { crc16Text, crcHex } from '../../src/wire/line/crc16.ts';
import { bytesOf } from './target.ts';

/** Every TLP/1 line gets the check of its body; `prefix` characters before each body do not count. */
export const repairLines =
  (prefix: number) =>
  (text: string): string =>
    text
      .split('\n')
      .map((line) => {
        const end = line.endsWith('\r') ? line.length - 1 : line.length;
        const star = line.indexOf('*', prefix);
        return star < 0
          ? line
          : line.slice(0, star + 1) + crcHex(crc16Text(line.slice(prefix, star))) + line.slice(end);
      })
      .join('\n');

/** A frame from STX to its end, and the two characters of its sum. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what frames are made of
const FRAME = /\u0002([^\u0002\u0003\u0017]*[\u0003\u0017])[^\u0002]{2}/g;

/** Every E1381 frame gets the sum of its bytes. */
export const repairFrames = (text: string): string =>
  text.replace(FRAME, (_, inside: string) => {
    const sum = frameSum(bytesOf(inside)).toString(16).toUpperCase().padStart(2, '0');
    return `\x02${inside}${sum}`;
  });
