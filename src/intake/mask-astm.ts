/**
 * Masks what a meter said over E1381 and E1394: patient ids and operators, where the profile finds them, become
 * pseudonyms of the same length; whatever else a P record holds is blanked; and the sums of the frames are made anew,
 * so that the stream decodes as before. What lies in no sound frame is made unreadable and stays unsound.
 */
import { type Delimiters, readDelimiters, USUAL_DELIMITERS } from '../wire/astm/delimiters.ts';
import { type FieldPath, isAsked, type ProfilePaths, pathsOf } from '../wire/astm/field-paths.ts';
import { ENQ, EOT, ETB, ETX, frameSum, hexValue, RESTRICTED, STX } from '../wire/astm/link-bytes.ts';
import { viewRecord } from '../wire/astm/record-view.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { Named, Pseudonyms } from './pseudonyms.ts';

/** A frame whose form and sum are right: `end` is where its ETX or ETB stands, its text begins two behind `start`. */
interface Frame {
  readonly start: number;
  readonly end: number;
}

const CR = 0x0d;
const BLANK = 0x78;
const OTHER_BLANK = 0x79;

/** The meter's stream masked; same length. */
export function maskAstm(stream: Uint8Array, profile: MeterProfile, pseudonyms: Pseudonyms): Uint8Array {
  const out = Uint8Array.from(stream);
  const paths = pathsOf(profile);
  let delimiters = USUAL_DELIMITERS;
  /** The frames of the record in hand, each with those that told it again. */
  let begun: Frame[][] = [];
  let previous: Frame[] = [];
  let at = 0;
  while (at < stream.length) {
    const frame = frameAt(stream, at);
    if (!frame) {
      if (stream[at] === STX) at = blankUnsound(out, at);
      else {
        if (stream[at] === ENQ || stream[at] === EOT) {
          begun = [];
          previous = [];
        }
        blankByte(out, at++);
      }
      continue;
    }
    at = frame.end + 3;
    const [first] = previous;
    if (first && isRepeat(stream, first, frame)) {
      out.copyWithin(frame.start, first.start, first.end + 3);
      previous.push(frame);
      continue;
    }
    previous = [frame];
    begun.push(previous);
    const texts = begun.map(([{ start, end } = frame]) => stream.subarray(start + 2, end));
    const { masked, delimiters: declared } = maskText(
      Buffer.concat(texts).toString('latin1'),
      delimiters,
      paths,
      pseudonyms,
    );
    writeText(out, begun, Buffer.from(masked, 'latin1'));
    if (stream[frame.end] === ETX) {
      begun = [];
      delimiters = declared;
    }
  }
  return out;
}

/** The sound frame that begins at `start`, if one does. */
function frameAt(stream: Uint8Array, start: number): Frame | undefined {
  const number = (stream[start + 1] ?? 0) - 0x30;
  if (stream[start] !== STX || number < 0 || number > 7) return undefined;
  let end = start + 2;
  while (end < stream.length && RESTRICTED[stream[end] ?? 0] !== 1) end++;
  return isSound(stream, start, end) ? { start, end } : undefined;
}

function isSound(stream: Uint8Array, start: number, end: number): boolean {
  if (stream[end] !== ETX && stream[end] !== ETB) return false;
  const [high, low] = [hexValue(stream[end + 1] ?? 0), hexValue(stream[end + 2] ?? 0)];
  return high >= 0 && low >= 0 && high * 16 + low === frameSum(stream.subarray(start + 1, end + 1));
}

const isRepeat = (stream: Uint8Array, a: Frame, b: Frame): boolean =>
  Buffer.compare(stream.subarray(a.start, a.end + 1), stream.subarray(b.start, b.end + 1)) === 0;

/** Blanks a byte that belongs to no frame; control characters stay, for they mean something. */
function blankByte(out: Uint8Array, at: number): void {
  if ((out[at] ?? 0) >= 0x20) out[at] = BLANK;
}

/**
 * Blanks from an STX that begins no sound frame up to the next one. The number behind it and the digits of a sum stay:
 * they decide what the decoder makes of it, and name nobody. Returns where it ends.
 */
function blankUnsound(out: Uint8Array, start: number): number {
  let next = start + 1;
  while (next < out.length && out[next] !== STX && out[next] !== ENQ && out[next] !== EOT) next++;
  const isMark = (i: number): boolean => out[i] === ETX || out[i] === ETB;
  let blanked: number | undefined;
  for (let i = start + 2; i < next; i++) {
    if (isMark(i - 1) || isMark(i - 2) || (out[i] ?? 0) < 0x20) continue;
    out[i] = BLANK;
    blanked = i;
  }
  if (blanked !== undefined && frameAt(out, start)) out[blanked] = OTHER_BLANK;
  return next;
}

/** Writes a text over the frames that held it, with their sums. */
function writeText(out: Uint8Array, groups: readonly (readonly Frame[])[], text: Uint8Array): void {
  let from = 0;
  for (const frames of groups) {
    const length = frames[0] ? frames[0].end - frames[0].start - 2 : 0;
    for (const { start, end } of frames) {
      out.set(text.subarray(from, from + length), start + 2);
      const sum = frameSum(out.subarray(start + 1, end + 1));
      out.set(Buffer.from(sum.toString(16).toUpperCase().padStart(2, '0'), 'latin1'), end + 1);
    }
    from += length;
  }
}

/** The records of a text masked, and the delimiters that hold behind it. One character a byte. */
function maskText(text: string, before: Delimiters, paths: ProfilePaths, pseudonyms: Pseudonyms) {
  let delimiters = before;
  const records = text.split(String.fromCharCode(CR)).map((record) => {
    if (record === '') return record;
    const declared = record.startsWith('H') ? readDelimiters(record) : undefined;
    if (declared?.ok) delimiters = declared.value;
    // A record that makes no sense may hold a name anywhere. Its first letter decides where a message begins.
    if (declared?.ok === false) return `H${'x'.repeat(record.length - 1)}`;
    const view = viewRecord(record, delimiters);
    return view.ok ? maskRecord(record, delimiters, paths, pseudonyms) : 'x'.repeat(record.length);
  });
  return { masked: records.join(String.fromCharCode(CR)), delimiters };
}

function maskRecord(record: string, d: Delimiters, paths: ProfilePaths, pseudonyms: Pseudonyms): string {
  const view = viewRecord(record, d);
  if (!view.ok) return record;
  const type = record.charAt(0);
  const fields = record.split(d.field);
  const marked = new Set<number>();
  const mask = (named: Named, path: FieldPath): void => {
    const raw = fields[path.field - 1];
    if (path.type !== type || raw === undefined || raw === '') return;
    if (path.name !== undefined && view.value.component(3, 1) !== path.name) return;
    marked.add(path.field);
    fields[path.field - 1] =
      path.component === undefined ? pseudonyms.of(named, raw) : inComponent(raw, path.component, d, named, pseudonyms);
  };
  for (const path of paths.patientId) mask('patient', path);
  for (const path of paths.operator) mask('operator', path);
  if (type !== 'P') return fields.join(d.field);
  // Names, birthdays, addresses: nothing here reads them, and nobody else shall.
  return fields
    .map((raw, i) => (i < 2 || marked.has(i + 1) || isAsked(view.value, i + 1, paths.asked) ? raw : blankField(raw, d)))
    .join(d.field);
}

function inComponent(raw: string, component: number, d: Delimiters, named: Named, pseudonyms: Pseudonyms): string {
  const [first = '', ...repeats] = raw.split(d.repeat);
  const parts = first.split(d.component);
  const part = parts[component - 1];
  if (part !== undefined && part !== '') parts[component - 1] = pseudonyms.of(named, part);
  return [parts.join(d.component), ...repeats].join(d.repeat);
}

const blankField = (raw: string, d: Delimiters): string =>
  [...raw].map((ch) => (ch === d.component || ch === d.repeat ? ch : 'x')).join('');
