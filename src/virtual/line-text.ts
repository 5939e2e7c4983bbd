/**
 * TLP/1 text on the meter's side, written from the protocol page alone: values made safe to send, and the host's bytes
 * cut into bodies. A damaged, over-long or malformed line gives nothing, as the page says. Only the CRC and the framing
 * of a line to send are shared with the gateway.
 */
import { crc16Text, crcHex } from '../wire/line/crc16.ts';

const LINE_LIMIT = 240;
const LF = 10;

/** `key=value` with every byte that a value may not hold written as `%XX`. */
export function pair(key: string, value: string): string {
  if (/^[!-$&-)+-<>-~]+$/.test(value)) return `${key}=${value}`;
  const safe = [...Buffer.from(value, 'utf8')].map((byte) => {
    const char = String.fromCharCode(byte);
    return /[!-$&-)+-<>-~]/.test(char) ? char : `%${byte.toString(16).toUpperCase().padStart(2, '0')}`;
  });
  return `${key}=${safe.join('')}`;
}

/** Takes the bodies of the whole, undamaged lines out of what was received; `rest` is the line still to be ended. */
export function takeBodies(rest: Uint8Array, data: Uint8Array): { bodies: string[]; rest: Uint8Array } {
  const all = Buffer.concat([rest, data]);
  const bodies: string[] = [];
  let start = 0;
  for (let end = all.indexOf(LF); end >= 0; end = all.indexOf(LF, start)) {
    const body = bodyOf(all.subarray(start, end + 1).toString('latin1'));
    if (body !== undefined) bodies.push(body);
    start = end + 1;
  }
  // Of a line that is already too long only the fact is kept, so that noise without an LF cannot fill the memory.
  return { bodies, rest: all.subarray(start, start + LINE_LIMIT + 1) };
}

function bodyOf(line: string): string | undefined {
  if (line.length > LINE_LIMIT) return undefined;
  const [, body = '', crc] = /^([ -)+-~]{1,230})\*([0-9A-F]{4})\r?\n$/.exec(line) ?? [];
  return crc !== undefined && crcHex(crc16Text(body)) === crc ? body : undefined;
}

/** A body as its verb and its keys; undefined where the form is wrong. */
export function readBody(body: string): { verb: string; keys: ReadonlyMap<string, string> } | undefined {
  const [verb = '', ...pairs] = body.split(' ');
  if (!/^[A-Z]{2,8}$/.test(verb)) return undefined;
  const keys = new Map<string, string>();
  for (const text of pairs) {
    const [, key = '', value] = /^([a-z][a-z0-9.-]{0,15})=([^=]+)$/.exec(text) ?? [];
    if (value === undefined || keys.has(key)) return undefined;
    keys.set(key, value);
  }
  return { verb, keys };
}
