/**
 * From the messages of one meter in one capture to its memory image. A transfer that broke off may be sent again from
 * the start or be continued behind what was saved (E1394, saving and restarting), and a memory may be read twice to
 * compare; this decides which it was and settles on what the readings agree on. The rules are explained in
 * protocols/astm/README.md.
 */
import type { CutReason, ImageItem } from '../../core/download.ts';
import type { TestRecord } from '../../core/reading.ts';
import type { MeterProfile } from '../profile.ts';
import { type Ending, firstResult, type Message, type Told } from './messages.ts';
import { type TestDraft, type TestGroup, testOf } from './test-group.ts';

export interface AssembledImage {
  readonly image: readonly ImageItem[];
  readonly complete: boolean;
  readonly cut?: CutReason;
  readonly held?: number;
}

/** One telling of the memory from one message, or from several of which each continues the one before. In sending order. */
interface Pass {
  told: Told[];
  ending: Ending;
  isDamaged: boolean;
  /** True where a message went on behind one that had ended properly: then no end proves that all was told. */
  isPieced: boolean;
}

/** The memory that these messages tell. There is at least one. */
export function assembleImage(messages: readonly Message[], profile: MeterProfile): AssembledImage {
  const passes = joinMessages(messages, profile);
  const base = passes.find(isWhole) ?? longest(passes);
  if (!base) return { image: [], complete: false, cut: 'cut-off' };
  const others = passes.filter((pass) => pass !== base);
  const settled = settle(base, others, profile);
  return finish(base, settled, profile);
}

const facts = (test: TestRecord): string =>
  JSON.stringify([
    test.runNumber,
    test.meterTimeText,
    test.kind,
    test.values,
    test.errorCode,
    test.lot,
    test.lotExpiry,
    test.operator,
    test.patientId,
  ]);
const isSame = (a: Told, b: Told): boolean => facts(a.test) === facts(b.test);

/** True where the slots are all there and rise: then they say where in the memory a test stands. */
function hasSlots(told: readonly Told[]): boolean {
  let last = 0;
  for (const { test } of told) {
    if (test.slot === undefined || test.slot <= last) return false;
    last = test.slot;
  }
  return true;
}

/** Where in the memory the tests of a telling stand, from 1 in sending order. */
const keysOf = (told: readonly Told[]): number[] => {
  const bySlot = hasSlots(told);
  return told.map(({ test }, i) => (bySlot ? (test.slot ?? i + 1) : i + 1));
};

function isWhole(pass: Pass): boolean {
  const keys = keysOf(pass.told);
  const isUnbroken = keys.every((key, i) => key === i + 1);
  return (
    pass.ending === 'normal' && !pass.isDamaged && !pass.isPieced && isUnbroken && !pass.told.some((t) => t.isOpen)
  );
}

function longest(passes: readonly Pass[]): Pass | undefined {
  let best: Pass | undefined;
  for (const pass of passes) if (!best || pass.told.length >= best.told.length) best = pass;
  return best;
}

/** Messages as passes: each continues the pass before it, or begins a new one. */
function joinMessages(messages: readonly Message[], profile: MeterProfile): Pass[] {
  const passes: Pass[] = [];
  for (const message of messages) {
    const last = passes.at(-1);
    const joined = last && message.tests.length > 0 ? continued(last, message, profile) : undefined;
    if (last && joined) {
      last.isPieced ||= last.ending !== 'none';
      last.told = joined;
      last.ending = message.ending;
      last.isDamaged ||= message.isDamaged;
    } else
      passes.push({ told: [...message.tests], ending: message.ending, isDamaged: message.isDamaged, isPieced: false });
  }
  return passes;
}

/** What a pass and a message that goes on behind it tell together; undefined where the message begins afresh. */
function continued(pass: Pass, message: Message, profile: MeterProfile): Told[] | undefined {
  const [next] = message.tests;
  const first = pass.told[0];
  if (!next || !first) return undefined;
  const isBroken = pass.ending !== 'normal';
  const bySlot = hasSlots(pass.told) && hasSlots(message.tests);
  const lastSlot = pass.told.at(-1)?.test.slot ?? 0;
  let seam: number;
  if (bySlot) {
    const slot = next.test.slot ?? 1;
    if (slot === 1 || (!isBroken && slot !== lastSlot + 1)) return undefined;
    seam = pass.told.findIndex(({ test }) => (test.slot ?? 0) >= slot);
  } else {
    if (pass.told.some((told) => !told.isOpen && isSame(told, next)) && (isSame(first, next) || !isBroken))
      return undefined;
    seam = pass.told.findLastIndex((told) => isSame(told, next) || (told.isOpen && beginsLike(told, next)));
  }
  if (seam < 0) seam = pass.told.length;
  // A sender goes on behind what it knows to be saved: nothing more belongs to the tests before that.
  const before = pass.told.slice(0, seam).map((told) => (told.isOpen ? { ...told, isOpen: false } : told));
  const overlap = pass.told.slice(seam);
  const tests = [...message.tests];
  const begun = overlap[0]?.half;
  if (begun && next.half && firstResult(next.half) > 1) tests[0] = mended(begun, next.half, profile);
  // Told again but different: the memory has moved, so this is no continuation.
  const disagrees = overlap.some((told, i) => {
    const again = tests[i];
    return !told.isOpen && again !== undefined && !again.isOpen && !isSame(told, again);
  });
  return disagrees ? undefined : [...before, ...tests, ...overlap.slice(tests.length)];
}

/** True where a test that was broken off may be the beginning of one that came later. */
function beginsLike({ test }: Told, next: Told): boolean {
  if (next.half && firstResult(next.half) > 1) return true;
  const isSameTime = test.meterTimeText === '' || test.meterTimeText === next.test.meterTimeText;
  const begun = next.test.values.slice(0, test.values.length);
  return isSameTime && JSON.stringify(begun) === JSON.stringify(test.values);
}

/** A test whose first results came before a break and whose others came after it. */
function mended(begun: TestGroup, rest: TestGroup, profile: MeterProfile): Told {
  const from = firstResult(rest);
  const cut = begun.parts.findIndex((part) => part.type === 'R' && Number(part.component(2, 1)) >= from);
  const kept = cut < 0 ? begun.parts : begun.parts.slice(0, cut);
  return { test: testOf({ ...rest, parts: [...kept, ...rest.parts] }, profile), isOpen: false };
}

/** A test and where in the memory it stands, from 1 in sending order. */
interface Placed {
  readonly key: number;
  readonly told: Told;
}

/** A pass after comparing, in sending order; `isMixed`: tests of another pass were put into its holes. */
interface SettledPass {
  readonly tests: readonly Placed[];
  readonly isMixed: boolean;
  readonly ending: Ending;
}

/** How many new tests may have been made between two readings of one memory. */
const MAX_SHIFT = 5;

function settle(base: Pass, others: readonly Pass[], profile: MeterProfile): SettledPass {
  const baseKeys = keysOf(base.told);
  const placed = base.told.map((told, i): Placed => ({ key: baseKeys[i] ?? i + 1, told }));
  const readings = new Map(placed.map(({ key, told }) => [key, [told]]));
  let isMixed = false;
  let { ending } = base;
  for (const other of others) {
    const keys = shifted(keysOf(other.told), other.told, readings, profile);
    const disagrees = other.told.some((told, i) => {
      const mine = readings.get(keys[i] ?? 0)?.[0];
      return mine !== undefined && !mine.isOpen && !told.isOpen && !isSame(mine, told);
    });
    const fills = !isWhole(base) && !disagrees && hasSlots(base.told) && hasSlots(other.told);
    const lastKey = Math.max(0, ...readings.keys());
    for (const [i, told] of other.told.entries()) {
      const key = keys[i] ?? 0;
      const mine = readings.get(key);
      if (mine) mine.push(told);
      else if (fills && key > 0) {
        readings.set(key, [told]);
        isMixed = true;
      }
    }
    if (fills && (keys.at(-1) ?? 0) > lastKey) ending = other.ending;
  }
  const tests = [...readings].map(([key, told]) => ({ key, told: agreed(told) }));
  return { tests: isMixed ? tests.sort((a, b) => a.key - b.key) : tests, isMixed, ending };
}

/** The places of another reading's tests in the base: a test made in between moves the others by one. */
function shifted(
  keys: number[],
  told: readonly Told[],
  base: ReadonlyMap<number, readonly Told[]>,
  profile: MeterProfile,
): number[] {
  // A new test comes first in a newest-first memory; in an oldest-first one that is full the oldest drops out.
  const sign = profile.memory.order === 'newest' ? -1 : 1;
  let best = keys;
  let most = -1;
  for (let by = 0; by <= MAX_SHIFT; by++) {
    const moved = keys.map((key) => key + sign * by);
    const matches = moved.filter((key, i) => {
      const [mine] = base.get(key) ?? [];
      return mine !== undefined && isSame(mine, told[i] as Told);
    }).length;
    if (matches > most) {
      most = matches;
      best = moved;
    }
  }
  return best;
}

/** What several readings of one test agree on, with the gateway's flags. */
function agreed(readings: readonly Told[]): Told {
  const base = readings[0] as Told;
  if (readings.length === 1) {
    base.test.flags.push('single-read');
    return base;
  }
  const whole = readings.filter((told) => !told.isOpen);
  const counts = new Map<string, { told: Told; count: number }>();
  for (const told of whole.length > 0 ? whole : readings) {
    const key = facts(told.test);
    const seen = counts.get(key);
    counts.set(key, { told: seen?.told ?? told, count: (seen?.count ?? 0) + 1 });
  }
  let best = { told: base, count: 0 };
  let isTied = false;
  for (const candidate of counts.values()) {
    if (candidate.count > best.count) {
      best = candidate;
      isTied = false;
    } else if (candidate.count === best.count) isTied = true;
  }
  const flag = isTied ? 'readings-differ' : best.count < 2 ? 'single-read' : undefined;
  const { slot: _slot, place: _place, ...rest } = best.told.test;
  const test: TestDraft = { ...rest, place: base.test.place, flags: flag ? [...rest.flags, flag] : rest.flags };
  if (base.test.slot !== undefined) test.slot = base.test.slot;
  return { ...best.told, test };
}

function finish(base: Pass, settled: SettledPass, profile: MeterProfile): AssembledImage {
  const told = settled.tests.map((placed) => placed.told);
  const slots = told.map(({ test }) => test.slot);
  const usesSlots = !slots.includes(undefined) && new Set(slots).size === slots.length;
  const hole = (atMost: number): ImageItem => (settled.isMixed ? { kind: 'hole' } : { kind: 'hole', atMost });
  const sent: ImageItem[] = [];
  let isUnbroken = true;
  let last = 0;
  let ordinal = 0;
  for (const { key, told } of settled.tests) {
    if (key > last + 1) {
      sent.push(hole(key - last - 1));
      isUnbroken = false;
    }
    last = key;
    const { test, isOpen } = told;
    if (!usesSlots) test.place = String(++ordinal);
    if (isOpen) test.open = true;
    sent.push({ kind: 'test', test });
  }
  const hasEnd = settled.ending === 'normal';
  if (!hasEnd) {
    const { capacity } = profile.memory;
    const left = capacity === undefined || !hasSlots(told) ? undefined : capacity - last;
    if (left === undefined) sent.push({ kind: 'hole' });
    else if (left > 0) sent.push(hole(left));
  }
  const image = profile.memory.order === 'newest' ? sent.reverse() : sent;
  const startsAtFirst = (settled.tests[0]?.key ?? 1) === 1;
  const isSound = !base.isDamaged && !told.some(({ isOpen }) => isOpen);
  const complete = hasEnd && startsAtFirst && isUnbroken && isSound && !base.isPieced && !settled.isMixed;
  if (complete) return { image, complete, held: told.length };
  const cut: CutReason =
    settled.ending === 'aborted' || settled.ending === 'refused'
      ? settled.ending
      : !hasEnd || !startsAtFirst
        ? 'cut-off'
        : isSound
          ? 'count-differs'
          : 'damaged';
  return { image, complete, cut };
}
