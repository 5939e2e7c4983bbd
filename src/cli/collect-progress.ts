/**
 * What stands on the terminal while meters are read: for each port its tally so far, how many tests of how many, and
 * the time left. Which tests are new is settled only at the end; until then a test that looks like a known one is
 * drawn as known. Pure.
 */
import type { TestRecord } from '../core/reading.ts';
import { spanInWords } from '../core/span-words.ts';
import { sameTime, sharesContent } from '../memory/same.ts';
import type { TalkProgress } from '../wire/talk.ts';
import { drawTally, type Stroke, type TallyStyle } from './tally.ts';

/** One port while it is read. */
export interface PortProgress {
  readonly port: string;
  readonly latest: TalkProgress | undefined;
  readonly strokes: readonly Stroke[];
  /** When the first test arrived, in milliseconds of any clock that only runs forward. */
  readonly readingSince: number | undefined;
}

/** A port of which nothing is known yet. */
export const newProgress = (port: string): PortProgress => ({
  port,
  latest: undefined,
  strokes: [],
  readingSince: undefined,
});

/** The port after one more piece of news at moment `nowMs`. `looksKnown` tells whether a test was seen before. */
export function advance(
  before: PortProgress,
  progress: TalkProgress,
  nowMs: number,
  looksKnown: (test: TestRecord) => boolean,
): PortProgress {
  const { test } = progress;
  const strokes = test ? [...before.strokes, { kind: test.kind, isNew: !looksKnown(test) }] : before.strokes;
  return { ...before, latest: progress, strokes, readingSince: before.readingSince ?? (test ? nowMs : undefined) };
}

/** A guess whether a test is among known ones; each known one is used once. */
export function makeLooksKnown(known: readonly TestRecord[]): (test: TestRecord) => boolean {
  const left = [...known];
  return (test) => {
    const at = left.findIndex((other) => sameTime(test, other) && sharesContent(test, other));
    if (at >= 0) left.splice(at, 1);
    return at >= 0;
  };
}

/** The lines for one port. */
export function progressLines(port: PortProgress, nowMs: number, style: TallyStyle, width: number): string[] {
  const { latest } = port;
  const name = latest?.meter ? `${latest.meter.model} ${latest.meter.id} on ${port.port}` : port.port;
  const open = Math.max(0, (latest?.held ?? 0) - port.strokes.length);
  const tally = drawTally({ strokes: port.strokes, open, isTorn: false }, style, width - 2).map((line) => `  ${line}`);
  return [`${name}: ${doing(port, nowMs)}`, ...tally];
}

function doing({ latest, readingSince }: PortProgress, nowMs: number): string {
  switch (latest?.phase) {
    case undefined:
      return 'opening';
    case 'waiting':
      return 'waiting for the meter to send: start the transfer on it';
    case 'waking':
      return 'waking the meter';
    case 'reading':
      return readingText(latest, readingSince, nowMs);
    case 'repairing':
      return 'asking again for damaged results';
    case 'setting':
      return 'setting the clock';
    case 'leaving':
      return 'finishing';
  }
}

function readingText({ read, held }: TalkProgress, readingSince: number | undefined, nowMs: number): string {
  if (held === undefined) return `reading, ${read} tests so far`;
  const told = `reading, ${read} of ${held} tests`;
  // From the first test to the last one that came, `read - 1` steps were made.
  if (readingSince === undefined || read < 3 || held <= read) return told;
  const leftS = ((nowMs - readingSince) / (read - 1) / 1000) * (held - read);
  return leftS < 1 ? told : `${told}, about ${spanInWords(leftS)} left`;
}
