/**
 * From a capture of TLP/1 to downloads: one for each meter that said its name, in the order in which they first
 * spoke. A pure function of the capture's lines, whatever host wrote it: single slots and ranges, polls of the clock,
 * sleeping meters, tests sent at any time, captures that hold only what the meter said.
 */
import type { Capture } from '../../core/capture.ts';
import { type Download, type MeterKey, meterKey } from '../../core/download.ts';
import type { Instant } from '../../core/instant.ts';
import { noQuestions, noteQuestion, onClockLine, onMeterClock, onRefusal, onSilence } from './clock-story.ts';
import type { Range } from './memory-table.ts';
import { slotOfBody } from './messages.ts';
import { type LineProfileFacts, namesOf } from './profile-facts.ts';
import {
  askRead,
  beginStory,
  closeAnswer,
  hearDamage,
  hearNew,
  hearRec,
  meterAgain,
  type Story,
  toDownload,
} from './story.ts';
import { type Asked, followTimeline, type Heard } from './timeline.ts';

export type { LineProfileFacts } from './profile-facts.ts';

/**
 * The downloads in a capture; none where no meter said its name. Another name begins another download, the same name
 * again goes on with its own. What may have come from another meter is left out, with the cut reason
 * `identity-doubtful`.
 */
export function decodeLine(capture: Capture, profile: LineProfileFacts): Download[] {
  const names = namesOf(profile);
  const stories = new Map<MeterKey, Story>();
  const questions = noQuestions();
  let story: Story | undefined;
  /** What was exchanged before the first meter said its name. */
  const before = { bytes: 0, damagedLines: 0, retries: 0 };
  let unanswered: string | undefined;

  const onAsked = ({ verb, fields, at }: Asked): void => {
    noteQuestion(questions, verb, at, fields.get('t'));
    const range = verb === 'READ' ? rangeAsked(fields) : undefined;
    const question = range && range !== 'whole' ? `${verb} ${range.from} ${range.to}` : verb;
    const counts = story ?? before;
    if (unanswered === question || (range && story && wasAnswered(story, range))) counts.retries++;
    unanswered = question;
    if (!story) return;
    if (range) askRead(story, range);
    else if (verb === 'BYE' && story.open) story.open.isAborted = true;
    else if (story.open) story.open.isInterrupted = true; // the host gave up waiting: what still comes is late
  };

  const onHeard = (event: Heard): void => {
    const { message, body, at, since } = event;
    if (message?.kind !== 'new') unanswered = undefined;
    if (message?.kind === 'meter') {
      const key = meterKey(message.identity);
      const clock = onMeterClock(questions, message.clock, since, at);
      const asked = clock.at(-1)?.from ?? since;
      if (story && meterKey(story.meter.identity) !== key) closeAnswer(story, undefined);
      const known = stories.get(key);
      if (known) meterAgain(known, message);
      story = known ?? beginStory(message, asked);
      if (!known) {
        stories.set(key, story);
        if (stories.size === 1) Object.assign(story, before);
      }
      story.clock.push(...clock);
      return;
    }
    if (!story) return;
    switch (message?.kind) {
      case undefined:
        hearRec(story, slotOfBody(body), body, undefined, event.afterSilence);
        break;
      case 'rec':
        hearRec(story, message.slot, body, names(message.test), event.afterSilence);
        break;
      case 'new':
        hearNew(story, names(message.test), body);
        break;
      case 'end':
        closeAnswer(story, message);
        break;
      case 'clock':
        story.clock.push(...onClockLine(questions, message.clock, since, at));
        break;
      case 'err':
        story.clock.push(...onRefusal(questions, at));
        closeAnswer(story, undefined, 'refused');
        break;
      case 'bye':
        closeAnswer(story, undefined);
        break;
      case 'other':
        break;
    }
  };

  const onDropped = (): void => {
    if (story) hearDamage(story);
    else before.damagedLines++;
  };

  const onChunkOver = (at: Instant, bytes: number): void => {
    if (story) story.until = at;
    (story ?? before).bytes += bytes;
  };

  followTimeline(capture, { asked: onAsked, heard: onHeard, dropped: onDropped, chunkOver: onChunkOver });
  if (story) story.clock.push(...onSilence(questions, story.until));
  return [...stories.values()].map((told) => toDownload(told, profile.name, capture.zone, capture.port));
}

/** What a READ asks for, by its fields; `whole` where it names no slots, or none that can be read. */
export function rangeAsked(fields: ReadonlyMap<string, string>): Range | 'whole' {
  const from = Number(fields.get('from') ?? Number.NaN);
  const to = Number(fields.get('to') ?? Number.NaN);
  return Number.isInteger(from) && Number.isInteger(to) ? { from, to } : 'whole';
}

/** True where these slots were asked for before: a damaged line is fetched again. */
function wasAnswered(story: Story, range: Range | 'whole'): boolean {
  if (range === 'whole') return false;
  return [...story.table.provenRanges, ...story.table.claims].some((r) => r.from <= range.from && range.to <= r.to);
}
