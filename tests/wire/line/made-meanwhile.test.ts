/** A memory that changes while it is told: every test that was told is there once, in the order in which it was made. */
import { describe, expect, it } from 'vitest';
import type { CaptureChunk } from '../../../src/core/capture.ts';
import { instant } from '../../../src/core/instant.ts';
import { decodeLine } from '../../../src/wire/line/decode.ts';
import { numbersFrom } from '../../support/numbers.ts';
import { slowCrc, tlpLine } from '../../support/tiny-tlp.ts';

const SEED = Number(process.env['SEED'] ?? 20260312);
const ORDERS = ['newest', 'oldest', 'ring'] as const;
type Order = (typeof ORDERS)[number];

/** A meter that knows which of its tests it has told. It tells its memory as it is at each line (`isLive`), or as it was. */
class TellingMeter {
  readonly chunks: CaptureChunk[] = [];
  /** The number of every test that was told, in the order in which they were made once it is sorted. */
  readonly told = new Set<number>();
  private made = 0;
  private readonly slots: (number | undefined)[];
  private next = 1;
  private at = Date.UTC(2026, 2, 2, 10, 0, 0);

  private readonly order: Order;
  private readonly capacity: number;
  private readonly isLive: boolean;

  constructor(order: Order, capacity: number, first: number, isLive: boolean) {
    this.order = order;
    this.capacity = capacity;
    this.isLive = isLive;
    this.slots = new Array(capacity + 1).fill(undefined);
    for (let i = 0; i < first; i++) this.store();
  }

  /** Whether the next line of a told test is damaged on its way. */
  spoils = (): boolean => false;

  say(dir: 'in' | 'out', body: string): void {
    this.send(dir, tlpLine(body));
  }

  private send(dir: 'in' | 'out', line: string): void {
    this.at += 20;
    this.chunks.push({ at: instant(this.at), dir, data: new TextEncoder().encode(line) });
  }

  held(): number {
    return this.slots.filter((test) => test !== undefined).length;
  }

  /** Somebody deletes a result on the meter: in a ring its slot stays empty, else the others close up. */
  remove(slot: number): void {
    if (this.order === 'ring') this.slots[slot] = undefined;
    else if (slot <= this.held()) this.slots.splice(slot, 1, ...this.slots.splice(slot + 1), undefined);
  }

  /** Makes a test and gives the slot that it got. */
  private store(): number {
    const test = ++this.made;
    const list = this.slots.slice(1, this.held() + 1);
    let slot = this.next;
    if (this.order === 'ring') {
      this.slots[slot] = test;
      this.next = (slot % this.capacity) + 1;
    } else {
      const kept = this.order === 'newest' ? [test, ...list] : [...list, test].slice(-this.capacity);
      for (let i = 1; i <= this.capacity; i++) this.slots[i] = kept[i - 1];
      slot = this.order === 'newest' ? 1 : this.held();
    }
    return slot;
  }

  private body(verb: string, slot: number, test: number): string {
    const minute = `2026-02-01T${String(Math.floor(test / 60)).padStart(2, '0')}:${String(test % 60).padStart(2, '0')}`;
    // A key that nobody knows, other at every telling: it says nothing of which test this is.
    return `${verb} i=${slot} t=${minute} k=p a=INR v=2.${test % 10} u={INR} said=${this.chunks.length}`;
  }

  hello(): void {
    this.say('out', 'HELLO v=1');
    const next = this.order === 'ring' ? ` next=${this.next}` : '';
    this.say(
      'in',
      `METER v=1 id=PA00042 model=GM-10 cap=${this.capacity} held=${this.held()} order=${this.order}${next} clock=2026-02-02T10:00`,
    );
  }

  makeOne(): void {
    const slot = this.store();
    this.say('in', this.body('NEW', slot, this.made));
    this.told.add(this.made);
  }

  /** A test whose NEW is lost on the line. */
  makeUnheard(): void {
    this.store();
  }

  /** Answers READ. `meanwhile` says how many tests are made before the n-th line. */
  read(meanwhile: (n: number) => number): void {
    this.say('out', 'READ');
    const before = [...this.slots];
    const bodies: string[] = [];
    const newTests = (): void => {
      for (let k = meanwhile(bodies.length); k > 0; k--) this.makeOne();
    };
    for (let slot = 1; slot <= this.capacity; slot++) {
      newTests();
      const test = (this.isLive ? this.slots : before)[slot];
      if (test === undefined) continue;
      const body = this.body('REC', slot, test);
      bodies.push(body);
      if (this.spoils()) this.send('in', tlpLine(body).replace('i=', 'j='));
      else {
        this.say('in', body);
        this.told.add(test);
      }
    }
    newTests();
    this.say('in', `END n=${bodies.length} x=${slowCrc(bodies.map((body) => `${body}\n`).join(''))}`);
  }
}

/** The download, the numbers of its tests in their order, and the whole conversation, to be shown where a check fails. */
function download(meter: TellingMeter, name: string) {
  meter.say('out', 'BYE');
  const capture = {
    port: 'COM3',
    profile: 'tlp-generic',
    zone: 'UTC',
    openedAt: instant(0),
    chunks: meter.chunks,
  };
  const [made] = decodeLine(capture, { name: 'tlp-generic', analytes: {}, units: {} });
  const tests = [
    ...(made?.image ?? []).flatMap((item) => (item.kind === 'test' ? [item.test] : [])),
    ...(made?.fresh ?? []),
  ];
  const numbers = tests.map(({ meterTimeText: t }) => Number(t.slice(11, 13)) * 60 + Number(t.slice(14, 16)));
  const why = `${name}: ${meter.chunks.map(({ data }) => new TextDecoder().decode(data)).join('')}`;
  return { made, numbers, why };
}

const inOrder = (numbers: Iterable<number>): number[] => [...numbers].sort((a, b) => a - b);

/** Every test that was told is in the download once, in order, and the download is whole. */
function judge(meter: TellingMeter, name: string): void {
  const { made, numbers, why } = download(meter, name);
  expect(numbers, why).toEqual(inOrder(meter.told));
  expect(made?.complete, why).toBe(true);
  expect(made?.held, why).toBe(meter.held());
}

describe.each(ORDERS)('a memory in the order "%s"', (order) => {
  it.each([true, false])(
    `that changes while it is read gives each test once (told as it is at each line: %s; SEED=${SEED})`,
    (isLive) => {
      const chance = numbersFrom(SEED);
      for (let round = 0; round < 400; round++) {
        const capacity = 1 + Math.floor(chance() * 9);
        const meter = new TellingMeter(order, capacity, Math.floor(chance() * (2 * capacity + 1)), isLive);
        if (chance() < 0.3)
          for (let k = 1 + Math.floor(chance() * 3); k > 0; k--) meter.remove(1 + Math.floor(chance() * capacity));
        meter.hello();
        let left = 1 + Math.floor(chance() * 3);
        // At one moment one test at most: a meter measures them one after the other.
        const often = chance() < 0.5 ? 0.15 : 0.5;
        meter.read(() => (left > 0 && chance() < often ? left-- && 1 : 0));
        if (chance() < 0.2) meter.makeOne();
        const isQuiet = chance() < 0.5;
        meter.read((n) => (!isQuiet && n > 0 && left > 0 && chance() < often ? left-- && 1 : 0));
        // What is made in the last answer can leave a test untold: a third proves the rest.
        if (!isQuiet) meter.read(() => 0);
        judge(meter, `round ${round}`);
      }
    },
  );
});

describe.each(ORDERS)('a memory in the order "%s" of which lines are damaged', (order) => {
  it.each([true, false])(
    `gives every test that was told, whatever was made meanwhile (told as it is at each line: %s; SEED=${SEED})`,
    (isLive) => {
      const chance = numbersFrom(SEED);
      for (let round = 0; round < 400; round++) {
        const capacity = 1 + Math.floor(chance() * 9);
        const meter = new TellingMeter(order, capacity, Math.floor(chance() * (2 * capacity + 1)), isLive);
        const often = chance() < 0.5 ? 0.03 : 0.15;
        meter.spoils = () => chance() < often;
        meter.hello();
        let left = Math.floor(chance() * 3);
        const now = (): number => (left > 0 && chance() < 0.3 ? left-- && 1 : 0);
        meter.read(now);
        if (chance() < 0.2) meter.makeOne();
        meter.read((n) => (n > 0 ? now() : 0));
        meter.read(() => 0);
        const { numbers, why } = download(meter, `round ${round}`);
        // Where slots move while they are told, a damaged line can hide by how many: then one test may stand twice.
        if (isLive)
          expect(
            [...meter.told].filter((test) => !numbers.includes(test)),
            why,
          ).toEqual([]);
        else expect(numbers, why).toEqual(inOrder(meter.told));
      }
    },
  );
});

it('a memory that becomes full while it is read, oldest first, and drops its oldest: nothing stands twice', () => {
  const meter = new TellingMeter('oldest', 3, 2, true);
  meter.hello();
  meter.read((n) => (n < 2 ? 1 : 0));
  meter.makeOne();
  meter.read(() => 0);
  judge(meter, 'three tests');
});

it.each(['newest', 'oldest'] as const)(
  'a memory in the order "%s" from which a test went without a word: what was told of it is kept, in its place',
  (order) => {
    const meter = new TellingMeter(order, 3, 4, true);
    meter.hello();
    meter.read(() => 0);
    meter.makeUnheard();
    meter.read(() => 0);
    judge(meter, 'full');
    expect(inOrder(meter.told)).toEqual([2, 3, 4, 5]);
  },
);
