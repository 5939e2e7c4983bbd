/**
 * What one meter tells over the length of a capture, gathered line by line into its download. A builder for
 * `decodeLine`; it is changed in place.
 */
import type { ClockEvent, CutReason, Download } from '../../core/download.ts';
import type { Instant } from '../../core/instant.ts';
import type { TestRecord } from '../../core/reading.ts';
import { type Answer, type ToldNew, takeAnswer } from './answer.ts';
import { emptyTable, factsAfterNew, imageOf, type MemoryFacts, type MemoryTable, type Range } from './memory-table.ts';
import type { MeterLine } from './messages.ts';
import type { Claim } from './proof.ts';
import { recall } from './recall.ts';
import { overlapOf } from './same-test.ts';

export interface Story {
  meter: MeterLine;
  readonly at: Instant;
  until: Instant;
  bytes: number;
  damagedLines: number;
  retries: number;
  readonly clock: ClockEvent[];
  readonly table: MemoryTable;
  /** What the meter would say of its memory now. */
  facts: MemoryFacts;
  open: Answer | undefined;
  /** Tests sent unasked that no answer since holds. */
  news: ToldNew[];
  /** True once READ was answered, by lines or by an END. */
  wasRead: boolean;
  /** The latest reason why the memory is not whole; counts only where it is not. */
  cut: CutReason;
}

const factsOf = (meter: MeterLine): MemoryFacts => ({
  capacity: meter.capacity,
  held: meter.held,
  order: meter.order,
  ...(meter.next === undefined ? {} : { next: meter.next }),
});

/** The story of a meter that says its name for the first time. `at`: when it was asked. */
export function beginStory(meter: MeterLine, at: Instant): Story {
  return {
    meter,
    at,
    until: at,
    bytes: 0,
    damagedLines: 0,
    retries: 0,
    clock: [],
    table: emptyTable(factsOf(meter)),
    facts: factsOf(meter),
    open: undefined,
    news: [],
    wasRead: false,
    cut: 'cut-off',
  };
}

/** The same meter says its name again: whatever was doubtful before is its own. */
export function meterAgain(story: Story, meter: MeterLine): void {
  story.meter = meter;
  story.facts = factsOf(meter);
  for (const [slot, entry] of story.table.entries) story.table.entries.set(slot, { ...entry, isDoubtful: false });
  if (story.open) story.open.recs = story.open.recs.map((rec) => ({ ...rec, isDoubtful: false }));
}

/** The host asks for slots. An answer that is still open has broken off, and this question repeats it. */
export function askRead(story: Story, range: Range | 'whole'): void {
  const isRepeat = story.open !== undefined;
  closeAnswer(story, undefined);
  story.open = openAnswer(story, range, isRepeat);
}

const openAnswer = (story: Story, range: Answer['range'], isRepeat: boolean): Answer => ({
  range,
  facts: story.facts,
  recs: [],
  news: [],
  isInterrupted: isRepeat,
  sawDamage: false,
  isAborted: false,
});

/** A REC line; `test` is absent where it cannot be used. */
export function hearRec(
  story: Story,
  slot: number | undefined,
  body: string,
  test: TestRecord | undefined,
  afterSilence: boolean,
): void {
  const lastSlot = story.open?.recs.at(-1)?.slot ?? 0;
  // Without the question in the capture, slots that begin anew are another answer.
  if (story.open?.range === undefined && slot !== undefined && slot <= lastSlot) closeAnswer(story, undefined);
  story.open ??= openAnswer(story, undefined, false);
  const { open } = story;
  if (afterSilence && open.recs.length > 0) open.isInterrupted = true;
  const isOfMemory = slot !== undefined && slot <= story.facts.capacity;
  const isUsable = isOfMemory && test !== undefined;
  if (!isUsable) story.damagedLines++;
  open.recs.push({
    slot: isOfMemory ? slot : undefined,
    body,
    test: isUsable ? test : undefined,
    isDoubtful: open.isInterrupted,
  });
}

/** A test sent unasked. */
export function hearNew(story: Story, test: TestRecord, body: string): void {
  story.facts = factsAfterNew(story.facts, test);
  const { open } = story;
  if (open) open.news.push({ test, body, after: open.recs.length });
  else story.news.push({ test, body });
}

/** Something that was no good line. */
export function hearDamage(story: Story): void {
  story.damagedLines++;
  if (story.open) story.open.sawDamage = true;
}

/** END, or an answer that ends without one: by a new question or by a refusal, which is then told in `why`. */
export function closeAnswer(story: Story, claim: Claim | undefined, why?: 'refused'): void {
  story.open ??= claim ? openAnswer(story, undefined, false) : undefined;
  const { open } = story;
  if (!open) return;
  story.open = undefined;
  story.wasRead ||= open.recs.length > 0 || claim !== undefined;
  const { fresh, flaw } = takeAnswer(story.table, open, story.news, claim);
  story.news = fresh;
  if (flaw) story.cut = why ?? flaw;
}

/** The download that the story makes. */
export function toDownload(story: Story, profile: string, zone: string, port: string): Download {
  closeAnswer(story, undefined);
  const { table, meter } = story;
  const doubtful = [...table.entries].filter(([, entry]) => entry.isDoubtful);
  for (const [slot] of doubtful) table.entries.delete(slot);
  const { image: memory, isWhole, held } = imageOf(table);
  const image = recall(memory, table.forgotten, table.displaced.length);
  const made = story.news.map(({ test }) => test);
  const fresh = made.slice(overlapOf(image, made)).map((test, i) => ({ ...test, place: `n${i + 1}` }));
  const complete = isWhole && story.wasRead && image.every((item) => item.kind === 'test');
  const hasUnusable = [...table.entries.values()].some((entry) => entry.isProven && !entry.test);
  const cut: CutReason = doubtful.length > 0 ? 'identity-doubtful' : hasUnusable ? 'damaged' : story.cut;
  return {
    meter: meter.identity,
    protocol: 'line',
    profile,
    zone,
    port,
    at: story.at,
    until: story.until,
    order: meter.order,
    capacity: meter.capacity,
    held,
    ...(meter.lossCount === undefined ? {} : { lossCount: meter.lossCount }),
    ...(meter.resetStamp === undefined ? {} : { resetStamp: meter.resetStamp }),
    complete,
    ...(complete ? {} : { cut }),
    image,
    fresh,
    clock: story.clock,
    stats: {
      bytes: story.bytes,
      damagedLines: story.damagedLines,
      retries: story.retries,
      durationMs: Math.max(0, story.until - story.at),
    },
  };
}
