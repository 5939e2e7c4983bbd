/**
 * Writes an explanation into the lifetime sequence: known tests keep their order and ids, new ones are put in where
 * they were made, gaps open and close. Knows nothing of why the explanation was chosen.
 */
import { type DownloadId, type ReadingId, readingId } from '../core/reading.ts';
import { mergeRecord } from './merge.ts';
import type { Sighting } from './same.ts';
import type { Departure, KnownTest, MemoryState, SequenceItem, Settled } from './state.ts';
import type { Question, Step } from './steps.ts';

/** Given to a reading that may be a known test told again: it is kept, and a person sees it. */
const PERHAPS_REPEAT = 'perhaps-repeat';

/** What the writer must know of the download besides its image. */
export interface WriterFacts {
  readonly download: DownloadId;
  readonly complete: boolean;
  /** False where the told order itself is in doubt: then nothing is taken as gone and no gap as closed. */
  readonly provesOrder: boolean;
  /** How the known places that are no longer there went, by their index. */
  readonly departures: ReadonlyMap<number, Departure>;
  /** The memory that was told, where two share the meter's name: new tests carry its number. */
  readonly memory?: number;
  /** Given to every new test. */
  readonly flags: readonly string[];
}

/** Takes the steps of one explanation in order and holds what comes of them. */
export class SequenceWriter {
  readonly sequence: SequenceItem[] = [];
  readonly sightings: Settled['sightings'][number][] = [];
  readonly added: KnownTest[] = [];
  readonly changed: KnownTest[] = [];
  readonly conflicts: Settled['conflicts'][number][] = [];
  /** Tests that were thought to be in another memory than the one that told them. */
  readonly borrowed: KnownTest[] = [];
  /** New tests that are newer than everything known before. */
  readonly newest: KnownTest[] = [];
  /** Indices in the sequence of tests that have another neighbour in front than before. */
  readonly joints = new Set<number>();
  /** Where the first gap closed, as an index in the sequence. */
  firstClosed: number | undefined;
  readonly #old: MemoryState['sequence'];
  readonly #question: Question;
  readonly #facts: WriterFacts;
  /** First item of the old sequence that is not yet written. */
  #cursor = 0;
  /** First known item that no step has taken yet. */
  #next = 0;

  constructor(old: MemoryState['sequence'], question: Question, facts: WriterFacts) {
    this.#old = old;
    this.#question = question;
    this.#facts = facts;
  }

  /** Writes one step. Steps come in order. */
  take(step: Step): void {
    switch (step.kind) {
      case 'match':
        this.#match(step.known, step.claimant, step.told);
        break;
      case 'conflict':
        this.#conflict(step.known, step.told);
        break;
      case 'new':
        this.#new(step.told, step.repeat);
        break;
      case 'missing':
      case 'untold':
      case 'close':
        this.#pass(step.known, step.kind);
        break;
      case 'hole':
        this.#hole(step.told, step.open);
        break;
    }
  }

  /** Writes a test that came after the image. */
  append(told: Sighting): void {
    this.#upTo(this.#old.length);
    this.newest.push(this.#add(told, {}));
  }

  /** Writes what is left of the old sequence. */
  end(): void {
    this.#upTo(this.#old.length);
  }

  #match(known: number, claimant: number, toldAt: number): void {
    const told = this.#question.sightings[toldAt];
    for (const [at, test] of this.#claimants(known).entries()) {
      if (told && at === claimant) this.#seenAgain(test, told);
      else this.sequence.push(test);
    }
  }

  #seenAgain(test: KnownTest, told: Sighting): void {
    const record = mergeRecord(test.record, told.record);
    const status = this.#facts.complete ? 'settled' : test.status;
    const ringSlot = test.ringSlot ?? told.ringSlot;
    this.sightings.push({ place: told.record.place, reading: test.id, isNew: false });
    if (this.#isForeign(test)) {
      const { gone: _, ...rest } = test;
      const here: KnownTest = { ...rest, record, status, ...this.#label() };
      this.borrowed.push(here);
      this.#change(ringSlot === undefined ? here : { ...here, ringSlot });
    } else if (record === test.record && status === test.status && ringSlot === test.ringSlot) this.sequence.push(test);
    else this.#change({ ...test, record, status, ...(ringSlot === undefined ? {} : { ringSlot }) });
  }

  #conflict(known: number, toldAt: number): void {
    const told = this.#question.sightings[toldAt];
    const [first, ...others] = this.#claimants(known);
    if (!told || !first) return;
    const rival = readingId(this.#facts.download, told.record.place);
    if (first.conflictWith === undefined) this.#change({ ...first, conflictWith: rival });
    else this.sequence.push(first);
    this.sequence.push(...others);
    this.#add(told, { conflictWith: first.id });
    this.conflicts.push({ reading: first.id, with: rival });
  }

  #new(toldAt: number, repeat: boolean): void {
    const told = this.#question.sightings[toldAt];
    if (!told) return;
    this.#upToNext();
    const isNewest = this.#question.known.slice(this.#next).every((item) => item.kind === 'gap');
    const test = this.#add(told, { repeat });
    if (isNewest) this.newest.push(test);
  }

  #pass(known: number, kind: 'missing' | 'untold' | 'close'): void {
    const how = this.#facts.departures.get(known);
    for (const test of this.#claimants(known)) {
      if (how && !this.#isForeign(test)) this.#change({ ...test, gone: how });
      else this.sequence.push(test);
    }
    const item = this.#question.known[known];
    if (item?.kind !== 'gap') return;
    if (kind === 'close' && this.#facts.provesOrder) {
      this.joints.add(this.sequence.length);
      this.firstClosed ??= this.sequence.length;
    } else this.#gap(item.gap.atMost);
  }

  #hole(toldAt: number, open: boolean): void {
    this.#upToNext();
    const hole = this.#question.told[toldAt];
    if (open && hole?.kind === 'hole') this.#gap(hole.atMost);
  }

  /** Brings the sequence up to a known item and takes it: its claimants, or none for a gap. */
  #claimants(known: number): readonly KnownTest[] {
    const item = this.#question.known[known];
    if (!item) return [];
    this.#upTo(item.from);
    this.#cursor = item.to;
    this.#next = known + 1;
    return item.kind === 'place' ? item.tests : [];
  }

  #upToNext(): void {
    this.#upTo(this.#question.known[this.#next]?.from ?? this.#old.length);
  }

  /** What lies between known items is gone and stays where it is. */
  #upTo(end: number): void {
    for (const item of this.#old.slice(this.#cursor, end)) this.sequence.push(item);
    this.#cursor = Math.max(this.#cursor, end);
  }

  #change(test: KnownTest): void {
    this.sequence.push(test);
    this.changed.push(test);
  }

  #gap(atMost: number | undefined): void {
    // Two gaps in one place are one: the later download knows best how many tests may sit there.
    const last = this.sequence.at(-1);
    if (last?.kind === 'gap' && last.memory === this.#facts.memory) this.sequence.pop();
    this.sequence.push({ kind: 'gap', ...(atMost === undefined ? {} : { atMost }), ...this.#label() });
  }

  #label(): { memory?: number } {
    return this.#facts.memory === undefined ? {} : { memory: this.#facts.memory };
  }

  #isForeign(test: KnownTest): boolean {
    return test.memory !== this.#facts.memory;
  }

  #add(told: Sighting, more: { repeat?: boolean; conflictWith?: ReadingId }): KnownTest {
    const { record, ringSlot } = told;
    const flags = [...record.flags, ...(more.repeat ? [PERHAPS_REPEAT] : []), ...this.#facts.flags];
    const test: KnownTest = {
      kind: 'test',
      id: readingId(this.#facts.download, record.place),
      record: { ...record, flags },
      status: this.#facts.complete ? 'settled' : 'provisional',
      ...(ringSlot === undefined ? {} : { ringSlot }),
      ...(more.conflictWith === undefined ? {} : { conflictWith: more.conflictWith }),
      ...this.#label(),
    };
    this.joints.add(this.sequence.length).add(this.sequence.length + 1);
    this.sequence.push(test);
    this.added.push(test);
    this.sightings.push({ place: record.place, reading: test.id, isNew: true });
    return test;
  }
}
