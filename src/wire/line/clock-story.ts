/**
 * What a capture proves about one meter's clock: every reading between the moment of asking and the moment of its
 * arrival, and every setting with its outcome. Questions that were not answered widen the next reading, because an
 * answer may belong to any of them.
 */
import type { ClockEvent } from '../../core/download.ts';
import type { Instant } from '../../core/instant.ts';
import { parseMeterTime, type Wall } from '../../core/meter-time.ts';
import { agrees } from './clock-check.ts';
import type { ClockReading } from './messages.ts';

/** Questions about the clock that wait for their answer. They belong to no meter until one answers. */
export interface OpenQuestions {
  hellos: Instant[];
  clocks: Instant[];
  sets: { readonly at: Instant; readonly asked: Wall }[];
  /** When the last batch of answered questions began: a second answer may belong to any of them. */
  answeredFrom: Instant | undefined;
}

/** No question asked yet. */
export const noQuestions = (): OpenQuestions => ({ hellos: [], clocks: [], sets: [], answeredFrom: undefined });

/** Notes a question; verbs that say nothing of the clock are ignored. */
export function noteQuestion(open: OpenQuestions, verb: string, at: Instant, time: string | undefined): void {
  if (verb === 'HELLO') open.hellos.push(at);
  if (verb === 'CLOCK') open.clocks.push(at);
  const asked = verb === 'SET' ? parseMeterTime(time ?? '') : undefined;
  if (asked?.ok) open.sets.push({ at, asked: asked.value.wall });
}

/** The events of a METER line's clock. `since` stands in where the capture holds no question. */
export function onMeterClock(open: OpenQuestions, reading: ClockReading, since: Instant, to: Instant): ClockEvent[] {
  const from = open.hellos[0] ?? open.answeredFrom ?? since;
  // Asked after the settings, answered after them: each was done by then, or was lost.
  const settings = settingsUpTo(open, to, (asked, at) => (agrees(reading, asked, to - at) ? 'confirmed' : 'unknown'));
  Object.assign(open, noQuestions(), { answeredFrom: open.hellos[0] ?? open.answeredFrom });
  return [...settings, ...readingEvent(reading, from, to)];
}

/** The events of a CLOCK line: a reading, and where a setting was asked for, whether it took. */
export function onClockLine(open: OpenQuestions, reading: ClockReading, since: Instant, to: Instant): ClockEvent[] {
  const last = open.sets.at(-1);
  const [poll] = open.clocks;
  if (last && poll !== undefined && poll < last.at && !agrees(reading, last.asked, to - last.at)) {
    // The answer to a poll that was sent before the setting.
    open.clocks = [];
    return readingEvent(reading, poll, to);
  }
  const first = open.sets[0]?.at;
  const asked = [poll, first].filter((at) => at !== undefined);
  const from = asked.length > 0 ? (Math.min(...asked) as Instant) : (open.answeredFrom ?? since);
  const settings = settingsUpTo(open, to, (value, at) => (agrees(reading, value, to - at) ? 'confirmed' : 'refused'));
  open.clocks = [];
  open.answeredFrom = asked.length > 0 ? from : open.answeredFrom;
  return [...settings, ...readingEvent(reading, from, to)];
}

/** The meter said no to a setting; nothing where none was asked for. */
export function onRefusal(open: OpenQuestions, to: Instant): ClockEvent[] {
  return settingsUpTo(open, to, () => 'refused');
}

/** Nothing more will come: settings without an answer may or may not have been done. */
export function onSilence(open: OpenQuestions, to: Instant): ClockEvent[] {
  return settingsUpTo(open, to, () => 'unknown');
}

type Outcome = Extract<ClockEvent, { kind: 'set' }>['outcome'];

/** The open settings as events: the last one judged, those before it unknown. None is open afterwards. */
function settingsUpTo(open: OpenQuestions, to: Instant, judge: (asked: Wall, at: Instant) => Outcome): ClockEvent[] {
  const { sets } = open;
  open.sets = [];
  return sets.map(({ at, asked }, i) => {
    const next = sets[i + 1];
    return { kind: 'set', asked, from: at, to: next?.at ?? to, outcome: next ? 'unknown' : judge(asked, at) };
  });
}

function readingEvent(reading: ClockReading, from: Instant, to: Instant): ClockEvent[] {
  if (reading.kind === 'unset') return [{ kind: 'unset', from, to }];
  return reading.kind === 'shown' ? [{ kind: 'anchor', shown: reading.time, from, to }] : [];
}
