/**
 * Masks what a meter said over TLP/1: patient ids and operators become pseudonyms of the same length, and every check
 * is made anew, so that the stream decodes as before. What was damaged stays damaged and is made unreadable, because
 * it may hold the same names.
 */
import { parseBody } from '../wire/line/codec.ts';
import { crc16Text, crcHex } from '../wire/line/crc16.ts';
import { createLineDecoder } from '../wire/line/decoder.ts';
import type { Range } from '../wire/line/memory-table.ts';
import { parseMessage, slotOfBody } from '../wire/line/messages.ts';
import { type Claim, claimOf } from '../wire/line/proof.ts';
import type { Named, Pseudonyms } from './pseudonyms.ts';

/** What the host asked, and behind how many bytes of the meter. */
export interface HostRead {
  readonly behind: number;
  /** The slots asked for. */
  readonly range: Range | 'whole';
}

/** A good line: where its body begins, what it was, and what it becomes. */
interface Line {
  readonly at: number;
  readonly body: string;
  readonly masked: string;
}

const LF = 0x0a;
const CR = 0x0d;
const BLANK = 0x78;

/** The meter's stream masked; same length. `reads` in their order. */
export function maskLine(stream: Uint8Array, reads: readonly HostRead[], pseudonyms: Pseudonyms): Uint8Array {
  const out = Uint8Array.from(stream);
  const lines: Line[] = [];
  let start = 0;
  while (start < stream.length) {
    const lf = stream.indexOf(LF, start);
    const end = lf < 0 ? stream.length : lf + 1;
    // The decoder is between two lines behind every LF: each can be read alone.
    const [frame] = lf < 0 ? [] : createLineDecoder().push(stream.subarray(start, end));
    if (frame?.kind === 'line') lines.push({ at: start, body: frame.body, masked: maskBody(frame.body, pseudonyms) });
    else blank(out, start, end);
    start = end;
  }
  for (const [i, line] of lines.entries()) {
    const body = line.body.startsWith('END ') ? maskEnd(lines, i, reads) : line.masked;
    if (body !== line.body) out.set(Buffer.from(`${body}*${crcHex(crc16Text(body))}`, 'latin1'), line.at);
  }
  return out;
}

/** Makes a piece that is no good line unreadable; it stays what it was: as long, and wrong. */
function blank(out: Uint8Array, start: number, end: number): void {
  for (let i = start; i < end; i++) {
    const isLineEnd = out[i] === LF || (out[i] === CR && out[i + 1] === LF);
    if (!isLineEnd) out[i] = BLANK;
  }
}

const KEYS: Readonly<Record<string, Named>> = { pid: 'patient', op: 'operator' };

function maskBody(body: string, pseudonyms: Pseudonyms): string {
  // Its check is right and its form is not: nobody knows where a name ends in it.
  if (!parseBody(body).ok)
    return body.startsWith('REC ') ? `REC ${'x'.repeat(body.length - 4)}` : 'x'.repeat(body.length);
  return body.replace(/ (pid|op)=([^ ]+)/g, (_, key: string, value: string) => {
    return ` ${key}=${pseudonyms.of(KEYS[key] ?? 'patient', value)}`;
  });
}

/**
 * The END line `lines[at]` with a sum that holds for the masked lines exactly if the old one held for the lines as they
 * were: CRCs are linear, so what the masking changed is xored onto it.
 */
function maskEnd(lines: readonly Line[], at: number, reads: readonly HostRead[]): string {
  const { body } = lines[at] as Line;
  const message = parseMessage(body);
  if (!message.ok || message.value.kind !== 'end') return body;
  const summed = summedBy(lines, at, reads, message.value);
  const change = claimOf(summed.map((line) => line.body)).crc ^ claimOf(summed.map((line) => line.masked)).crc;
  return body.replace(/ x=[0-9A-F]{4}/, ` x=${crcHex(message.value.crc ^ change)}`);
}

const isRec = ({ body }: Line): boolean => body.startsWith('REC ');
const isBoundary = ({ body }: Line): boolean => /^(END|ERR|BYE)\b/.test(body);

/** The lines that an END sums up: those of its answer; where some were damaged, with those fetched for them later. */
function summedBy(lines: readonly Line[], at: number, reads: readonly HostRead[], claim: Claim): Line[] {
  const read = reads.findLast(({ behind }) => behind <= (lines[at]?.at ?? 0));
  let first = at;
  while (first > 0 && !isBoundary(lines[first - 1] as Line) && (lines[first - 1] as Line).at >= (read?.behind ?? 0))
    first--;
  const answer = lines.slice(first, at).filter(isRec);
  if (isClaimed(answer, claim)) return answer;
  const asked = read ? read.range : stretchOf(answer);
  const range = asked === 'whole' ? EVERY_SLOT : asked;
  const bySlot = new Map<number, Line>();
  const meter = meterAt(lines, at);
  for (let i = 0; i < lines.length; i++) {
    const line = lines[i] as Line;
    const slot = isRec(line) && meterAt(lines, i) === meter ? slotOfBody(line.body) : undefined;
    if (slot === undefined || slot < range.from || slot > range.to) continue;
    bySlot.set(slot, line);
    if (i < at || bySlot.size !== claim.count) continue;
    const repaired = [...bySlot].sort(([a], [b]) => a - b).map(([, each]) => each);
    if (isClaimed(repaired, claim)) return repaired;
  }
  return answer;
}

const EVERY_SLOT: Range = { from: 1, to: Number.POSITIVE_INFINITY };

function stretchOf(answer: readonly Line[]): Range {
  const slots = answer.map((line) => slotOfBody(line.body)).filter((slot) => slot !== undefined);
  return { from: Math.min(...slots), to: Math.max(...slots) };
}

function isClaimed(lines: readonly Line[], claim: Claim): boolean {
  if (lines.length !== claim.count) return false;
  return claimOf(lines.map((line) => line.body)).crc === claim.crc;
}

/** The METER line, without its clock and count, that was the last before a line: who speaks. */
function meterAt(lines: readonly Line[], at: number): string {
  const meter = lines.slice(0, at + 1).findLast(({ body }) => body.startsWith('METER '));
  const fields = meter && parseBody(meter.body);
  return fields?.ok ? `${fields.value.fields.get('model')} ${fields.value.fields.get('id')}` : '';
}
