/**
 * What an E1394 meter of the generic profile says: its memory as record texts, each with the test that it tells of.
 * Written from the profile's page; delimiters are the usual `|\^&`.
 */
import { formatWall, parseMeterTime } from '../core/meter-time.ts';
import { bySlot, type SlotEntry, type StoredTest } from './memory.ts';
import type { VirtualMeter } from './meter.ts';
import type { Send } from './speaker.ts';

/** One record's text without its closing CR. */
export interface RecordText {
  readonly text: string;
  readonly tells?: Send['tells'];
}

const FLAGS: Readonly<Record<string, string>> = { lo: 'L', hi: 'H', rng: '', hct: 'A', tmp: 'A', exp: 'A' };

/** The whole memory as one message. `clockShows` goes into the header; `answers` a query or not. */
export function memoryRecords(meter: VirtualMeter, clockShows: string, answers: boolean): RecordText[] {
  const tests = bySlot(meter.memory).flatMap((entry, i) => testRecords(meter, entry, i + 1));
  const name = [meter.model, meter.id, meter.firmware].map(escaped).join('^');
  const end = !answers ? 'N' : tests.length > 0 ? 'F' : 'I';
  return [{ text: `H|\\^&|||${name}|||||||P|1|${compact(clockShows)}` }, ...tests, { text: `L|1|${end}` }];
}

function testRecords(meter: VirtualMeter, { slot, test }: SlotEntry, ordinal: number): RecordText[] {
  const place = meter.tellsRunNumbers ? `${slot}^${test.runNumber}` : String(slot);
  const analyte = test.values[0]?.analyte ?? 'INR';
  const below = fixedTexts(test);
  const tells = { made: test.made, last: false };
  return [
    { text: test.patientId ? `P|${ordinal}|${escaped(test.patientId)}` : `P|${ordinal}`, tells },
    { text: `O|1||${place}|^^^${analyte}|||||||${test.kind === 'control' ? 'Q' : ''}`, tells },
    ...below.map((text, i) => ({ text, tells: i < below.length - 1 ? tells : { made: test.made, last: true } })),
  ];
}

// A memory is told again and again, and what stands below the order never changes.
const fixed = new WeakMap<StoredTest, readonly string[]>();

function fixedTexts(test: StoredTest): readonly string[] {
  const known = fixed.get(test);
  if (known) return known;
  const expiry = test.lotExpiry ? `^${compact(test.lotExpiry)}` : '';
  const made = [...resultTexts(test), ...(test.lot ? [`M|1|strip^${test.lot}${expiry}`] : [])];
  fixed.set(test, made);
  return made;
}

function resultTexts(test: StoredTest): string[] {
  const tail = `||${escaped(test.operator ?? '')}||${compact(test.stamp)}`;
  // A test that ended in an error has no value: status X, cannot be done, and the meter's code as its comment.
  if (test.kind === 'error') return [`R|1|^^^INR||||||X${tail}`, `C|1|I|${test.errorCode ?? 'E0'}|I`];
  return test.values.map(({ analyte, value, unit }, i) => {
    const limit = /^[<>]/.exec(value)?.[0];
    const flags = [...(limit ? [limit] : []), ...(test.flags ?? []).map((flag) => FLAGS[flag] ?? flag)].filter(Boolean);
    return `R|${i + 1}|^^^${analyte}|${escaped(value)}|${escaped(unit)}||${flags.join('\\')}||F${tail}`;
  });
}

/** A meter time as E1394 writes it: `YYYYMMDD[hhmm[ss]]`; empty where the clock was not set. */
function compact(text: string): string {
  const time = parseMeterTime(text);
  return time.ok ? formatWall(time.value.wall, time.value.resolutionMs).replace(/[-T:]/g, '') : '';
}

const ESCAPES: Readonly<Record<string, string>> = { '|': '&F&', '^': '&S&', '\\': '&R&', '&': '&E&' };
const escaped = (text: string): string => text.replace(/[|^\\&]/g, (char) => ESCAPES[char] ?? char);
