/** Makes E1381 frames of record texts. Strict: what may not stand in a frame is an error of our own code. */
import { Fault } from '../../core/fault.ts';
import { CR, ETB, ETX, frameSum, LF, MAX_TEXT, RESTRICTED, STX, USUAL_TEXT } from './link-bytes.ts';

const upperHex = (digit: number): number => (digit < 10 ? 0x30 : 0x37) + digit;

/** One frame: STX, number, text, ETX or ETB, sum, CR, LF. Throws INTERNAL for a number or text that E1381 does not allow. */
export function encodeFrame(number: number, text: Uint8Array, isLast: boolean): Uint8Array {
  if (
    !Number.isInteger(number) ||
    number < 0 ||
    number > 7 ||
    text.length > MAX_TEXT ||
    text.some((b) => RESTRICTED[b] === 1)
  )
    throw new Fault('INTERNAL', 'A frame was to be sent that E1381 does not allow', 'Please report this.');
  const frame = new Uint8Array(text.length + 7);
  frame[0] = STX;
  frame[1] = 0x30 + number;
  frame.set(text, 2);
  const end = text.length + 2;
  frame[end] = isLast ? ETX : ETB;
  const sum = frameSum(frame.subarray(1, end + 1));
  frame[end + 1] = upperHex(sum >> 4);
  frame[end + 2] = upperHex(sum & 15);
  frame[end + 3] = CR;
  frame[end + 4] = LF;
  return frame;
}

/**
 * The frames of one record, whose text is closed by a CR here and sent as UTF-8. The first has the number `first`;
 * a record longer than `maxText` bytes is cut into ETB frames and one ETX frame.
 */
export function encodeFrames(recordText: string, first: number, maxText: number = USUAL_TEXT): Uint8Array[] {
  const bytes = Buffer.from(`${recordText}\r`, 'utf8');
  const frames: Uint8Array[] = [];
  for (let start = 0; start < bytes.length; start += maxText) {
    const isLast = start + maxText >= bytes.length;
    frames.push(encodeFrame((first + frames.length) % 8, bytes.subarray(start, start + maxText), isLast));
  }
  return frames;
}

/** The frames of a whole message, numbered 1, 2 .. 7, 0, 1 .. as they are sent after one ENQ. */
export function encodeMessage(recordTexts: readonly string[], maxText: number = USUAL_TEXT): Uint8Array[] {
  const frames: Uint8Array[] = [];
  for (const text of recordTexts)
    for (const frame of encodeFrames(text, (frames.length + 1) % 8, maxText)) frames.push(frame);
  return frames;
}
